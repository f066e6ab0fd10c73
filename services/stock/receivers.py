"""What stock follows."""

from collections.abc import Mapping
from typing import Any

from django.dispatch import receiver
from django.utils.translation import gettext as _

from services.stock import commands, queries, rules
from services.stock.models import MovementKind, Offcut
from services.tracking.models import Kind, Piece, Tick
from services.tracking.rules import FULL_LENGTH, Reason
from services.tracking.signals import Batch, tick_judged, ticks_applied


@receiver(ticks_applied, dispatch_uid="stock")
def _ticks_applied(sender: object, **told: Any) -> None:
    commands.post_cuts(actor=told["actor"], changes=told["changes"])


@receiver(tick_judged, dispatch_uid="stock")
def _tick_judged(sender: object, **told: Any) -> Reason | None:
    """Holds a cut from an offcut that is not there or does not do, and a cut or a scrap taken back of which
    the offcut was used."""
    tick: Tick = told["tick"]
    piece: Piece = told["piece"]
    batch: Batch = told["batch"]
    if any(each.kind == Kind.SCRAPPED for each in told["undone"]):
        reason = _why_not_unscrapped(piece, batch)
        if reason is not None:
            return reason
    if any(each.kind == Kind.CUT for each in told["undone"]):
        begun = tick.kind == Kind.CUT and rules.source_of(tick)
        if begun != next(rules.source_of(each) for each in told["undone"] if each.kind == Kind.CUT):
            reason = _why_not_undone(piece, batch)
            if reason is not None:
                return reason
    if tick.kind == Kind.CUT and rules.source_of(tick) != FULL_LENGTH:
        return _why_not_cut_from(rules.source_of(tick), piece, batch)
    return None


def _on_hand(offcut: Offcut, batch: Batch, *, is_saved: bool) -> bool:
    """Whether the offcut is on hand after what was applied so far in this batch. is_saved: of a scrap."""
    there = offcut.is_on_hand
    for change in batch.applied:
        ended, begun = rules.cuts_of(change)
        if ended and any(
            each.kind == Kind.CUT and rules.source_of(each) == offcut.label for each in change.undone
        ):
            there = True
        gone = rules.scraps_of(change)[0] if is_saved else ended
        if gone and offcut.rest_of_id == change.piece.pk:
            there = False
        if begun is not None and rules.source_of(begun) == offcut.label:
            there = False
    return there


def _why_not_undone(piece: Piece, batch: Batch) -> Reason | None:
    if any(
        change.piece.pk == piece.pk and rules.cuts_of(change) != (False, None) for change in batch.applied
    ):
        return None  # cut in this very batch: nobody has seen its rest yet
    if "rests" not in batch.kept:
        rows = queries.live_movements([each.pk for each in batch.pieces]).filter(kind=MovementKind.KEPT)
        batch.kept["rests"] = {each.piece_id: each.offcut for each in rows if not rules.is_of_scrap(each)}
    rest: Offcut | None = batch.kept["rests"].get(piece.pk)
    if rest is not None and not _on_hand(rest, batch, is_saved=False):
        return Reason(
            "offcut-used",
            _("The rest of this cut, %(label)s, was used already; what was cut from it is taken back first.")
            % {"label": rest.label},
        )
    return None


def _why_not_unscrapped(piece: Piece, batch: Batch) -> Reason | None:
    if any(
        change.piece.pk == piece.pk and rules.scraps_of(change) != (False, None) for change in batch.applied
    ):
        return None  # scrapped in this very batch: nobody has seen what was saved yet
    if "saved" not in batch.kept:
        batch.kept["saved"] = queries.saved_offcuts([each.pk for each in batch.pieces])
    saved: Offcut | None = batch.kept["saved"].get(piece.pk)
    if saved is not None and not _on_hand(saved, batch, is_saved=True):
        return Reason(
            "offcut-used",
            _("What this scrap saved, %(label)s, was used already; what was cut from it is taken back first.")
            % {"label": saved.label},
        )
    return None


def _why_not_cut_from(label: str, piece: Piece, batch: Batch) -> Reason | None:
    if "named" not in batch.kept:
        labels = {str(figures["offcut"]) for figures in batch.figures if figures.get("offcut")}
        found = list(Offcut.objects.filter(label__in=labels))
        batch.kept["named"] = {each.label: each for each in found}
        batch.kept["named_saved"] = queries.ids_of_saved(found)
    named: Mapping[str, Offcut] = batch.kept["named"]
    offcut = named.get(label)
    # A piece's own rest is there because of the very cut that this one would take the place of.
    if (
        offcut is None
        or offcut.rest_of_id == piece.pk
        or not _on_hand(offcut, batch, is_saved=offcut.pk in batch.kept["named_saved"])
    ):
        return Reason("offcut-not-there", _("There is no offcut %(label)s on hand.") % {"label": label})
    if offcut.conduit != piece.conduit:
        return Reason(
            "offcut-of-other-conduit",
            _("The offcut %(label)s is %(own)s; the piece is of %(wanted)s.")
            % {"label": label, "own": offcut.conduit, "wanted": piece.conduit},
        )
    if offcut.length_mm + rules.CUT_TICK_NEEDS_MM < piece.stick.cut_length_mm:
        return Reason(
            "offcut-too-short",
            _("The offcut %(label)s is %(own).0f mm; the piece needs %(wanted).0f mm.")
            % {"label": label, "own": offcut.length_mm, "wanted": piece.stick.cut_length_mm},
        )
    return None
