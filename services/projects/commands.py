"""Changes of projects, rooms and runs."""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any, Unpack

from django.db.models import Max
from django.utils.translation import gettext as _

from services.bench import queries as bench
from services.company.rights import Right, require
from services.core.checks import Checks, make_once
from services.core.commands import Actor, claim_version, command, record
from services.core.errors import FieldProblem, IllegalMove
from services.projects import queries, rules
from services.projects.models import Heading, Project, Room, Run


@command
def create_project(*, actor: Actor, code: str, name: str, client: str = "", site: str = "") -> Project:
    """A new job. Raises NotAllowed, Invalid."""
    require(actor, Right.SURVEY)
    checks = Checks()
    code = checks.text("code", code, longest=30)
    name = checks.text("name", name, longest=120)
    client = checks.text("client", client, longest=120, optional=True)
    site = checks.text("site", site, longest=200, optional=True)
    checks.done()
    project: Project = make_once(
        lambda: Project.objects.create(code=code, name=name, client=client, site=site),
        taken=Project.objects.filter(code=code),
        problem=FieldProblem("code", _("there is a project %(code)s already") % {"code": code}, "taken"),
    )
    record(actor, "project created", project, code=code, name=name, client=client, site=site)
    return project


@command
def create_room(*, actor: Actor, project_id: uuid.UUID, name: str) -> Room:
    """A new room of a project, the last on the wall chart. Raises NotAllowed, NotFound, Invalid."""
    require(actor, Right.SURVEY)
    project = queries.project(project_id)
    checks = Checks()
    name = checks.text("name", name, longest=120)
    checks.done()
    last = Room.objects.filter(project=project).aggregate(last=Max("place"))["last"]
    room: Room = make_once(
        lambda: Room.objects.create(project=project, name=name, place=0 if last is None else last + 1),
        taken=Room.objects.filter(project=project, name=name),
        problem=FieldProblem(
            "name", _("there is a room %(name)s in this project already") % {"name": name}, "taken"
        ),
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
    if "label" in changed and run.crew_id is not None:
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
    kept = rules.checked_rows(rows)
    run.rows = kept
    run.save(update_fields=["rows"])
    record(actor, "rows set", run, rows=kept)
    return run


def _claimed(run_id: uuid.UUID, seen: int) -> Run:
    """The run, its version claimed; read after the claim, so that it is the very version that the person
    saw."""
    claim_version(queries.run(run_id), seen=seen)
    return queries.run(run_id)


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: str(value) if isinstance(value, uuid.UUID) else value for name, value in values.items()}
