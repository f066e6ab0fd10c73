"""Benders and formers."""

from django.db import models
from django.db.models import Q

from services.core.scoping import Owned


class Bender(Owned):
    """A machine or tool that bends.

    shape: of its body, one of the engine's catalogue; empty: not known, and no swing is checked.  hold_min,
    swing_min: least straights, mm; null: the shape's, or none.
    """

    name = models.CharField(max_length=80)
    shape = models.CharField(max_length=40, blank=True, help_text="id in the engine's catalogue of benders")
    hold_min_mm = models.FloatField(null=True, blank=True)
    swing_min_mm = models.FloatField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("name",)
        constraints = (models.UniqueConstraint(fields=["company", "name"], name="bender_name_once"),)

    def __str__(self) -> str:
        return self.name


class Line(models.TextChoices):
    """The set lines of the engine's contract."""

    BEGIN = "begin"
    BACK = "back"
    ARROW = "arrow"
    MIDDLE = "middle"
    OWN = "own"


class Former(Owned):
    """What gives the radius, on one bender and for one conduit; entered by hand, with what is known of
    springback."""

    bender = models.ForeignKey(Bender, on_delete=models.PROTECT, related_name="formers")
    conduit = models.CharField(max_length=60, help_text="id in the engine's catalogue")
    centreline_radius_mm = models.FloatField()
    line = models.CharField(max_length=10, choices=Line, default=Line.BEGIN)
    take_up_mm = models.FloatField(null=True, blank=True)
    reach_mm = models.FloatField(null=True, blank=True)
    k = models.FloatField(null=True, blank=True)
    c_deg = models.FloatField(null=True, blank=True)
    sd_deg = models.FloatField(null=True, blank=True)
    scale_deg = models.FloatField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("bender__name", "conduit")
        constraints = (
            models.UniqueConstraint(fields=["company", "bender", "conduit"], name="one_former_a_conduit"),
            models.CheckConstraint(condition=Q(centreline_radius_mm__gt=0), name="former_radius_above_0"),
            models.CheckConstraint(condition=Q(line__in=Line.values), name="former_line_known"),
            models.CheckConstraint(
                condition=Q(line=Line.ARROW, take_up_mm__isnull=False)
                | (~Q(line=Line.ARROW) & Q(take_up_mm__isnull=True)),
                name="take_up_with_arrow_only",
            ),
            models.CheckConstraint(
                condition=Q(line=Line.OWN, reach_mm__isnull=False)
                | (~Q(line=Line.OWN) & Q(reach_mm__isnull=True)),
                name="reach_with_own_only",
            ),
        )

    def __str__(self) -> str:
        return f"{self.bender_id} {self.conduit}"
