"""Changes of projects, rooms and runs."""

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any, Final, Unpack

from django.db import transaction
from django.db.models import F, Max, ProtectedError, Q
from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore.spec import EndKind
from services.bench import queries as bench
from services.company import queries as companies
from services.company.rights import Right, require
from services.core.checks import Checks, make_once
from services.core.commands import Actor, claim_version, command, record
from services.core.errors import IllegalMove, NotFound, StaleVersion
from services.projects import queries, rules
from services.projects.models import BankCorners, Heading, Project, Room, Run, SurveyUpload
from services.projects.signals import draft_deleted
from services.projects.survey import Survey, SurveyedRun, Table


@command
def create_project(*, actor: Actor, code: str, name: str, client: str = "", site: str = "") -> Project:
    """A new job. Raises NotAllowed, Invalid."""
    require(actor, Right.SURVEY)
    checks = Checks()
    kept = rules.checked_project(checks, {"code": code, "name": name, "client": client, "site": site})
    checks.done()
    code = kept["code"]
    project: Project = make_once(
        lambda: Project.objects.create(**kept),
        taken=Project.objects.filter(code=code),
        problem=rules.code_taken(code),
    )
    record(actor, "project created", project, **kept)
    return project


@command
def create_room(*, actor: Actor, project_id: uuid.UUID, name: str) -> Room:
    """A new room of a project, the last on the wall chart. Raises NotAllowed, NotFound, Invalid."""
    require(actor, Right.SURVEY)
    project = queries.project(project_id)
    rules.require_open(project)
    checks = Checks()
    name = checks.text("name", name, longest=120)
    checks.done()
    last = Room.objects.filter(project=project).aggregate(last=Max("place"))["last"]
    room: Room = make_once(
        lambda: Room.objects.create(project=project, name=name, place=0 if last is None else last + 1),
        taken=Room.objects.filter(project=project, name=name),
        problem=rules.room_taken(name),
    )
    record(actor, "room created", room, project=str(project.pk), name=name)
    return room


@command
def create_run(
    *,
    actor: Actor,
    room_id: uuid.UUID,
    label: str,
    former_id: uuid.UUID,
    from_place: str = "",
    to_place: str = "",
    heading: str = Heading.UP,
) -> Run:
    """A new run in a room, without rows yet. Raises NotAllowed, NotFound, Invalid."""
    require(actor, Right.SURVEY)
    room = queries.room(room_id)
    rules.require_open(room.project)
    former = bench.former(former_id)
    checks = Checks()
    kept = rules.checked_run(
        checks, {"label": label, "from_place": from_place, "to_place": to_place, "heading": heading}
    )
    checks.done()
    run: Run = make_once(
        lambda: Run.objects.create(room=room, former=former, **kept),
        taken=Run.objects.filter(room=room, label=kept["label"]),
        problem=rules.label_taken(kept["label"]),
    )
    record(actor, "run created", run, room=str(room.pk), former=str(former.pk), **kept)
    return run


@command
def change_run(*, actor: Actor, run_id: uuid.UUID, seen: int, **fields: Unpack[rules.RunChange]) -> Run:
    """Changes what a run says of itself beside its rows; what is not named stays. A released plan stays as it
    is.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid; IllegalMove for
    the label of a released run, which is painted on its pieces.
    """
    require(actor, Right.SURVEY)
    run = _claimed(run_id, seen)
    checks = Checks()
    kept: dict[str, Any] = dict(rules.checked_run(checks, fields))
    checks.done()
    if "former_id" in fields:
        kept["former_id"] = bench.former(fields["former_id"]).pk
    changed = {name: value for name, value in kept.items() if value != getattr(run, name)}
    if "label" in changed and queries.is_released(run.pk):
        raise IllegalMove(
            _("Run %(label)s is released, and its label is painted on its pieces: it stays as it is.")
            % {"label": run.label}
        )
    before = {name: getattr(run, name) for name in changed}
    for name, value in changed.items():
        setattr(run, name, value)
    make_once(
        lambda: run.save(update_fields=list(changed)),
        taken=Run.objects.filter(room_id=run.room_id, label=run.label).exclude(pk=run.pk),
        problem=rules.label_taken(run.label),
    )
    if changed:
        _move_the_bank(run)
    record(actor, "run changed", run, before=_plain(before), after=_plain(changed))
    return run


