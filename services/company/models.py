"""Companies, people, memberships, crews and devices."""

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone

from services.core.ids import uuid7
from services.core.scoping import Owned


class Role(models.TextChoices):
    """What a person is in a company."""

    ELECTRICIAN = "electrician"
    FOREMAN = "foreman"
    MANAGER = "manager"
    ADMINISTRATOR = "administrator"


class Words(models.TextChoices):
    """Whose words of the trade the screens and papers use."""

    UK = "uk"
    US = "us"


class ReadUnits(models.TextChoices):
    """What lengths are read and typed in."""

    MM = "mm"
    INCH = "in"


class Rules(models.TextChoices):
    """Whose rules judge a run."""

    UK = "uk"
    US = "us"


class People(BaseUserManager["User"]):
    """Makes people."""

    def create_user(self, email: str, name: str, password: str) -> "User":
        """A person who can sign in."""
        person = self.model(email=email.strip().lower(), name=name)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def get_by_natural_key(self, username: str | None) -> "User":
        """By mail address, whatever its capitals."""
        return self.get(email=(username or "").strip().lower())


class User(AbstractBaseUser):
    """A person. May belong to several companies, works for one at a time."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)

    objects = People()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = (models.UniqueConstraint(Lower("email"), name="one_person_a_mail_address"),)

    def __str__(self) -> str:
        return self.name


class Company(models.Model):
    """A contractor and its settings."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    name = models.CharField(max_length=120)
    words = models.CharField(max_length=2, choices=Words, default=Words.UK)
    units = models.CharField(max_length=2, choices=ReadUnits, default=ReadUnits.MM)
    currency = models.CharField(max_length=3, default="GBP")
    time_zone = models.CharField(max_length=60, default="Europe/London")
    paper = models.CharField(max_length=6, choices=(("A4", "A4"), ("Letter", "Letter")), default="A4")
    clearance_mm = models.FloatField(
        default=120.0, validators=[MinValueValidator(0.0), MaxValueValidator(2000.0)]
    )
    min_piece_mm = models.FloatField(
        default=150.0, validators=[MinValueValidator(0.0), MaxValueValidator(3000.0)]
    )
    kerf_mm = models.FloatField(default=2.0, validators=[MinValueValidator(0.0), MaxValueValidator(20.0)])
    least_offcut_mm = models.FloatField(
        default=300.0, validators=[MinValueValidator(0.0), MaxValueValidator(6000.0)]
    )
    tolerance_deg = models.FloatField(default=1.0)
    tolerance_mm = models.FloatField(default=2.0)
    risk = models.FloatField(default=0.05)
    foreman_sees_money = models.BooleanField(default=False)
    rules = models.CharField(
        max_length=2, choices=Rules, blank=True, default="", help_text="the rule pack; empty: geometry alone"
    )
    long_thread_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.0), MaxValueValidator(500.0)]
    )
    union_gap_mm = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0.0), MaxValueValidator(500.0)]
    )
    joint_costs = models.JSONField(
        default=dict, blank=True, help_text="what a joint's parts cost, as the engine's contract has them"
    )
    next_ledger_number = models.PositiveBigIntegerField(default=1, editable=False)
    version = models.PositiveIntegerField(default=1, help_text="of the settings")

    class Meta:
        verbose_name_plural = "companies"
        constraints = (
            models.CheckConstraint(condition=models.Q(words__in=Words.values), name="company_words_known"),
            models.CheckConstraint(
                condition=models.Q(units__in=ReadUnits.values), name="company_units_known"
            ),
            models.CheckConstraint(
                condition=models.Q(rules__in=["", *Rules.values]), name="company_rules_known"
            ),
        )

    def __str__(self) -> str:
        return self.name


class Membership(Owned):
    """A person's role in a company."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role)
    is_active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["company", "person"], name="one_membership_a_person"),
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="membership_role_known"),
        )

    def __str__(self) -> str:
        return f"{self.person_id} {self.role}"


class Crew(Owned):
    """People who work together. A disbanded one stays for what it has made, and its name is free again."""

    name = models.CharField(max_length=80)
    disbanded_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    members = models.ManyToManyField(Membership, through="CrewMember", related_name="crews")

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(
                fields=["company", "name"], condition=Q(disbanded_at__isnull=True), name="crew_name_once"
            ),
        )

    def __str__(self) -> str:
        return self.name


class CrewMember(Owned):
    """One person's place in one crew."""

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT)
    membership = models.ForeignKey(Membership, on_delete=models.PROTECT)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["company", "crew", "membership"], name="once_in_a_crew"),
        )

    def __str__(self) -> str:
        return f"{self.membership_id} in {self.crew_id}"


class OneTimeLink(Owned):
    """A link that opens a door once. Kept is the SHA-256 of its token: who reads the table opens nothing."""

    token_hash = models.CharField(max_length=64, db_index=True, editable=False)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True


def _open_once(*fields: str, name: str) -> Any:
    """One link at a time that is neither used nor withdrawn."""
    return models.UniqueConstraint(
        fields=["company", *fields],
        condition=Q(used_at__isnull=True, withdrawn_at__isnull=True),
        name=name,
    )


class Invitation(OneTimeLink):
    """Takes the person of a mail address into the company, in a role, into crews (their ids as text)."""

    email = models.EmailField()
    role = models.CharField(max_length=20, choices=Role)
    crews = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ("-made_at",)
        constraints = (
            _open_once("email", name="one_open_invitation_an_address"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="invitation_role_known"),
        )

    def __str__(self) -> str:
        return f"{self.role} {self.email}"


class ResetLink(OneTimeLink):
    """Lets a person of the company set a new password without the old one."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("-made_at",)
        constraints = (_open_once("person", name="one_open_reset_a_person"),)

    def __str__(self) -> str:
        return f"{self.person_id} {self.made_at:%Y-%m-%d}"


class DeviceKind(models.TextChoices):
    """What numbers its own ticks."""

    OFFICE = "office"
    TABLET = "tablet"


class Device(Owned):
    """An enrolled tablet, or the company's own office device. Each numbers its ticks 1, 2, 3, ..."""

    kind = models.CharField(max_length=10, choices=DeviceKind)
    name = models.CharField(max_length=80)
    next_sequence = models.PositiveBigIntegerField(default=1)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["company"], condition=models.Q(kind=DeviceKind.OFFICE), name="one_office_device"
            ),
            models.CheckConstraint(condition=models.Q(kind__in=DeviceKind.values), name="device_kind_known"),
        )

    def __str__(self) -> str:
        return self.name
