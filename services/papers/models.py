"""Packs of papers that were made: kept so that the next who asks waits for nothing."""

from django.db import models
from django.utils import timezone

from services.core.scoping import Owned


class Pack(Owned):
    """The bend cards of one plan as they were drawn. Can be thrown away: the plan makes them again.

    look: the company's words, units and paper, and the making code's version, that it was made with;
    another look is another pack.
    """

    plan = models.ForeignKey("planning.Plan", on_delete=models.PROTECT, related_name="+")
    look = models.CharField(max_length=120)
    pdf = models.BinaryField()
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["company", "plan", "look"], name="one_pack_a_look"),)

    def __str__(self) -> str:
        return f"{self.plan_id} {self.look}"