@command
def set_rows(*, actor: Actor, run_id: uuid.UUID, seen: int, rows: Sequence[Mapping[str, object]]) -> Run:
    """Sets a run's rows, all of them, as measured (`rules.checked_rows`). A figure that is None is to
    measure.

    A released run may be changed: that makes a draft beside its released plan.
    seen: the version that the person saw.
    Raises NotAllowed, NotFound, StaleVersion; Invalid with every problem at once (`rows[2].angle_deg`).
    """
    require(actor, Right.SURVEY)
    run = _claimed(run_id, seen)
    if run.beside is not None:
        raise IllegalMove(
            _("Run %(label)s lies beside run %(other)s, and has its rows: change those.")
            % {"label": run.label, "other": run.beside.label}
        )
    kept = rules.checked_rows(rows)
    run.rows = kept
    run.save(update_fields=["rows"])
    _move_the_bank(run)
    record(actor, "rows set", run, rows=kept)
    return run


def _move_the_bank(run: Run) -> None:
    """What lies beside a run is another draft once the run is changed: whoever saw it is told."""
    Run.objects.filter(beside_id=run.pk).update(version=F("version") + 1)


@command
def lay_bank(
    *,
    actor: Actor,
    run_id: uuid.UUID,
    seen: int,
    labels: Sequence[str],
    spacing_mm: float,
    toward: str,
    corners: str = BankCorners.EQUAL,
) -> list[Run]:
    """Lays runs beside one, in a bank: each has its rows, shifted sideways by so many spacings.

    labels: of the new runs, the nearest first; they come after those that lie there already.  spacing_mm:
    centre to centre, for the whole bank.  toward: where they lie, square to the first leg.
    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid; IllegalMove for
    a run that lies beside another itself. Whether such conduits can be bent is planning's to tell.
    """
    require(actor, Right.SURVEY)
    run = _claimed(run_id, seen)
    if run.beside is not None:
        raise IllegalMove(
            _("Run %(label)s lies beside run %(other)s: lay the bank from that one.")
            % {"label": run.label, "other": run.beside.label}
        )
    there = len(queries.bank_of(run.pk))
    checks = Checks()
    bank = rules.checked_bank(
        checks, labels=labels, spacing_mm=spacing_mm, toward=toward, corners=corners, there=there
    )
    checks.done()
    for name, value in bank.settings.items():
        setattr(run, name, value)
    run.save(update_fields=list(bank.settings))
    made = [_lie_beside(run, label, place) for place, label in enumerate(bank.labels, start=there + 2)]
    _move_the_bank(run)
    record(actor, "bank laid", run, **bank.settings, labels=bank.labels, runs=[str(each.pk) for each in made])
    return made


def _lie_beside(run: Run, label: str, place: int) -> Run:
    made: Run = make_once(
        lambda: Run.objects.create(
            room_id=run.room_id,
            label=label,
            former_id=run.former_id,
            beside=run,
            place_in_bank=place,
            from_place=run.from_place,
            to_place=run.to_place,
            facing=run.facing,
        ),
        taken=Run.objects.filter(room_id=run.room_id, label=label),
        problem=rules.label_taken(label),
    )
    return made


@command
def leave_bank(*, actor: Actor, run_id: uuid.UUID, seen: int) -> Run:
    """Makes a run of a bank one of its own, with the rows that it had; only the last may go, for the places
    of the others count on it. Raises NotAllowed, NotFound, StaleVersion, IllegalMove."""
    require(actor, Right.SURVEY)
    run = _claimed(run_id, seen)
    leads = run.beside
    if leads is None:
        raise IllegalMove(_("Run %(label)s lies in no bank.") % {"label": run.label})
    if run.place_in_bank <= len(queries.bank_of(leads.pk)):
        raise IllegalMove(_("Only the last run of a bank can leave it."))
    for name in _SHARED_IN_A_BANK:
        setattr(run, name, getattr(leads, name))
    run.beside, run.place_in_bank = None, 1
    run.save(update_fields=[*_SHARED_IN_A_BANK, "beside", "place_in_bank"])
    record(actor, "bank left", run, bank=str(leads.pk))
    return run


