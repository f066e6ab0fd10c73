"""What screens say of work: what comes next on a run or a piece, stages, days and what goes first."""

from collections.abc import Mapping, Sequence
from typing import Final

from django.utils.translation import gettext as _

from bendcore.words import Dialect
from services.core import words
from services.pages.overview import Outcome, Sort
from services.projects.models import Priority
from services.tracking import rules as tracking_rules
from services.tracking.models import Piece, State

NEXT_ACT: Final[Mapping[str, str]] = {
    "released": "cut", "cut": "bend", "bent": "check", "rework": "rework", "rejected": "decide",
    "checked": "install",
}  # fmt: skip


def next_piece(pieces: Sequence[Piece]) -> Piece | None:
    """The piece to work on next: the first that is not checked yet, else the first to fix in place."""
    at_bench = (piece for piece in pieces if piece.state in NEXT_ACT and piece.state != State.CHECKED)
    return next(at_bench, None) or next((piece for piece in pieces if piece.state == State.CHECKED), None)


def next_of_run(pieces: Sequence[Piece], dialect: Dialect, *, is_complete: bool = True) -> str:
    """What comes next on a run. is_complete: whether nothing waits beside these pieces."""
    piece = next_piece(pieces)
    if piece is not None:
        return next_said(piece, dialect)
    return _("complete") if is_complete else _("the rest is still to release")


def next_said(piece: Piece, dialect: Dialect) -> str:
    """What comes next on a piece: "07/2 to bend"."""
    acts = {
        "cut": _("%(label)s to cut"),
        "bend": _("%(label)s to bend"),
        "check": _("%(label)s to check"),
        "rework": _("%(label)s back to the bender"),
        "decide": _("%(label)s rejected: rework or scrap"),
        "install": _("%(label)s to %(install)s"),
    }
    act = NEXT_ACT.get(piece.state)
    if act == "bend" and not piece.stick.data["bends"]:
        act = "check"
    return acts[act] % {"label": piece.line.label, "install": words.word("install", dialect)} if act else ""


def outcome(found: Outcome | None) -> str:
    """What a draft waits for, in few words."""
    if found is None:
        return _("not looked at yet")
    return {
        Outcome.READY: _("ready to release"),
        Outcome.STOPPED: _("stopped"),
        Outcome.TO_MEASURE: _("to measure"),
        Outcome.UNTYPED: _("its route is still to type"),
        Outcome.AS_RELEASED: _("released"),
        Outcome.SUPERSEDED: _("superseded"),
    }[found]


def sorts() -> list[tuple[str, str]]:
    """The chart's orders, each with what it is called."""
    names = {Sort.PLACE: _("room and run"), Sort.DUE: _("day due"), Sort.PRIORITY: _("what goes first")}
    return [(each.value, names[each]) for each in Sort]


def priority(value: int) -> str:
    """What of runs goes first, in a word."""
    return {
        Priority.FIRST.value: _("first"),
        Priority.ORDINARY.value: _("ordinary"),
        Priority.LATER.value: _("later"),
    }[value]


def stages(dialect: Dialect) -> list[tuple[str, str]]:
    """The stages that a crew may be given, each with what it is called."""
    install = words.word("install", dialect)
    return [
        (tracking_rules.BENCH, _("to cut, bend and check")),
        (tracking_rules.FITTING, _("to %(install)s") % {"install": install}),
        ("both", _("from cutting to the wall")),
    ]
