"""Orders packs of papers, draws them part by part, and throws the old ones away."""

import logging
import uuid
from collections.abc import Callable
from typing import Final, TypeVar

from django.db import Error as DatabaseError
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company.queries import company_settings
from services.company.rights import Right, require
from services.core.commands import Actor, after_commit, command, record
from services.core.errors import DomainError, IllegalMove
from services.core.models import OutboxEntry
from services.core.scoping import current_company_id
from services.papers import queries
from services.papers.models import Pack, PackState, Part
from services.papers.queries import Contents
from services.papers.rules import Asked
from services.planning import queries as planning

T = TypeVar("T")

log = logging.getLogger("stickbook.papers")

DRAW: Final = "papers.draw_part"

UNDER_WAY: Final = (PackState.WAITING, PackState.DRAWING)


@command
def order_pack(*, actor: Actor, asked: Asked) -> Pack:
    """Has a paper drawn in the background and kept. One that is the same and under way or made is given
    instead of another.

    Raises NotAllowed, NotFound; Invalid with nothing to print, or too much.
    """
    require(actor, Right.SEE_WORK)
    contents = queries.contents_of(asked)
    pack, is_new = _ordered(asked, contents, person_id=actor.person_id)
    record(actor, "papers ordered", pack, what=pack.what, of=pack.title, sticks=pack.sticks)
    if is_new:
        after_commit("papers.draw_part", pack_id=str(pack.pk), number=0)
        after_commit("papers.throw_away")
    return pack


@command
def cancel_pack(*, actor: Actor, pack_id: uuid.UUID) -> Pack:
    """Stops a pack that is under way; what is drawn of it is thrown away.

    Raises NotAllowed unless the person asked for it or may release; NotFound; IllegalMove if it is at rest.
    """
    pack = _own(actor, pack_id)
    changed = Pack.objects.filter(pk=pack_id, state__in=UNDER_WAY).update(state=PackState.CANCELLED, done=0)
    if not changed:
        raise IllegalMove(_("This pack is %(state)s: there is nothing to stop.") % {"state": _(pack.state)})
    Part.objects.filter(pack_id=pack_id).delete()
    record(actor, "papers cancelled", pack)
    return queries.pack(pack_id)


@command
def draw_again(*, actor: Actor, pack_id: uuid.UUID) -> Pack:
    """Takes a pack up again that failed or was cancelled. Parts that are drawn stay, unless what is to be
    drawn is another by now.

    Raises as `cancel_pack` does, and as `order_pack` does; IllegalMove if it is under way or made.
    """
    pack = _own(actor, pack_id)
    if pack.state not in (PackState.FAILED, PackState.CANCELLED):
        raise IllegalMove(
            _("This pack is %(state)s: there is nothing to try again.") % {"state": _(pack.state)}
        )
    asked = Asked.kept(pack.what, pack.of, pack.of_id, pack.parameters)
    contents = queries.contents_of(asked)
    company = company_settings(current_company_id())
    key = queries.key_of(asked, contents.parts, contents.plans, company)
    same = Pack.objects.filter(key=key, state__in=(*UNDER_WAY, PackState.MADE)).first()
    if same is not None:
        record(actor, "papers ordered", same, what=same.what, of=same.title, sticks=same.sticks)
        return _taken_on(same, actor.person_id)
    if (pack.contents, pack.plans, pack.look) != (contents.parts, contents.plans, queries.look_of(company)):
        Part.objects.filter(pack_id=pack_id).delete()
    drawn = queries.parts_drawn(pack_id)
    pack.title, pack.contents, pack.plans = contents.title[:200], contents.parts, contents.plans
    pack.sticks, pack.key, pack.look = contents.sticks, key, queries.look_of(company)
    pack.state, pack.error, pack.asked_at = PackState.WAITING, "", timezone.now()
    pack.done = sum(_sticks_in(pack.contents[number]) for number in drawn)
    pack.save()
    record(actor, "papers tried again", pack)
    after_commit("papers.draw_part", pack_id=str(pack.pk), number=len(drawn))
    return pack


def _own(actor: Actor, pack_id: uuid.UUID) -> Pack:
    require(actor, Right.SEE_WORK)
    pack = queries.pack(pack_id)
    if pack.by_id != actor.person_id:
        require(actor, Right.RELEASE)
    return pack


def _ordered(asked: Asked, contents: Contents, *, person_id: uuid.UUID | None) -> tuple[Pack, bool]:
    company = company_settings(current_company_id())
    key = queries.key_of(asked, contents.parts, contents.plans, company)
    standing = Pack.objects.defer("pdf").filter(key=key, state__in=(*UNDER_WAY, PackState.MADE))
    found: Pack | None = standing.first()
    if found is None:
        try:
            with transaction.atomic():
                return Pack.objects.create(
                    what=asked.what, of=asked.of, of_id=asked.of_id, title=contents.title[:200],
                    parameters=asked.parameters(), contents=contents.parts, plans=contents.plans,
                    look=queries.look_of(company), key=key, sticks=contents.sticks, by_id=person_id,
                ), True  # fmt: skip
        except IntegrityError:  # somebody else asked for the same in this very moment
            found = standing.first()
            if found is None:
                raise
    return _taken_on(found, person_id), False


