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


class FitFrom(models.TextChoices):
    """Where fitting begins."""

    START = "start"
    FINISH = "finish"
    BOTH = "both"


class BankCorners(models.TextChoices):
    """How the corners of a bank lie."""

    EQUAL = "equal"
    CONCENTRIC = "concentric"


class Priority(models.IntegerChoices):
    """What goes first."""

    FIRST = 1
    ORDINARY = 2
    LATER = 3


class Run(Owned):
    """One conduit path from end to end, as measured.

    rows: what was typed, one after the other; a figure not measured yet is null (see `projects.rules`).
    crew: cuts, bends and checks it; set by the first release.
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
    facing = models.CharField(
        max_length=60,
        blank=True,
        help_text="the wall that one faces: in is toward it, left and right along it",
    )
    cables = models.JSONField(
        default=list, help_text="what is to be drawn in, as the engine's contract has it"
    )
    fit_from = models.CharField(max_length=6, choices=FitFrom, default=FitFrom.START)
    fitting_crew = models.ForeignKey(
        "company.Crew",
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        help_text="who fits it; null: the crew that bends it",
    )
    due_on = models.DateField(null=True, blank=True)
    priority = models.PositiveSmallIntegerField(choices=Priority, default=Priority.ORDINARY)
    follows = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        related_name="followed_by",
        null=True,
        blank=True,
        help_text="the run that ends in the box where this one begins",
    )
    beside = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        related_name="bank",
        null=True,
        blank=True,
        help_text="the run of a bank whose rows this one has, shifted sideways",
    )
    place_in_bank = models.PositiveSmallIntegerField(default=1, help_text="1: the run that was measured")
    bank_spacing_mm = models.FloatField(
        null=True, blank=True, help_text="of the bank it leads, centre to centre"
    )
    bank_toward = models.CharField(max_length=5, choices=Heading, blank=True)
    bank_corners = models.CharField(max_length=10, choices=BankCorners, default=BankCorners.EQUAL)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("label",)
        constraints = (
            models.UniqueConstraint(fields=["company", "room", "label"], name="run_label_once"),
            models.CheckConstraint(condition=Q(heading__in=Heading.values), name="run_heading_known"),
        )

    def __str__(self) -> str:
        return f"run {self.label}"


class SurveyUpload(Owned):
    """A survey that was read without a problem and waits for somebody to say that it is to be imported.

    table: its cells (`projects.survey.Table`). It is checked anew when it is imported.
    """

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="+")
    file_name = models.CharField(max_length=120, blank=True)
    table = models.JSONField()
    made_at = models.DateTimeField()
    imported_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("made_at",)

    def __str__(self) -> str:
        return f"survey {self.file_name}"