_SHARED_IN_A_BANK: Final = (
    "rows",
    "heading",
    "standoff_mm",
    "start_kind",
    "start_allowance_mm",
    "finish_kind",
    "finish_allowance_mm",
    "fit_from",
    "former_id",
)


@command
def split_at_box(*, actor: Actor, run_id: uuid.UUID, seen: int, row: int, label: str) -> Run:
    """Splits a run in two at a draw-in box: it ends in the box, and a new run begins there and goes on. The
    two are linked.

    row: from 0, that has the box.  label: of the new run.  Both ends at the box go into its spout; how far is
    to be told (`change_run`), for the box's legs are measured to the ends of the conduit.
    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion; Invalid for a label that
    is taken; IllegalMove where that row has no draw-in box, or is not measured, or the run is released or in
    a bank.
    """
    require(actor, Right.SURVEY)
    run = _claimed(run_id, seen)
    if run.beside is not None or queries.bank_of(run.pk):
        raise IllegalMove(_("A run of a bank is not split: take it out of the bank first."))
    if queries.is_released(run.pk):
        raise IllegalMove(
            _("Run %(label)s is released: make a new run for what comes after the box.")
            % {"label": run.label}
        )
    before, after = rules.split_rows(run.rows, row, start=run.heading)
    checks = Checks()
    kept = rules.checked_run(checks, {"label": label})
    checks.done()
    made: Run = make_once(
        lambda: Run.objects.create(
            room_id=run.room_id,
            label=kept["label"],
            former_id=run.former_id,
            heading=after.heading,
            standoff_mm=run.standoff_mm,
            start_kind=EndKind.SPOUT,
            finish_kind=run.finish_kind,
            finish_allowance_mm=run.finish_allowance_mm,
            facing=run.facing,
            cables=run.cables,
            fit_from=run.fit_from,
            to_place=run.to_place,
            rows=after.rows,
            follows=run,
        ),
        taken=Run.objects.filter(room_id=run.room_id, label=kept["label"]),
        problem=rules.label_taken(kept["label"]),
    )
    Run.objects.filter(follows_id=run.pk).exclude(pk=made.pk).update(follows=made)
    run.rows, run.finish_kind, run.finish_allowance_mm, run.to_place = before.rows, EndKind.SPOUT, None, ""
    run.save(update_fields=["rows", "finish_kind", "finish_allowance_mm", "to_place"])
    record(actor, "run split", run, row=row, made=str(made.pk), label=made.label)
    return made


@command
def change_project(
    *, actor: Actor, project_id: uuid.UUID, seen: int, **fields: Unpack[rules.ProjectChange]
) -> Project:
    """Changes what a project says of itself; what is not named stays.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid; IllegalMove for
    an archived one.
    """
    require(actor, Right.SURVEY)
    project = _claimed_project(project_id, seen)
    rules.require_open(project)
    checks = Checks()
    kept = rules.checked_project(checks, fields)
    checks.done()
    changed = {name: value for name, value in kept.items() if value != getattr(project, name)}
    before = {name: getattr(project, name) for name in changed}
    for name, value in changed.items():
        setattr(project, name, value)
    make_once(
        lambda: project.save(update_fields=list(changed)),
        taken=Project.objects.filter(code=project.code).exclude(pk=project.pk),
        problem=rules.code_taken(project.code),
    )
    record(actor, "project changed", project, before=before, after=changed)
    return project


@command
def archive_project(*, actor: Actor, project_id: uuid.UUID, seen: int) -> Project:
    """Takes a project off the wall chart; nothing of it can be changed then, but to bring it back.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion; IllegalMove for one that
    is archived.
    """
    require(actor, Right.SURVEY)
    project = _claimed_project(project_id, seen)
    rules.require_open(project)
    project.archived_at = timezone.now()
    project.save(update_fields=["archived_at"])
    record(actor, "project archived", project)
    return project


