"""First attempts: what the release of a run makes."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from services.company.models import Device, DeviceKind
from services.core.commands import Actor, command, record
from services.core.errors import IllegalMove
from services.planning.models import Plan, Stick, StickLine
from services.projects.models import Run
from services.tracking import rules
from services.tracking.commands.ledger import Ledger
from services.tracking.models import Kind, State


@command
def make_first_attempts(*, actor: Actor, run: Run, plan: Plan, sticks: Sequence[Stick]) -> None:
    """Releases a piece for each stick of the plan, the first attempt where there is none yet.

    A piece that is released to an earlier revision and not begun is released to this one; one whose stick is
    not in this plan any more waits again. Raises IllegalMove if a piece was begun.
    """
    device = Device.objects.get(kind=DeviceKind.OFFICE)
    ledger = Ledger(Actor(actor.person_id, actor.company_id, actor.role, device.pk))
    ledger.load(list(StickLine.objects.filter(run_id=run.pk).values_list("pk", flat=True)))
    ledger.expect([])
    planned = {stick.line_id for stick in sticks}
    for stick in sticks:
        stick.plan = plan
        ledger.keep_stick(stick)
    for piece in ledger.pieces.values():
        if ledger.is_begun(piece):
            raise IllegalMove(
                _("%(piece)s has been begun; the run cannot be released anew.") % {"piece": piece.line.label}
            )
    for piece in list(ledger.pieces.values()):
        if piece.line_id not in planned and ledger.life(piece).state == State.RELEASED:
            ledger.withdraw(piece)
    for stick in sticks:
        released = ledger.latest_of(stick.line_id) or ledger.new_piece(stick, 1)
        ledger.put(ledger.row(released, Kind.RELEASED, plan_id=plan.pk))
        if run.crew_id is not None and ledger.life(released).crew_id not in (None, run.crew_id):
            ledger.give(released, rules.BENCH, run.crew_id)  # the whole run is released to that crew
    ledger.close()
    record(actor, "pieces released", run, plan=str(plan.pk), pieces=len(sticks))


@command
def make_more_attempts(*, actor: Actor, run: Run, plan: Plan, sticks: Sequence[Stick]) -> None:
    """Releases a piece for each of these sticks, which waited while others of their plan were made.

    Raises IllegalMove for a stick that is released already.
    """
    device = Device.objects.get(kind=DeviceKind.OFFICE)
    ledger = Ledger(Actor(actor.person_id, actor.company_id, actor.role, device.pk))
    ledger.load([stick.line_id for stick in sticks])
    ledger.expect([])
    for stick in sticks:
        stick.plan = plan
        ledger.keep_stick(stick)
        latest = ledger.latest_of(stick.line_id)
        if latest is not None and ledger.life(latest).state != State.WAITING:
            raise IllegalMove(_("%(piece)s is released already.") % {"piece": stick.line.label})
        ledger.put(ledger.row(latest or ledger.new_piece(stick, 1), Kind.RELEASED, plan_id=plan.pk))
    ledger.close()
    record(actor, "pieces released", run, plan=str(plan.pk), pieces=len(sticks))
