"""Work that follows a commit: never lost, never done by two at once, tried again."""

import ast
import threading
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone
from factories import House

import services
from services.core import faults, outbox
from services.core.commands import after_commit, command, record
from services.core.models import OutboxEntry
from services.core.scoping import current_company_id

PATIENCE_S = 20.0
"""Longest wait for a thread. Far above what it takes, so that a busy machine fails no test."""


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Any]]:
    """What the task `test.note` was called with, in order."""
    monkeypatch.setattr(outbox, "TASKS", {})
    notes: list[Any] = []

    @outbox.task("test.note")
    def note(**payload: Any) -> None:
        notes.append((current_company_id(), payload))

    return notes


@command
def queue(house: House, task: str, **payload: Any) -> None:
    """Queues one task."""
    record(house.foreman, "work queued", house.company)
    after_commit(task, **payload)


def later(monkeypatch: pytest.MonkeyPatch, seconds: float) -> None:
    """Lets the outbox's clock stand so much later."""
    now = timezone.now() + timedelta(seconds=seconds)

    class Clock:
        @staticmethod
        def now() -> datetime:
            return now

    monkeypatch.setattr(outbox, "timezone", Clock)


def test_queued_work_is_done_once_in_the_scope_of_its_company(
    house: House, other_house: House, done: list[Any]
) -> None:
    with house.scope():
        queue(house, "test.note", which="ours")
    with other_house.scope():
        queue(other_house, "test.note", which="theirs")
    assert outbox.relay() == 2
    assert outbox.relay() == 0
    assert done == [(house.company.pk, {"which": "ours"}), (other_house.company.pk, {"which": "theirs"})]
    assert OutboxEntry.objects.filter(done_at__isnull=True).count() == 0


def test_a_relay_takes_no_more_than_it_was_told_and_the_oldest_first(house: House, done: list[Any]) -> None:
    with house.scope():
        for number in (1, 2, 3):
            queue(house, "test.note", number=number)
    assert outbox.relay(most=2) == 2
    assert [payload["number"] for _, payload in done] == [1, 2]


def test_of_two_relays_that_saw_the_same_entry_one_does_it(house: House, done: list[Any]) -> None:
    """The second has read the list of what is due before the first claims: the claim decides, not the
    list."""
    with house.scope():
        queue(house, "test.note")
    results: list[int] = []
    first = True

    def meanwhile() -> None:
        nonlocal first
        if first:  # the other relay runs whole while this one stands between claiming and doing
            first = False
            results.append(outbox.relay())

    faults.arm("between-commit-and-relay", meanwhile)
    results.append(outbox.relay())
    assert results == [0, 1]
    assert len(done) == 1


@pytest.mark.django_db(transaction=True)
def test_relays_in_many_threads_do_each_entry_once(house: House, done: list[Any]) -> None:
    with house.scope():
        for number in range(30):
            queue(house, "test.note", number=number)
    gate = threading.Barrier(4)
    failures: list[Exception] = []

    def work() -> None:
        try:
            gate.wait(PATIENCE_S)
            while outbox.relay():
                pass
        except Exception as error:  # told below, in the test's own thread
            failures.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE_S)
    assert failures == []
    assert sorted(payload["number"] for _, payload in done) == list(range(30))
    assert set(OutboxEntry.objects.values_list("tries", flat=True)) == {1}


def test_work_whose_relay_died_is_done_again_after_60_s_and_not_before(
    house: House, done: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    with house.scope():
        queue(house, "test.note")

    class Died(BaseException):
        """Not an Exception: nothing in the relay may tidy up after it, as nothing does after a killed
        process."""

    def die() -> None:
        raise Died

    faults.arm("between-commit-and-relay", die)
    with pytest.raises(Died):
        outbox.relay()
    faults.disarm()
    assert outbox.relay() == 0
    later(monkeypatch, 59)
    assert outbox.relay() == 0
    later(monkeypatch, 61)
    assert outbox.relay() == 1
    assert len(done) == 1
    assert OutboxEntry.objects.get().tries == 2


def test_a_failing_task_is_tried_again_after_2_4_8_s_and_stops_no_other(
    house: House, done: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    attempts: list[int] = []

    @outbox.task("test.fails")
    def fails() -> None:
        attempts.append(1)
        raise ZeroDivisionError

    with house.scope():
        queue(house, "test.fails")
        queue(house, "test.note")
    assert outbox.relay() == 1  # the note; the failure before it did not stop it
    assert len(done) == 1
    began = timezone.now()
    entry = OutboxEntry.objects.get(task="test.fails")
    assert (entry.tries, entry.error, entry.done_at) == (1, "ZeroDivisionError", None)
    passed = 0.0
    for tries, wait in ((2, 2), (3, 4), (4, 8)):
        later(monkeypatch, passed + wait - 0.5 - (timezone.now() - began).total_seconds())
        assert outbox.relay() == 0
        assert len(attempts) == tries - 1
        passed += wait + 0.5
        later(monkeypatch, passed - (timezone.now() - began).total_seconds())
        assert outbox.relay() == 0
        assert len(attempts) == tries
    assert OutboxEntry.objects.get(task="test.fails").tries == 4


def test_work_of_a_name_that_no_task_has_waits_and_says_so(house: House, done: list[Any]) -> None:
    with house.scope():
        queue(house, "test.absent")
    assert outbox.relay() == 0
    entry = OutboxEntry.objects.get()
    assert (entry.done_at, entry.error) == (None, "KeyError")


def test_after_twenty_tries_an_entry_is_left_for_a_person(house: House, done: list[Any]) -> None:
    with house.scope():
        queue(house, "test.note")
    OutboxEntry.objects.update(tries=20)
    assert outbox.relay() == 0
    assert done == []
    assert OutboxEntry.objects.get().done_at is None


@pytest.mark.django_db(transaction=True)
def test_what_was_queued_before_a_restart_is_done_after_it(house: House, done: list[Any]) -> None:
    """Nothing of the queue is kept in the process: a fresh connection finds it."""
    with house.scope():
        queue(house, "test.note", which="from before")
    connection.close()
    assert outbox.relay() == 1
    assert done == [(house.company.pk, {"which": "from before"})]


def test_work_of_a_command_that_failed_is_never_done(house: House, done: list[Any]) -> None:
    @command
    def fails() -> None:
        queue(house, "test.note")
        raise ZeroDivisionError

    with house.scope(), pytest.raises(ZeroDivisionError):
        fails()
    assert outbox.relay() == 0
    assert done == []


def test_every_name_that_a_command_queues_is_a_task_once_the_service_has_started() -> None:
    """Found in the source: the first argument of each `after_commit(` in services/."""
    queued = set()
    for path in Path(services.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "after_commit":
                assert isinstance(node.args[0], ast.Constant), f"{path}:{node.lineno} queues a computed name"
                queued.add(node.args[0].value)
    assert "papers.draw_cards" in queued
    assert queued <= set(outbox.TASKS)
