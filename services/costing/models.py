"""Cost entries, and the causes that scrap is put down to."""

from django.db import models
from django.db.models import Q

from services.core.scoping import Owned


class Payer(models.TextChoices):
    """Who usually pays for what a cause costs."""

    US = "us"
    OTHER_TRADE = "other trade"
    CLIENT = "client"
    SUPPLIER = "supplier"


class EntryKind(models.TextChoices):
    """What a cost entry is for."""

    MATERIAL = "material"
    SCRAP = "scrap"


class CostEntry(Owned):
    """Metres and money of one tick, posted once; put right only by a counter-entry.

    Material is posted when a piece is cut. Scrapping moves what was lost from material to scrap: two entries
    that add up to nothing, which carry the cause. What was saved and kept as an offcut leaves the job's
    material by an entry of its own, below 0 and without a cause like that of the cut, for who cuts from the
    offcut pays for it. So all entries of a job add up to what it drew and did not give back.
    is_priced: false where no price was in force, and the amount is 0 for want of one.
    """

    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey("projects.Run", on_delete=models.PROTECT, related_name="+")
    piece = models.ForeignKey("tracking.Piece", on_delete=models.PROTECT, related_name="+")
    tick = models.ForeignKey("tracking.Tick", on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=EntryKind)
    sequence = models.PositiveSmallIntegerField(default=0, help_text="tells a tick's entries apart")
    metres = models.DecimalField(max_digits=12, decimal_places=6)
    amount = models.DecimalField(max_digits=12, decimal_places=2)
    currency = models.CharField(max_length=3)
    is_priced = models.BooleanField(default=True)
    cause = models.CharField(max_length=60, blank=True)
    payer = models.CharField(max_length=12, choices=Payer, blank=True)
    day = models.DateField()
    counters = models.OneToOneField("self", on_delete=models.PROTECT, related_name="countered_by", null=True)

    class Meta:
        ordering = ("tick__number", "sequence")
        verbose_name_plural = "cost entries"
        constraints = (
            models.UniqueConstraint(fields=["company", "tick", "sequence"], name="cost_entry_once"),
            models.CheckConstraint(condition=Q(kind__in=EntryKind.values), name="cost_kind_known"),
        )
        indexes = (
            models.Index(fields=["company", "project", "kind"], name="cost_of_project"),
            models.Index(fields=["company", "piece"], name="cost_of_piece"),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.amount} {self.currency}"
