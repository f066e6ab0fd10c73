"""Plans: immutable revisions of a run, with their sticks."""

from django.db import models
from django.utils import timezone

from services.core.scoping import Owned


class Plan(Owned):
    """One released revision of a run: what was asked of the engine, and its answer. Never changed."""

    run = models.ForeignKey("projects.Run", on_delete=models.PROTECT, related_name="plans")
    revision = models.PositiveIntegerField()
    spec = models.JSONField()
    result = models.JSONField()
    rows = models.JSONField(default=list, help_text="the rows as they were typed")
    overrides = models.JSONField(
        default=list, help_text="stops of a rule pack that a manager let pass, as they stood"
    )
    engine_version = models.CharField(max_length=20)
    released_at = models.DateTimeField(default=timezone.now)
    is_current = models.BooleanField(default=True)

    class Meta:
        ordering = ("run", "-revision")
        constraints = (
            models.UniqueConstraint(fields=["company", "run", "revision"], name="plan_revision_once"),
            models.UniqueConstraint(
                fields=["company", "run"], condition=models.Q(is_current=True), name="one_current_plan"
            ),
        )

    def __str__(self) -> str:
        return f"{self.run_id} revision {self.revision}"


class Override(Owned):
    """A stop of a rule pack that a manager lets pass, with a reason that the cards print.

    rule, where: of the finding.  finding: its sentence, as it was read.  It holds for the figures that were
    seen: another finding of the rule at that place wants another.
    """

    run = models.ForeignKey("projects.Run", on_delete=models.PROTECT, related_name="overrides")
    rule = models.CharField(max_length=40)
    where = models.CharField(max_length=80)
    finding = models.CharField(max_length=500)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey("company.User", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("made_at",)
        constraints = (
            models.UniqueConstraint(fields=["company", "run", "rule", "where"], name="override_once"),
        )

    def __str__(self) -> str:
        return f"{self.run_id} {self.rule}"


class StickLine(Owned):
    """A stick's identity across revisions: what is painted on the piece, such as 07/2."""

    run = models.ForeignKey("projects.Run", on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveIntegerField()
    label = models.CharField(max_length=30)

    class Meta:
        ordering = ("run", "number")
        constraints = (models.UniqueConstraint(fields=["company", "run", "number"], name="stick_line_once"),)

    def __str__(self) -> str:
        return self.label


class Stick(Owned):
    """One stick of a plan. data: the stick as the engine's contract writes it."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="sticks")
    line = models.ForeignKey(StickLine, on_delete=models.PROTECT, related_name="sticks")
    number = models.PositiveIntegerField()
    cut_length_mm = models.FloatField()
    data = models.JSONField()

    class Meta:
        ordering = ("plan", "number")
        constraints = (
            models.UniqueConstraint(fields=["company", "plan", "number"], name="stick_number_once"),
        )

    def __str__(self) -> str:
        return f"{self.plan_id} stick {self.number}"
