"""Full lengths, offcuts, and every movement of them."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from services.core.scoping import Owned


class Offcut(Owned):
    """A kept remnant, with the label painted on it: the rest of what a piece was cut from, or what was
    saved of it when it was scrapped.

    is_on_hand: a projection of its movements.
    """

    number = models.PositiveIntegerField()
    label = models.CharField(max_length=20)
    conduit = models.CharField(max_length=60)
    length_mm = models.FloatField()
    is_on_hand = models.BooleanField(default=True)
    rest_of = models.ForeignKey("tracking.Piece", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("conduit", "length_mm")
        constraints = (
            models.UniqueConstraint(fields=["company", "number"], name="offcut_number_once"),
            models.UniqueConstraint(fields=["company", "label"], name="offcut_label_once"),
            models.CheckConstraint(condition=Q(length_mm__gt=0), name="offcut_has_length"),
        )

    def __str__(self) -> str:
        return self.label


class MovementKind(models.TextChoices):
    """Why stock moved."""

    RECEIVED = "received"
    DRAWN = "drawn"
    KEPT = "offcut kept"
    OFFCUT_DRAWN = "offcut drawn"
    RETURNED = "returned"


class Movement(Owned):
    """One movement of stock. Append-only: a mistake is put right by another, which counters it.

    lengths: full lengths, negative: out.  offcuts: +1 kept, -1 used or gone.  length_mm: what a piece was
    made of, kerf counted; negative when countered, and for what was saved of a scrapped piece.
    tick: the ledger entry that brought it about.
    """

    at = models.DateTimeField(default=timezone.now)
    kind = models.CharField(max_length=12, choices=MovementKind)
    conduit = models.CharField(max_length=60)
    lengths = models.IntegerField(default=0)
    offcuts = models.SmallIntegerField(default=0)
    length_mm = models.FloatField(default=0.0)
    offcut = models.ForeignKey(Offcut, on_delete=models.PROTECT, related_name="movements", null=True)
    piece = models.ForeignKey("tracking.Piece", on_delete=models.PROTECT, related_name="+", null=True)
    tick = models.ForeignKey("tracking.Tick", on_delete=models.PROTECT, related_name="+", null=True)
    sequence = models.PositiveSmallIntegerField(default=0, help_text="tells a tick's movements apart")
    counters = models.OneToOneField("self", on_delete=models.PROTECT, related_name="countered_by", null=True)

    class Meta:
        ordering = ("at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=["company", "tick", "sequence"],
                condition=Q(tick__isnull=False),
                name="movement_once_a_tick",
            ),
            models.CheckConstraint(condition=Q(kind__in=MovementKind.values), name="movement_kind_known"),
        )
        indexes = (models.Index(fields=["company", "piece"], name="movements_of_piece"),)

    def __str__(self) -> str:
        return f"{self.kind} {self.conduit}"


class Price(Owned):
    """What a full length of a conduit costs, from a day on."""

    conduit = models.CharField(max_length=60)
    full_length_mm = models.FloatField()
    price = models.DecimalField(max_digits=10, decimal_places=2)
    from_day = models.DateField()

    class Meta:
        ordering = ("conduit", "-from_day")
        constraints = (
            models.UniqueConstraint(fields=["company", "conduit", "from_day"], name="one_price_a_day"),
            models.CheckConstraint(condition=Q(price__gte=0), name="price_not_negative"),
            models.CheckConstraint(condition=Q(full_length_mm__gt=0), name="price_of_a_length"),
        )

    def __str__(self) -> str:
        return f"{self.conduit} {self.price}"
