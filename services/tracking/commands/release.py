"""First attempts: what the release of a run makes."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from services.company.models import Device, DeviceKind
from services.core.commands import Actor, command, record
from services.core.errors import IllegalMove
from services.planning.models import Plan, Stick, StickLine
from services.projects.models import Run
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
    ledger.close()
    record(actor, "pieces released", run, plan=str(plan.pk), pieces=len(sticks))