@command
def bring_project_back(*, actor: Actor, project_id: uuid.UUID, seen: int) -> Project:
    """Puts an archived project on the wall chart again.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion; IllegalMove for one that
    is not archived.
    """
    require(actor, Right.SURVEY)
    project = _claimed_project(project_id, seen)
    if project.archived_at is None:
        raise IllegalMove(_("Project %(code)s is not archived.") % {"code": project.code})
    project.archived_at = None
    project.save(update_fields=["archived_at"])
    record(actor, "project brought back", project)
    return project


@command
def rename_room(*, actor: Actor, room_id: uuid.UUID, seen: int, name: str) -> Room:
    """Gives a room another name.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid, IllegalMove.
    """
    require(actor, Right.SURVEY)
    room = _claimed_room(room_id, seen)
    checks = Checks()
    name = checks.text("name", name, longest=120)
    checks.done()
    before, room.name = room.name, name
    make_once(
        lambda: room.save(update_fields=["name"]),
        taken=Room.objects.filter(project_id=room.project_id, name=name).exclude(pk=room.pk),
        problem=rules.room_taken(name),
    )
    record(actor, "room renamed", room, before=before, name=name)
    return room


@command
def order_rooms(
    *, actor: Actor, project_id: uuid.UUID, seen: int, room_ids: Sequence[uuid.UUID]
) -> list[Room]:
    """Puts a project's rooms in this order on the wall chart.

    room_ids: all of the project's rooms, each once. seen: the project's version that the person saw.
    Raises NotAllowed, NotFound, StaleVersion, Invalid, IllegalMove.
    """
    require(actor, Right.SURVEY)
    project = _claimed_project(project_id, seen)
    rules.require_open(project)
    rooms = {room.pk: room for room in queries.rooms_of(project.pk)}
    checks = Checks()
    if sorted(map(str, room_ids)) != sorted(map(str, rooms)):
        checks.refuse("rooms", _("are not all rooms of the project, each once; read them again"))
    checks.done()
    ordered = [rooms[room_id] for room_id in room_ids]
    for place, room in enumerate(ordered):
        room.place = place
    Room.objects.bulk_update(ordered, ["place"], batch_size=500)
    record(actor, "rooms ordered", project, rooms=[str(room_id) for room_id in room_ids])
    return ordered


@command
def delete_room(*, actor: Actor, room_id: uuid.UUID, seen: int) -> None:
    """Deletes a room that has no runs.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion; IllegalMove for one with
    runs.
    """
    require(actor, Right.SURVEY)
    room = _claimed_room(room_id, seen)
    _count_up(room.project)  # the room's own version goes with it
    record(actor, "room deleted", room, project=str(room.project_id), name=room.name)
    try:
        with transaction.atomic():
            room.delete()
    except ProtectedError:
        raise IllegalMove(
            _("Room %(name)s has runs. A room is deleted when it has none.") % {"name": room.name}
        ) from None


@command
def delete_run(*, actor: Actor, run_id: uuid.UUID, seen: int) -> None:
    """Deletes a run that was never released, with its rows.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion; IllegalMove for one that
    was released, or that another run hangs on.
    """
    require(actor, Right.SURVEY)
    run = _claimed(run_id, seen)
    if queries.is_released(run.pk):
        raise IllegalMove(
            _("Run %(label)s was released: it is kept. Archive its project when the job is done.")
            % {"label": run.label}
        )
    _count_up(run.room)  # the run's own version goes with it
    record(
        actor, "run deleted", run, room=str(run.room_id), label=run.label, rows=run.rows,
        from_place=run.from_place, to_place=run.to_place,
    )  # fmt: skip
    draft_deleted.send(sender=Run, run=run, actor=actor)
    try:
        with transaction.atomic():
            run.delete()
    except ProtectedError as error:
        others = sorted({str(each.label) for each in error.protected_objects if isinstance(each, Run)})
        raise IllegalMove(
            _("Run %(label)s cannot be deleted: %(others)s hangs on it.")
            % {"label": run.label, "others": ", ".join(others) or _("something else")}
        ) from None


