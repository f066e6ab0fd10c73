"""Changes of benders and formers."""

import uuid
from typing import Unpack

from django.utils.translation import gettext as _

from services.bench import queries, rules
from services.bench.models import Bender, Former, Line
from services.company.rights import Right, require
from services.core.checks import Checks, make_once
from services.core.commands import Actor, claim_version, command, record
from services.core.errors import FieldProblem


@command
def add_bender(*, actor: Actor, name: str) -> Bender:
    """A new bender. Raises NotAllowed, Invalid."""
    require(actor, Right.BENDERS)
    checks = Checks()
    name = checks.text("name", name, longest=80)
    checks.done()
    bender: Bender = make_once(
        lambda: Bender.objects.create(name=name),
        taken=Bender.objects.filter(name=name),
        problem=_name_taken(name),
    )
    record(actor, "bender added", bender, name=name)
    return bender


@command
def change_bender(*, actor: Actor, bender_id: uuid.UUID, seen: int, **told: Unpack[rules.Body]) -> Bender:
    """Changes what a bender is called, its body and its least straights; what is not named stays. Released
    plans keep the order of bending they were made with.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid.
    """
    require(actor, Right.BENDERS)
    claim_version(queries.bender(bender_id), seen=seen)
    bender = queries.bender(bender_id)  # read again: what stands now is the version claimed
    checks = Checks()
    kept = rules.body(checks, told)
    checks.done()
    changed = {name: value for name, value in kept.items() if value != getattr(bender, name)}
    before = {name: getattr(bender, name) for name in changed}
    for name, value in changed.items():
        setattr(bender, name, value)
    make_once(
        lambda: bender.save(update_fields=list(changed)),
        taken=Bender.objects.filter(name=bender.name).exclude(pk=bender.pk),
        problem=_name_taken(bender.name),
    )
    record(actor, "bender changed", bender, before=before, after=changed)
    return bender


def _name_taken(name: str) -> FieldProblem:
    return FieldProblem("name", _("there is a bender called %(name)s already") % {"name": name}, "taken")


@command
def add_former(
    *,
    actor: Actor,
    bender_id: uuid.UUID,
    conduit: str,
    centreline_radius_mm: float,
    line: str = Line.BEGIN,
    take_up_mm: float | None = None,
    reach_mm: float | None = None,
    k: float | None = None,
    c_deg: float | None = None,
    sd_deg: float | None = None,
    scale_deg: float | None = None,
) -> Former:
    """A former on a bender, for one conduit of the engine's catalogue. Lengths in mm, angles in degrees.

    line: the set line; take_up_mm goes with `arrow`, reach_mm with `own`.  k, c_deg, sd_deg: finished = (1 -
    k) pulled - c, with the standard deviation of the finished angle.  scale_deg: the bender's division.
    Raises NotAllowed, NotFound, Invalid.
    """
    require(actor, Right.BENDERS)
    bender = queries.bender(bender_id)
    checks = Checks()
    conduit = rules.conduit(checks, conduit)
    figures = rules.figures(
        checks,
        {
            "centreline_radius_mm": centreline_radius_mm,
            "line": line,
            "take_up_mm": take_up_mm,
            "reach_mm": reach_mm,
            "k": k,
            "c_deg": c_deg,
            "sd_deg": sd_deg,
            "scale_deg": scale_deg,
        },
        conduit=conduit,
    )
    checks.done()
    former: Former = make_once(
        lambda: Former.objects.create(bender=bender, conduit=conduit, **figures),
        taken=Former.objects.filter(bender=bender, conduit=conduit),
        problem=FieldProblem(
            "conduit",
            _("%(bender)s has a former for %(conduit)s already; change that one")
            % {"bender": bender.name, "conduit": conduit},
            "taken",
        ),
    )
    record(actor, "former added", former, bender=str(bender.pk), conduit=conduit, **figures)
    return former


@command
def change_former(
    *, actor: Actor, former_id: uuid.UUID, seen: int, **figures: Unpack[rules.Figures]
) -> Former:
    """Changes figures of a former; what is not named stays. Released plans keep the figures they were made
    with.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid.
    """
    require(actor, Right.BENDERS)
    claim_version(queries.former(former_id), seen=seen)
    former = queries.former(former_id)  # read again: what stands now is the version claimed
    before = {name: getattr(former, name) for name in rules.Figures.__optional_keys__}
    checks = Checks()
    after = rules.figures(checks, {**before, **figures}, conduit=former.conduit)
    checks.done()
    changed = {name: value for name, value in after.items() if value != before[name]}
    for name, value in changed.items():
        setattr(former, name, value)
    former.save(update_fields=list(changed))
    record(actor, "former changed", former, before={name: before[name] for name in changed}, after=changed)
    return former
