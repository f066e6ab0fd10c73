"""Commands: one transaction, an act recorded, nothing half done; and the version that two people may not both
claim."""

import uuid

import pytest
from factories import House

from services.core import faults
from services.core.commands import NoActRecorded, after_commit, claim_version, command, record, when_queued
from services.core.errors import NotFound, StaleVersion
from services.core.models import Act, OutboxEntry
from services.projects.models import Project


class Struck(Exception):
    """What a fault point raises here."""


def strike() -> None:
    """Stands for a process that dies."""
    raise Struck


def a_project(code: str = "FC-1") -> Project:
    """A project made straight in its table, for commands of this file to change."""
    return Project.objects.create(code=code, name="Cold store")


def test_a_command_that_records_no_act_is_refused_and_leaves_nothing(scoped: House) -> None:
    @command
    def forgetful() -> None:
        a_project()

    with pytest.raises(NoActRecorded, match="forgetful recorded no act"):
        forgetful()
    assert not Project.objects.exists()


def test_an_act_outside_a_command_is_refused(scoped: House) -> None:
    project = a_project()
    with pytest.raises(NoActRecorded, match="outside a command"):
        record(scoped.foreman, "project renamed", project)
    with pytest.raises(NoActRecorded, match="outside a command"):
        after_commit("papers.draw_cards", plan_id="1")
    assert not Act.objects.filter(act="project renamed").exists()
    assert not OutboxEntry.objects.exists()


def test_an_act_says_who_did_what_to_what_in_which_role(scoped: House) -> None:
    @command
    def rename(project: Project) -> None:
        record(scoped.foreman, "project renamed", project, name="Bottling hall")

    project = a_project()
    rename(project)
    act = Act.objects.get(act="project renamed")
    assert (act.person_id, act.device_id, act.role) == (
        scoped.foreman.person_id,
        scoped.foreman.device_id,
        "foreman",
    )
    assert (act.subject_kind, act.subject_id) == ("projects.project", project.pk)
    assert act.figures == {"name": "Bottling hall"}
    assert act.company_id == scoped.company.pk


def test_what_a_command_did_before_it_failed_is_undone(scoped: House) -> None:
    @command
    def half(project: Project) -> None:
        Project.objects.filter(pk=project.pk).update(name="Half way")
        record(scoped.foreman, "project renamed", project)
        after_commit("nothing.much")
        raise Struck

    project = a_project()
    with pytest.raises(Struck):
        half(project)
    project.refresh_from_db()
    assert project.name == "Cold store"
    assert not Act.objects.filter(act="project renamed").exists()
    assert not OutboxEntry.objects.exists()


def test_a_command_that_another_calls_shares_its_transaction_and_its_fate(scoped: House) -> None:
    @command
    def inner() -> Project:
        project = a_project()
        record(scoped.foreman, "project made", project)
        return project

    @command
    def outer() -> None:
        inner()
        raise Struck

    with pytest.raises(Struck):
        outer()
    assert not Project.objects.exists()
    assert not Act.objects.filter(act="project made").exists()


def test_an_act_of_the_inner_command_suffices_for_the_outer(scoped: House) -> None:
    @command
    def inner() -> None:
        record(scoped.foreman, "project made", a_project())

    @command
    def outer() -> None:
        inner()

    outer()
    assert Act.objects.filter(act="project made").count() == 1


def test_a_joined_command_need_not_record_again(scoped: House) -> None:
    @command
    def silent() -> None:
        a_project("FC-2")

    @command
    def outer() -> None:
        record(scoped.foreman, "project made", a_project())
        silent()

    outer()
    assert Project.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_a_process_that_dies_before_the_commit_leaves_nothing(house: House) -> None:
    @command
    def make() -> None:
        record(house.foreman, "project made", a_project())
        after_commit("nothing.much")

    faults.arm("before-commit", strike)
    with house.scope():
        with pytest.raises(Struck):
            make()
        assert not Project.objects.exists()
        assert not OutboxEntry.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_process_that_dies_after_the_commit_leaves_all_of_it_and_the_queued_work(house: House) -> None:
    @command
    def make() -> None:
        record(house.foreman, "project made", a_project())
        after_commit("papers.draw_cards", plan_id="7")

    faults.arm("after-commit", strike)
    with house.scope():
        with pytest.raises(Struck):
            make()
        assert Project.objects.count() == 1
        assert Act.objects.filter(act="project made").count() == 1
        entry = OutboxEntry.objects.get()
        assert (entry.task, entry.payload, entry.company_id) == (
            "papers.draw_cards",
            {"plan_id": "7"},
            house.company.pk,
        )


def test_the_worker_is_woken_only_after_a_command_that_queued_something(
    scoped: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    from services.core import commands

    monkeypatch.setattr(commands, "_on_queued", [])
    woken: list[int] = []
    when_queued(lambda: woken.append(OutboxEntry.objects.count()))

    @command
    def idle() -> None:
        record(scoped.foreman, "project made", a_project("FC-1"))

    @command
    def busy() -> None:
        record(scoped.foreman, "project made", a_project("FC-2"))
        after_commit("papers.draw_cards", plan_id="7")

    idle()
    assert woken == []
    busy()
    assert woken == [1]


def test_the_second_of_two_people_who_saw_the_same_version_is_told_and_changes_nothing(scoped: House) -> None:
    project = a_project()
    second = Project.objects.get(pk=project.pk)
    claim_version(project, seen=1)
    assert project.version == 2
    with pytest.raises(StaleVersion) as told:
        claim_version(second, seen=1)
    assert told.value.figures == {"seen": 1, "now": 2}
    project.refresh_from_db()
    assert project.version == 2


def test_a_version_of_what_is_gone_or_not_ours_is_not_found(scoped: House, other_house: House) -> None:
    with other_house.scope():
        theirs = a_project()
    with pytest.raises(NotFound):
        claim_version(theirs, seen=1)
    with other_house.scope():
        assert Project.objects.get(pk=theirs.pk).version == 1
    with pytest.raises(NotFound):
        claim_version(Project(pk=uuid.uuid4(), code="X", name="X"), seen=1)


def test_a_fault_point_that_there_is_not_cannot_be_armed() -> None:
    with pytest.raises(KeyError):
        faults.arm("before-lunch", strike)


def test_a_fault_point_does_nothing_once_disarmed() -> None:
    faults.arm("after-answer", strike)
    with pytest.raises(Struck):
        faults.fault_point("after-answer")
    faults.fault_point("before-commit")
    faults.disarm()
    faults.fault_point("after-answer")
