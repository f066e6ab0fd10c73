"""Projects, rooms and runs."""

from django.db import models
from django.db.models import Q

from services.core.scoping import Owned


class Project(Owned):
    """A job."""

    code = models.CharField(max_length=30)
    name = models.CharField(max_length=120)
    client = models.CharField(max_length=120, blank=True)
    site = models.CharField(max_length=200, blank=True)
    archived_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("code",)
        constraints = (models.UniqueConstraint(fields=["company", "code"], name="project_code_once"),)

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Room(Owned):
    """A room of a job."""

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=120)
    place = models.PositiveIntegerField(default=0, help_text="order on the wall chart")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("place", "name")
        constraints = (models.UniqueConstraint(fields=["company", "project", "name"], name="room_name_once"),)

    def __str__(self) -> str:
        return self.name


class Heading(models.TextChoices):
    """Directions on the run sheet, facing the room's north wall."""

    UP = "up"
    DOWN = "down"
    LEFT = "left"
    RIGHT = "right"
    IN = "in"
    OUT = "out"


class Run(Owned):
    """One conduit path from end to end, as measured.

    rows: what was typed, one after the other; a figure not measured yet is null (see `projects.rules`).
    """

    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="runs")
    label = models.CharField(max_length=20)
    from_place = models.CharField(max_length=80, blank=True)
    to_place = models.CharField(max_length=80, blank=True)
    former = models.ForeignKey("bench.Former", on_delete=models.PROTECT, related_name="+")
    crew = models.ForeignKey(
        "company.Crew", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    heading = models.CharField(max_length=5, choices=Heading, default=Heading.UP)
    standoff_mm = models.FloatField(default=0.0)
    start_kind = models.CharField(max_length=40, default="open")
    start_allowance_mm = models.FloatField(null=True, blank=True)
    finish_kind = models.CharField(max_length=40, default="open")
    finish_allowance_mm = models.FloatField(null=True, blank=True)
    rows = models.JSONField(default=list)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("label",)
        constraints = (
            models.UniqueConstraint(fields=["company", "room", "label"], name="run_label_once"),
            models.CheckConstraint(condition=Q(heading__in=Heading.values), name="run_heading_known"),
        )

    def __str__(self) -> str:
        return f"run {self.label}"