@command
def set_due(*, actor: Actor, runs: Mapping[uuid.UUID, int], due_on: object) -> list[Run]:
    """Sets the day by which runs are to be done, all of them or none.

    runs: each with the version that the person saw. due_on: a date, or text such as 2026-11-25; None or empty
    takes it away. Raises NotAllowed, NotFound, StaleVersion, Invalid, IllegalMove. Three queries.
    """
    require(actor, Right.RELEASE)
    checks = Checks()
    day = rules.checked_day(checks, "due_on", due_on)
    checks.done()
    found = _claimed_runs(runs)
    Run.objects.filter(pk__in=list(runs)).update(due_on=day)
    record(actor, "runs due", found[0].room.project, due_on=str(day or ""), runs=[str(each) for each in runs])
    return found


@command
def set_priority(*, actor: Actor, runs: Mapping[uuid.UUID, int], priority: object) -> list[Run]:
    """Sets what of runs goes first, all of them or none.

    runs: each with the version that the person saw. priority: 1 first, 2 ordinary, 3 later.
    Raises NotAllowed, NotFound, StaleVersion, Invalid, IllegalMove. Three queries.
    """
    require(actor, Right.RELEASE)
    checks = Checks()
    kept = rules.checked_priority(checks, "priority", priority)
    checks.done()
    found = _claimed_runs(runs)
    Run.objects.filter(pk__in=list(runs)).update(priority=kept)
    record(actor, "runs ordered", found[0].room.project, priority=kept, runs=[str(each) for each in runs])
    return found


@command
def give_runs(
    *, actor: Actor, runs: Mapping[uuid.UUID, int], crew_id: uuid.UUID, to_bend: bool, to_fit: bool
) -> list[Run]:
    """Gives runs to a crew, to bend, to fit or both; gives them as they were before.

    What is released already is tracking's to give as well (`tracking.commands.assign`), which calls this.
    runs: each with the version that the person saw.
    Raises NotAllowed, NotFound, StaleVersion, Invalid, IllegalMove. Four queries.
    """
    require(actor, Right.RELEASE)
    crew = companies.crew(crew_id)
    found = _claimed_runs(runs)
    columns = {name: crew for name, is_given in (("crew", to_bend), ("fitting_crew", to_fit)) if is_given}
    Run.objects.filter(pk__in=list(runs)).update(**columns)
    record(
        actor, "runs given", found[0].room.project, crew=str(crew.pk), stages=sorted(columns),
        runs=[str(each) for each in runs],
    )  # fmt: skip
    return found


def _claimed_runs(runs: Mapping[uuid.UUID, int]) -> list[Run]:
    """The runs as they were, each with its room and project, their versions claimed all at once or none.

    Raises NotFound, Invalid (none or too many), StaleVersion (it names the runs), IllegalMove (archived).
    """
    checks = Checks()
    rules.check_how_many(checks, "runs", len(runs))
    checks.done()
    found = queries.runs(list(runs))
    if len(found) != len(runs):
        raise NotFound(_("One of these runs is not there any more."))
    for project in {run.room.project_id: run.room.project for run in found}.values():
        rules.require_open(project)
    by_version: dict[int, list[uuid.UUID]] = defaultdict(list)
    for run_id, seen in runs.items():
        by_version[seen].append(run_id)
    as_seen = Q()
    for seen, run_ids in by_version.items():
        as_seen |= Q(version=seen, pk__in=run_ids)
    changed = Run.objects.filter(as_seen).update(version=F("version") + 1)
    if changed != len(runs):
        stale = [run.label for run in found if run.version != runs[run.pk]] or [run.label for run in found]
        raise StaleVersion(
            _(
                "Somebody else changed %(runs)s since you looked. Nothing was changed; look again, then "
                "choose."
            )
            % {"runs": ", ".join(stale)},
            runs=stale,
        )
    return found


def _claimed_project(project_id: uuid.UUID, seen: int) -> Project:
    """The project, its version claimed; read after the claim."""
    claim_version(queries.project(project_id), seen=seen)
    return queries.project(project_id)


