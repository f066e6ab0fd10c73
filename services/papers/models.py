"""Packs of papers: what was asked for, how far the drawing is, and what was drawn."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from services.core.scoping import Owned


class What(models.TextChoices):
    """The papers there are."""

    BEND_CARDS = "bend-cards"
    CUT_LIST = "cut-list"
    KIT_LIST = "kit-list"
    TAKE_OFF = "take-off"
    CREW_SHEET = "crew-sheet"
    LABELS = "labels"


class Of(models.TextChoices):
    """What a paper can be of."""

    STICK = "stick"
    RUN = "run"
    ROOM = "room"
    PROJECT = "project"
    CREW = "crew"


class PackState(models.TextChoices):
    """How far a pack is."""

    WAITING = "waiting"
    DRAWING = "drawing"
    MADE = "made"
    FAILED = "failed"
    CANCELLED = "cancelled"


class Pack(Owned):
    """Papers that are drawn in the background, part by part, and kept for a while. Can be thrown away: plans
    and pieces make it again.

    of_id: of the stick, run, room, project or crew.  parameters: paper, sheet of labels, day and the like
    (`rules.Asked`).  contents: for each part its pages, for each page the ids of its sticks; a list is one
    part of one page.  plans: ids of the plans that it is drawn from.  look: what of the company and of the
    code it depends on.  key: of all of these; two that ask for the same share a pack.  sticks: how many;
    done: how many of them are drawn.  by: who asked; null: the service, after a release.
    """

    what = models.CharField(max_length=12, choices=What)
    of = models.CharField(max_length=8, choices=Of)
    of_id = models.UUIDField()
    title = models.CharField(max_length=200, help_text="what it is of, as it was called then")
    parameters = models.JSONField(default=dict)
    contents = models.JSONField(default=list)
    plans = models.JSONField(default=list)
    look = models.CharField(max_length=120)
    key = models.CharField(max_length=64)
    state = models.CharField(max_length=9, choices=PackState, default=PackState.WAITING)
    sticks = models.PositiveIntegerField()
    done = models.PositiveIntegerField(default=0)
    error = models.CharField(max_length=500, blank=True)
    pdf = models.BinaryField(null=True)
    pages = models.PositiveIntegerField(default=0)
    by = models.ForeignKey("company.User", on_delete=models.PROTECT, related_name="+", null=True)
    asked_at = models.DateTimeField(default=timezone.now)
    made_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-asked_at",)
        constraints = (
            models.UniqueConstraint(
                fields=["company", "key"],
                condition=Q(state__in=("waiting", "drawing", "made")),
                name="one_pack_a_key",
            ),
            models.CheckConstraint(condition=Q(what__in=What.values), name="pack_what_known"),
            models.CheckConstraint(condition=Q(of__in=Of.values), name="pack_of_known"),
            models.CheckConstraint(condition=Q(state__in=PackState.values), name="pack_state_known"),
            models.CheckConstraint(
                condition=~Q(state=PackState.MADE) | Q(pdf__isnull=False), name="made_pack_has_its_pages"
            ),
        )

    def __str__(self) -> str:
        return f"{self.what} of {self.of} {self.of_id}"


class Part(Owned):
    """A part of a pack that is drawn; gone once all of them are put together. number: from 0."""

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="parts")
    number = models.PositiveIntegerField()
    sticks = models.PositiveIntegerField()
    pdf = models.BinaryField()

    class Meta:
        ordering = ("pack", "number")
        constraints = (models.UniqueConstraint(fields=["company", "pack", "number"], name="part_once"),)

    def __str__(self) -> str:
        return f"{self.pack_id} part {self.number}"
