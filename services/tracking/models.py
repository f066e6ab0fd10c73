"""Pieces, and the ledger of ticks. The ledger is the truth; a piece's state is a projection of it."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from services.core.scoping import Owned


class State(models.TextChoices):
    """Where a piece stands. Waiting: its release was taken back, so there is nothing to make."""

    WAITING = "waiting"
    RELEASED = "released"
    CUT = "cut"
    BENT = "bent"
    CHECKED = "checked"
    REWORK = "rework"
    REJECTED = "rejected"
    INSTALLED = "installed"
    SCRAPPED = "scrapped"
    SALVAGED = "salvaged"


class Kind(models.TextChoices):
    """What a tick says."""

    RELEASED = "released"
    ASSIGNED = "assigned"
    CUT = "cut"
    THREADED = "threaded"
    PULLED = "pulled"
    BENT = "bent"
    CHECKED = "checked"
    REWORKED = "reworked"
    SCRAPPED = "scrapped"
    SALVAGED = "salvaged"
    INSTALLED = "installed"
    TAKEN_DOWN = "taken down"
    CARRIED = "carried"
    TAKEN_BACK = "taken back"
    NOTE = "note"
    SETTLED = "settled"


class Answer(models.TextChoices):
    """What became of a tick."""

    APPLIED = "applied"
    HELD = "held"
    REFUSED = "refused"


class Piece(Owned):
    """A physical attempt at making a stick. All but line and attempt are projections of its ticks."""

    line = models.ForeignKey("planning.StickLine", on_delete=models.PROTECT, related_name="pieces")
    stick = models.ForeignKey("planning.Stick", on_delete=models.PROTECT, related_name="pieces")
    attempt = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    is_latest = models.BooleanField(default=False)
    bent_once = models.BooleanField(default=False)
    reworked_times = models.PositiveIntegerField(default=0)
    cut_from = models.CharField(max_length=40, blank=True, help_text="full length, or an offcut's label")
    crew = models.ForeignKey(
        "company.Crew", on_delete=models.PROTECT, related_name="+", null=True, help_text="null: the run's"
    )
    fitting_crew = models.ForeignKey(
        "company.Crew", on_delete=models.PROTECT, related_name="+", null=True, help_text="null: the run's"
    )
    changed_at = models.DateTimeField(default=timezone.now)
    last_number = models.PositiveBigIntegerField(
        default=0, help_text="ledger number of the last tick applied"
    )

    conduit: str
    """Id in the engine's catalogue, as the plan has it. There on rows that `queries.pieces` reads."""

    class Meta:
        ordering = ("line", "attempt")
        constraints = (
            models.UniqueConstraint(fields=["company", "line", "attempt"], name="attempt_once"),
            models.UniqueConstraint(
                fields=["company", "line"], condition=Q(is_latest=True), name="one_latest_attempt"
            ),
            models.CheckConstraint(condition=Q(state__in=State.values), name="piece_state_known"),
        )

    def __str__(self) -> str:
        return f"{self.line_id} attempt {self.attempt}"


class Tick(Owned):
    """One ledger entry made by a person. Append-only.

    tick_id: made where the tick was made; once in a company, for ever (the row's own id is made of both, so
    that two companies never meet in it).  number: per company, without gaps.  sequence: the device's own 1,
    2, 3, ...; null for what the server writes in the wake of a tick or of a release.  role: of the person,
    then. figures: what the kind tells.  answer: what it was answered, for good: an entry that was held and
    applied after all keeps `held`, and a `settled` entry says when.  reason: a stable code.  takes_back:
    tick_id of another entry
    (which may come later).  implied_by: the entry in whose wake this one was written.
    """

    tick_id = models.UUIDField()
    number = models.PositiveBigIntegerField()
    device = models.ForeignKey("company.Device", on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveBigIntegerField(null=True)
    kind = models.CharField(max_length=12, choices=Kind)
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="ticks")
    plan = models.ForeignKey("planning.Plan", on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey("company.User", on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=20)
    made_at = models.DateTimeField(help_text="by the device's clock, which may be wrong")
    clock_suspect = models.BooleanField(default=False)
    received_at = models.DateTimeField(default=timezone.now)
    figures = models.JSONField(default=dict)
    fingerprint = models.CharField(max_length=64, help_text="SHA-256 of what the device sent")
    chain = models.CharField(
        max_length=64, help_text="SHA-256 of the entry before's and all of this one's fields"
    )
    answer = models.CharField(max_length=8, choices=Answer)
    reason = models.CharField(max_length=40, blank=True)
    text = models.CharField(max_length=300, blank=True, help_text="the reason as a person reads it")
    takes_back = models.UUIDField(null=True)
    implied_by = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="implies")
    settles = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="settled_by")

    stands: bool
    """Whether it counts now. There on rows that `queries.ticks_of_piece` reads."""

    class Meta:
        ordering = ("number",)
        constraints = (
            models.UniqueConstraint(fields=["company", "tick_id"], name="tick_id_once"),
            models.UniqueConstraint(fields=["company", "number"], name="ledger_number_once"),
            models.UniqueConstraint(fields=["company", "device", "sequence"], name="device_sequence_once"),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="tick_kind_known"),
            models.CheckConstraint(condition=~Q(answer=Answer.REFUSED), name="ledger_has_no_refused"),
        )
        indexes = (models.Index(fields=["company", "piece", "number"], name="ticks_of_piece"),)

    def __str__(self) -> str:
        return f"{self.number} {self.kind}"


class HeldTick(Owned):
    """A tick in the ledger that could not be applied yet: tried again after each applied tick of its piece.

    A projection: settled where the ledger has a `settled` entry for the tick.
    """

    tick = models.OneToOneField(Tick, on_delete=models.PROTECT, related_name="held")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="held_ticks")
    reason = models.CharField(max_length=300)
    settled_at = models.DateTimeField(null=True)
    settled_as = models.CharField(max_length=20, blank=True, help_text="applied or discarded")

    class Meta:
        ordering = ("tick__number",)
        indexes = (
            models.Index(fields=["company", "piece"], condition=Q(settled_at__isnull=True), name="held_now"),
        )

    def __str__(self) -> str:
        return f"{self.tick_id} held"


class SetAside(Owned):
    """What was received and is not in the ledger: refused, or kept in quarantine because its id or its
    sequence stands there with other content. Never changed."""

    tick_id = models.UUIDField()
    device = models.ForeignKey("company.Device", on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey("company.User", on_delete=models.PROTECT, related_name="+")
    received_at = models.DateTimeField(default=timezone.now)
    content = models.JSONField()
    fingerprint = models.CharField(max_length=64)
    answer = models.CharField(max_length=8, choices=Answer)
    reason = models.CharField(max_length=40)
    text = models.CharField(max_length=300)

    class Meta:
        ordering = ("received_at", "id")
        constraints = (
            models.UniqueConstraint(fields=["company", "tick_id", "fingerprint"], name="set_aside_once"),
            models.CheckConstraint(condition=~Q(answer=Answer.APPLIED), name="set_aside_not_applied"),
        )

    def __str__(self) -> str:
        return f"{self.tick_id} {self.answer}"