def _claimed_room(room_id: uuid.UUID, seen: int) -> Room:
    """The room with its project, its version claimed; read after the claim. Raises IllegalMove in an archived
    project."""
    claim_version(queries.room(room_id), seen=seen)
    room = queries.room(room_id)
    rules.require_open(room.project)
    return room


def _count_up(holder: Project | Room) -> None:
    """Counts the version of what held a deleted row up, so that whoever looks at it sees a change."""
    type(holder).objects.filter(pk=holder.pk).update(version=F("version") + 1)


def _claimed(run_id: uuid.UUID, seen: int) -> Run:
    """The run, its version claimed; read after the claim, so that it is the very version that the person
    saw. Raises IllegalMove in an archived project."""
    claim_version(queries.run(run_id), seen=seen)
    run = queries.run(run_id)
    rules.require_open(run.room.project)
    return run


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: str(value) if isinstance(value, uuid.UUID) else value for name, value in values.items()}


# --------------------------------------------------------------------------------------------------- a survey


@command
def keep_survey(*, actor: Actor, project_id: uuid.UUID, file_name: str, table: Table) -> SurveyUpload:
    """Keeps a survey that has no problem until somebody says that it is to be imported, for as long as
    `queries.SURVEY_WAITS` tells. Those that waited longer go.

    Raises NotAllowed, NotFound, IllegalMove; Invalid with every problem, each at its place in the file.
    """
    require(actor, Right.SURVEY)
    project = queries.project(project_id)
    rules.require_open(project)
    survey = _sound(project, table)
    SurveyUpload.objects.filter(made_at__lte=timezone.now() - queries.SURVEY_WAITS).delete()
    upload: SurveyUpload = SurveyUpload.objects.create(
        project=project,
        file_name="".join(sign for sign in file_name if sign.isprintable())[:120],
        table=table.to_json(),
        made_at=timezone.now(),
    )
    record(actor, "survey read", upload, project=str(project.pk), runs=len(survey.runs), rows=survey.rows)
    return upload


@command
def import_kept_survey(*, actor: Actor, upload_id: uuid.UUID) -> list[Run]:
    """Makes what a kept survey holds, once. Raises what `import_survey` raises; IllegalMove when it was
    imported already."""
    require(actor, Right.SURVEY)
    upload = queries.survey_upload(upload_id)
    waiting = SurveyUpload.objects.filter(pk=upload.pk, imported_at__isnull=True)
    if not waiting.update(imported_at=timezone.now()):
        raise IllegalMove(_("This survey was imported already."))
    return import_survey(actor=actor, project_id=upload.project_id, table=Table.from_json(upload.table))


@command
def import_survey(*, actor: Actor, project_id: uuid.UUID, table: Table) -> list[Run]:
    """Makes the rooms and runs of a survey with their rows, all of them or nothing. Runs that there are stay
    as they are: one with the label of another in its room is a problem.

    Raises NotAllowed, NotFound, IllegalMove; Invalid with every problem, each at its place in the file
    (`row 14, column F`).
    """
    require(actor, Right.SURVEY)
    project = queries.project(project_id)
    rules.require_open(project)
    survey = _sound(project, table)
    rooms = {room.name: room for room in queries.rooms_of(project.pk)}
    for name in survey.new_rooms:
        rooms[name] = create_room(actor=actor, project_id=project.pk, name=name)
    made = [_surveyed(actor, rooms[each.room], each) for each in survey.runs]
    record(actor, "survey imported", project, rooms=list(survey.new_rooms), runs=len(made), rows=survey.rows)
    return made


def _surveyed(actor: Actor, room: Room, surveyed: SurveyedRun) -> Run:
    run: Run = make_once(
        lambda: Run.objects.create(
            room=room, former_id=surveyed.former.id, rows=list(surveyed.rows), **surveyed.head
        ),
        taken=Run.objects.filter(room=room, label=surveyed.label),
        problem=rules.label_taken(surveyed.label),
    )
    record(
        actor, "run created", run, room=str(room.pk), former=str(surveyed.former.id), rows=surveyed.rows,
        **surveyed.head,
    )  # fmt: skip
    return run


def _sound(project: Project, table: Table) -> Survey:
    survey = queries.checked_survey(project.pk, table)
    survey.require_sound()
    return survey
