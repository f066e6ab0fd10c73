"""The record of acts, the outbox of work that follows a commit, and answers kept under their keys."""

from django.db import models
from django.utils import timezone

from services.core.ids import uuid7
from services.core.scoping import Owned


class Act(Owned):
    """Who did what, when. Never changed."""

    at = models.DateTimeField(default=timezone.now, editable=False)
    person_id = models.UUIDField()
    device_id = models.UUIDField(null=True)
    role = models.CharField(max_length=20)
    act = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=60)
    subject_id = models.UUIDField()
    figures = models.JSONField(default=dict)

    class Meta:
        indexes = (models.Index(fields=["company", "subject_id", "at"], name="act_of_subject"),)

    def __str__(self) -> str:
        return f"{self.act} {self.subject_kind} {self.subject_id}"


class OutboxEntry(models.Model):
    """One task to do after a commit. Not owned: the relay serves all companies, each entry in its own
    scope."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    company_id = models.UUIDField()
    task = models.CharField(max_length=80)
    payload = models.JSONField(default=dict)
    queued_at = models.DateTimeField(default=timezone.now)
    claimed_at = models.DateTimeField(null=True)
    done_at = models.DateTimeField(null=True)
    tries = models.PositiveIntegerField(default=0)
    error = models.CharField(max_length=200, default="", blank=True)

    class Meta:
        indexes = (
            models.Index(fields=["queued_at"], name="outbox_due", condition=models.Q(done_at__isnull=True)),
        )

    def __str__(self) -> str:
        return f"{self.task} {self.id}"


class KeptAnswer(Owned):
    """The first answer to a request that named an Idempotency-Key; `status` is null while it is worked on."""

    person_id = models.UUIDField()
    route = models.CharField(max_length=200)
    key = models.UUIDField()
    fingerprint = models.CharField(max_length=64)
    claim = models.UUIDField()
    claimed_at = models.DateTimeField()
    status = models.PositiveSmallIntegerField(null=True)
    etag = models.CharField(max_length=40, default="", blank=True)
    body = models.TextField(default="", blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["company", "person_id", "route", "key"], name="one_answer_to_a_key"
            ),
        )
        indexes = (models.Index(fields=["company", "claimed_at"], name="kept_answer_age"),)

    def __str__(self) -> str:
        return f"{self.route} {self.key}"