def _taken_on(pack: Pack, person_id: uuid.UUID | None) -> Pack:
    """A pack that the service made by itself is the first's who asks for it."""
    if pack.by_id is None and person_id is not None:
        Pack.objects.filter(pk=pack.pk, by__isnull=True).update(by_id=person_id)
        pack.by_id = person_id
    return pack


# ------------------------------------------------------------------------------------------ in the background
# None of these is an act of a person: a pack says nothing that plans and pieces do not. So they record none,
# and each may run twice.


def keep_cards(*, plan_id: uuid.UUID) -> None:
    """Has the bend cards of a plan drawn that was just released, so that the next who asks waits for
    nothing."""
    plan = planning.plan(plan_id)
    if not plan.is_current:
        return
    company = company_settings(current_company_id())
    asked = queries.cards_of_run(plan.run_id, company)
    with transaction.atomic():
        pack, is_new = _ordered(asked, queries.contents_of(asked), person_id=None)
        if is_new:
            _queue(pack.pk, 0)


def draw_part(*, pack_id: uuid.UUID, number: int) -> None:
    """Draws a part of a pack, unless it is there, and has the next one drawn after it; puts them together
    after the last. So other work comes between, and a restart begins with the part that was in hand.

    What goes wrong is kept with the pack, for a person to read and to try again; a database that is away is
    raised, for the outbox to try again.
    """
    pack = Pack.objects.filter(pk=pack_id, state__in=UNDER_WAY).defer("pdf").first()
    if pack is None or number >= len(pack.contents):
        return  # cancelled, thrown away or made meanwhile
    Pack.objects.filter(pk=pack_id, state=PackState.WAITING).update(state=PackState.DRAWING)
    if not Part.objects.filter(pack_id=pack_id, number=number).exists():
        asked = Asked.kept(pack.what, pack.of, pack.of_id, pack.parameters)
        company = company_settings(current_company_id())
        pdf = _or_told(
            pack,
            lambda: queries.part_pdf(asked, pack.contents[number], number=number, company=company),
        )
        if pdf is None:
            return
        _keep_part(pack, number, pdf)
    if number == len(pack.contents) - 1:
        _put_together(pack)


def _keep_part(pack: Pack, number: int, pdf: bytes) -> None:
    sticks = _sticks_in(pack.contents[number]) or pack.sticks
    with transaction.atomic():
        # the pack's row first: a cancel at the same moment waits, or has come before
        if not Pack.objects.filter(pk=pack.pk, state__in=UNDER_WAY).update(done=F("done")):
            return
        _part, is_new = Part.objects.get_or_create(
            pack_id=pack.pk, number=number, defaults={"pdf": pdf, "sticks": sticks}
        )
        if not is_new:
            return
        Pack.objects.filter(pk=pack.pk).update(done=F("done") + sticks)
        if number + 1 < len(pack.contents):
            _queue(pack.pk, number + 1)


def _queue(pack_id: uuid.UUID, number: int) -> None:
    """Queues a part where no command runs."""
    OutboxEntry.objects.create(
        company_id=current_company_id(), task=DRAW, payload={"pack_id": str(pack_id), "number": number}
    )


def _put_together(pack: Pack) -> None:
    parts = [bytes(each.pdf) for each in Part.objects.filter(pack_id=pack.pk).order_by("number")]
    if len(parts) != len(pack.contents):
        return
    stand = queries.current_plans(pack.plans)
    if pack.of != "stick" and not stand.issuperset(pack.plans):
        _fail(
            pack,
            _(
                "A run of this pack was released anew while it was drawn. Try again: then the present "
                "plans are taken."
            ),
        )
        return
    made = _or_told(pack, lambda: queries.put_together(parts))
    if made is None:
        return
    pdf, pages = made
    with transaction.atomic():
        changed = Pack.objects.filter(pk=pack.pk, state__in=UNDER_WAY).update(
            state=PackState.MADE, pdf=pdf, pages=pages, done=F("sticks"), made_at=timezone.now()
        )
        if changed:
            Part.objects.filter(pack_id=pack.pk).delete()


def _or_told(pack: Pack, draw: Callable[[], T]) -> T | None:
    try:
        return draw()
    except DatabaseError:
        raise
    except DomainError as error:
        _fail(pack, error.text)
    except Exception:  # whatever it is, a person waits for this pack and must be told that it does not come
        log.exception("pack %s could not be drawn", pack.pk)
        _fail(pack, _("It could not be drawn: the failure is ours, and was logged. Try again later."))
    return None


def _fail(pack: Pack, text: str) -> None:
    Pack.objects.filter(pk=pack.pk, state__in=UNDER_WAY).update(state=PackState.FAILED, error=text[:500])


def _sticks_in(part: list[list[str]]) -> int:
    return sum(len(page) for page in part)


def throw_away() -> int:
    """Throws away packs that are too old or were drawn from superseded plans; returns how many."""
    old = list(queries.old_packs())
    Pack.objects.filter(pk__in=old).delete()
    return len(old)
