"""What may be printed of what, how it lies on its pages, what is cut from what, and what a run is made of."""

import math
import uuid
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, TypeVar

from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.units import MM_PER_INCH, Deg
from bendcore.words import Dialect
from services.core import words
from services.core.checks import Checks
from services.papers.models import Of, What
from services.stock.rules import drawn_mm

T = TypeVar("T")

MAY_BE_OF: Final[Mapping[str, tuple[str, ...]]] = {
    What.BEND_CARDS: (Of.STICK, Of.RUN, Of.ROOM, Of.PROJECT, Of.CREW),
    What.CUT_LIST: (Of.STICK, Of.RUN, Of.ROOM, Of.PROJECT, Of.CREW),
    What.KIT_LIST: (Of.RUN, Of.ROOM, Of.PROJECT),
    What.TAKE_OFF: (Of.RUN, Of.ROOM, Of.PROJECT),
    What.CREW_SHEET: (Of.CREW,),
    What.LABELS: (Of.STICK, Of.RUN, Of.ROOM, Of.PROJECT, Of.CREW),
}

PAPERS: Final = ("A4", "Letter")

AT_ONCE: Final[Mapping[str, int]] = {What.BEND_CARDS: 5, What.LABELS: 40}
"""Of so many sticks a paper is drawn while somebody waits; of more in the background."""
AT_ONCE_LISTED: Final = 60
"""The same for lists, which have no drawings."""

MOST_STICKS: Final = 3000
"""In one pack."""

PAGES_A_PART: Final = 4
"""Pages of bend cards that are drawn in one go: some seconds, so that little is lost by a restart and other
work comes between."""
LABELS_A_PART: Final = 48

KEPT_DAYS: Final = 30
"""A pack is thrown away after so many days."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A paper as it is asked for. labels, start: the sheet of labels and where on it to begin, from 1.
    day: of a crew's sheet.  only_open: leaves out what is bent already."""

    what: str
    of: str
    of_id: uuid.UUID
    paper: str
    labels: str = ""
    start: int = 1
    day: date | None = None
    only_open: bool = False

    def parameters(self) -> dict[str, Any]:
        """What is kept of it beside what it is of."""
        return {
            "paper": self.paper,
            "labels": self.labels,
            "start": self.start,
            "day": self.day.isoformat() if self.day else None,
            "only_open": self.only_open,
        }

    @classmethod
    def kept(cls, what: str, of: str, of_id: uuid.UUID, parameters: Mapping[str, Any]) -> "Asked":
        """The same from what was kept."""
        day = parameters.get("day")
        return cls(
            what=what,
            of=of,
            of_id=of_id,
            paper=parameters["paper"],
            labels=parameters["labels"],
            start=parameters["start"],
            day=date.fromisoformat(day) if day else None,
            only_open=parameters["only_open"],
        )


def checked(
    *,
    what: object,
    of: object,
    of_id: uuid.UUID,
    paper: object,
    labels: object = None,
    start: object = None,
    day: object = None,
    only_open: object = None,
    tomorrow: date,
) -> Asked:
    """What was asked for, judged. Raises Invalid with every problem at its place.

    paper: of labels their sheet's, whatever is said.  labels, start, day, only_open: None where nothing was
    said.  tomorrow: the day of a crew's sheet then.
    """
    checks = Checks()
    kind = checks.choice("what", what, What.values)
    whose = checks.choice("of", of, Of.values)
    if kind and whose and whose not in MAY_BE_OF[kind]:
        checks.refuse(
            "of",
            _("this paper is made for a %(all)s, not for a %(of)s")
            % {"of": whose, "all": _(" or ").join(_(each) for each in MAY_BE_OF[kind])},
        )
    sheet = checks.choice("labels", labels, SHEETS) if kind == What.LABELS else ""
    size = (
        SHEETS[sheet].paper if sheet else "" if kind == What.LABELS else checks.choice("paper", paper, PAPERS)
    )
    first = _start(checks, 1 if start is None else start, SHEETS[sheet].count) if sheet else 1
    when = _day(checks, day, tomorrow) if kind == What.CREW_SHEET else None
    if only_open not in (None, True, False):
        checks.refuse("only_open", _("is neither true nor false"), "wrong-type")
    checks.done()
    return Asked(
        what=kind, of=whose, of_id=of_id, paper=size, labels=sheet, start=first, day=when,
        only_open=bool(only_open) and kind in (What.BEND_CARDS, What.LABELS),
    )  # fmt: skip


def _start(checks: Checks, start: object, most: int) -> int:
    if isinstance(start, float) and not start.is_integer():
        checks.refuse("start", _("is no whole number"), "wrong-type")
        return 1
    return int(checks.number("start", start, at_least=1, at_most=most))


def _day(checks: Checks, day: object, tomorrow: date) -> date | None:
    if day is None or day == "":
        return tomorrow
    if isinstance(day, date):
        return day
    try:
        return date.fromisoformat(str(day)[:40])
    except ValueError:
        checks.refuse("day", _("is no day; such as 2026-11-25 is wanted"))
        return None


def at_once(what: str) -> int:
    """Of how many sticks a paper is drawn while somebody waits."""
    return AT_ONCE.get(what, AT_ONCE_LISTED)


# --------------------------------------------------------------------------------------------- bend cards

HALF_MM: Final[Mapping[str, float]] = {"A4": 128.0, "Letter": 119.0}
"""Height of half a page between its margin and its foot."""

_BESIDE_MM: Final = 70.0
"""Height of a card's head, strip and notes; of its finished stick; of the table's head and its caution; of a
bend, a line and an override. Measured on cards as printed; tests/services/test_papers_cards.py holds them."""
_FINISHED_MM: Final = 45.5
_TABLE_MM: Final = 12.5
_BEND_MM: Final = 11.2
_TURN_MM: Final = 4.6
_OVERRIDE_MM: Final = 7.0


def card_mm(bends: Sequence[Mapping[str, Any]], overrides: int) -> float:
    """How high a card is, mm, without its foot."""
    turns = sum(bool(bend.get("turned")) for bend in bends)
    table = _TABLE_MM + len(bends) * _BEND_MM + turns * _TURN_MM
    return _BESIDE_MM + max(_FINISHED_MM, table) + overrides * _OVERRIDE_MM


def needs_whole_page(bends: Sequence[Mapping[str, Any]], overrides: int, paper: str) -> bool:
    """Whether a card has more on it than fits half a page. One that is higher all the same is not cut off: it
    runs on."""
    return card_mm(bends, overrides) > HALF_MM[paper]


def card_pages(cards: Sequence[tuple[T, bool]]) -> list[list[T]]:
    """Cards in their order on pages: two halves to a page, one that needs it alone on its own."""
    pages: list[list[T]] = []
    is_open = False
    for card, is_whole in cards:
        if is_open and not is_whole:
            pages[-1].append(card)
            is_open = False
        else:
            pages.append([card])
            is_open = not is_whole
    return pages


def in_parts(pages: Sequence[T], most: int) -> list[list[T]]:
    """Pages in parts of so many at most."""
    return [list(pages[at : at + most]) for at in range(0, len(pages), most)]


def posture_said(bend: Mapping[str, Any], count: int) -> str:
    """How the stick lies before a pull, in words; empty while no other bend is made, or where none is told.

    bend: as the contract writes it.  count: bends of the stick.  The sides are those seen from the held end,
    with the bend swinging up (docs/engine.md, `posture`: the angle is about the axis from hold side to swing
    side by the right-hand rule, so that plus is to the right).
    """
    posture = bend.get("posture")
    if not posture:
        return ""
    leg = _leg(posture["bend"], bend["number"], count)
    angle = float(posture["angle"])
    lies = posture.get("lies")
    side = _("to the right") if angle > 0 else _("to the left")
    if lies == "up" or (lies is None and abs(angle) < 1.0):
        return _("%(leg)s straight up") % {"leg": leg}
    if lies == "down" or (lies is None and abs(angle) > 179.0):
        return _("%(leg)s straight down") % {"leg": leg}
    if lies == "flat" or (lies is None and 89.0 < abs(angle) < 91.0):
        return _("%(leg)s level, %(side)s") % {"leg": leg, "side": side}
    off = tape.degrees(Deg(abs(angle)))
    return _("%(leg)s %(off)s %(side)s of straight up") % {"leg": leg, "off": off, "side": side}


def _leg(made: int, making: int, count: int) -> str:
    """The leg beyond a made bend, seen from the one being made."""
    if made == 1 and made < making:
        return _("first leg")
    if made == count and made > making:
        return _("last leg")
    return _("leg beyond bend %(number)d") % {"number": made}


def held_said(bend: Mapping[str, Any], dialect: Dialect) -> str:
    """The end that is held, in words; empty where there is no order that clears the bender."""
    held = bend.get("held")
    if held is None:
        return ""
    return _("hold the %(end)s") % {"end": words.word("datum_end" if held == "start" else "far_end", dialect)}


_THREADS: Final[Mapping[str, str]] = {"factory": "factory thread", "cut": "thread cut", "long": "long thread"}


def thread_said(end: Mapping[str, Any]) -> str:
    """The thread at an end in words; empty where none is told."""
    thread = end.get("thread")
    return _(_THREADS[thread]) if isinstance(thread, str) and thread in _THREADS else ""


# ----------------------------------------------------------------------------------------------- cut list


@dataclass(frozen=True, slots=True)
class ToCut:
    """A piece to cut. length: mm.  threads: of its ends, "factory", "cut" or "long", None without."""

    name: str
    length_mm: float
    threads: tuple[str | None, str | None] = (None, None)


@dataclass(frozen=True, slots=True)
class CutFrom:
    """A piece with what cutting it takes. threads: to cut on it.  is_whole: no cut is made."""

    piece: ToCut
    threads: int
    is_whole: bool


@dataclass(frozen=True, slots=True)
class Blank:
    """A length to cut from: an offcut by its label, or a full length (label empty). rest: mm, after kerf.
    is_kept: whether the rest is long enough to keep."""

    label: str
    length_mm: float
    pieces: tuple[CutFrom, ...]
    rest_mm: float
    is_kept: bool


SAME_LENGTH_MM: Final = 0.5
"""A piece that falls short of its blank by no more takes it whole: half of the finest division of a tape."""


def cut_from(
    pieces: Iterable[ToCut],
    offcuts: Iterable[tuple[str, float]],
    *,
    full_mm: float,
    kerf_mm: float,
    least_mm: float,
) -> list[Blank]:
    """What to cut from what: the longest piece first, each from the shortest length it fits that is an offcut
    or begun, else from a new full length. Best fit decreasing, a rule of thumb: not always the fewest.

    offcuts: label and length, mm.  full_mm: of a full length.  A piece longer than that gets a blank of its
    own length.  least_mm: a rest from this on is kept.
    """
    opened = [_Open(label, length, factory=0) for label, length in offcuts]
    for piece in sorted(pieces, key=lambda each: (-each.length_mm, each.name)):
        fitting = [each for each in opened if each.left >= piece.length_mm - SAME_LENGTH_MM]
        if fitting:
            blank = min(fitting, key=lambda each: (each.left, each.label))
        else:
            blank = _Open("", max(full_mm, piece.length_mm), factory=2)
            opened.append(blank)
        blank.cut(piece, kerf_mm)
    return [
        Blank(
            each.label, each.length, tuple(each.pieces), each.left, each.left > 0.0 and each.left >= least_mm
        )
        for each in opened
        if each.pieces
    ]


class _Open:
    """A length while it is being shared out. factory: threaded ends it has left; an offcut may have lost
    its own, so none is counted on."""

    def __init__(self, label: str, length: float, *, factory: int) -> None:
        self.label, self.length, self.left, self.factory = label, length, length, factory
        self.pieces: list[CutFrom] = []

    def cut(self, piece: ToCut, kerf: float) -> None:
        is_whole = not self.pieces and abs(self.left - piece.length_mm) <= SAME_LENGTH_MM
        wanted = [each for each in piece.threads if each is not None]
        plain = sum(each != "long" for each in wanted)
        given = min(self.factory if is_whole else min(self.factory, 1), plain)
        self.factory -= given
        self.left = (
            0.0
            if is_whole
            else self.left - drawn_mm(min(piece.length_mm, self.left), kerf_mm=kerf, source_mm=self.left)
        )
        self.pieces.append(CutFrom(piece, len(wanted) - given, is_whole))


# ------------------------------------------------------------------------------------- what a run is made of

_NO_PART: Final = frozenset({"joint", "open"})


@dataclass(frozen=True, slots=True)
class Kit:
    """What a run is made of. parts: by the word of the code for each.  bends: by angle, degrees to a tenth.
    clips: None where no rule pack placed any."""

    metres_mm: float
    sticks: int
    parts: Counter[str]
    bends: Counter[float]
    threads: int
    clips: int | None


def kit_of(result: Mapping[str, Any]) -> Kit:
    """A plan's kit, from its result as the contract writes it.

    A joint's part is told once, at the stick before it; so is a fitting in the route.
    """
    sticks = result["sticks"]
    kinds = [sticks[0]["start"]["kind"], *(stick["finish"]["kind"] for stick in sticks)] if sticks else []
    supports = result.get("supports")
    return Kit(
        metres_mm=math.fsum(stick["cut_length"] for stick in sticks),
        sticks=len(sticks),
        parts=Counter(kind for kind in kinds if kind not in _NO_PART),
        bends=Counter(round(bend["angle"], 1) for stick in sticks for bend in stick["bends"]),
        threads=sum((stick.get("blank") or {}).get("threads", 0) for stick in sticks),
        clips=None if supports is None else len(supports),
    )


def added(kits: Sequence[Kit]) -> Kit:
    """Kits together; clips are those of the runs that have any."""
    parts: Counter[str] = Counter()
    bends: Counter[float] = Counter()
    for each in kits:
        parts += each.parts
        bends += each.bends
    clips = [each.clips for each in kits if each.clips is not None]
    return Kit(
        math.fsum(each.metres_mm for each in kits), sum(each.sticks for each in kits), parts, bends,
        sum(each.threads for each in kits), sum(clips) if clips else None,
    )  # fmt: skip


PARTS_IN_ORDER: Final = (
    "coupler",
    "running_coupler",
    "union",
    "spout",
    "coupler_and_male_bush",
    "locknuts_and_female_bush",
    "connector",
    "flexible",
    "draw_in_box",
    "inspection_bend",
    "tee",
    "bought_bend",
)


def parts_in_order(parts: Mapping[str, int]) -> list[tuple[str, int]]:
    """Parts as a list names them: what joins, what ends, what stands in the route."""
    known = {name: place for place, name in enumerate(PARTS_IN_ORDER)}
    return sorted(parts.items(), key=lambda each: (known.get(each[0], len(known)), each[0]))


# ------------------------------------------------------------------------------------------------- labels


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of labels: rows × columns of one size, mm. left, top: of the first label.  step: from label to
    label, mm.  Named by its dimensions and count alone."""

    id: str
    paper: str
    rows: int
    columns: int
    width: float
    height: float
    left: float
    top: float
    step_x: float
    step_y: float

    @property
    def count(self) -> int:
        """Labels on a sheet."""
        return self.rows * self.columns

    @property
    def said(self) -> str:
        """As a person chooses it: "70 × 37 mm, 24 a sheet"."""
        if self.paper == "Letter":
            size = f"{_inches(self.width)} × {_inches(self.height)} in"
        else:
            size = f"{self.width:g} × {self.height:g} mm"
        return _("%(size)s, %(count)d a sheet") % {"size": size, "count": self.count}


def _inches(millimetres: float) -> str:
    whole, part = divmod(round(millimetres / MM_PER_INCH * 16), 16)
    if not part:
        return str(whole)
    common = math.gcd(part, 16)
    fraction = f"{part // common}/{16 // common}"
    return f"{whole} {fraction}" if whole else fraction


def _a4(name: str, rows: int, columns: int, width: float, height: float) -> Sheet:
    """A grid in the middle of A4 (ISO 216: 210 × 297 mm), its labels side by side."""
    left, top = (210.0 - columns * width) / 2.0, (297.0 - rows * height) / 2.0
    return Sheet(name, "A4", rows, columns, width, height, left, top, width, height)


def _letter(name: str, grid: tuple[int, int], width: float, height: float, gap: float) -> Sheet:
    """A grid in the middle of US letter (8.5 × 11 in), in inches, with a gap between columns."""
    rows, columns = grid
    left = (8.5 - columns * width - (columns - 1) * gap) / 2.0
    top = (11.0 - rows * height) / 2.0
    size = [each * MM_PER_INCH for each in (width, height, left, top, width + gap, height)]
    return Sheet(name, "Letter", rows, columns, *size)


SHEETS: Final[Mapping[str, Sheet]] = {
    each.id: each
    for each in (
        _a4("a4-70x37", 8, 3, 70.0, 37.0),
        _a4("a4-105x74", 4, 2, 105.0, 74.0),
        _a4("a4-52x29", 10, 4, 52.5, 29.7),
        _a4("a4-105x48", 6, 2, 105.0, 48.0),
        _letter("letter-4x2", (5, 2), 4.0, 2.0, 0.1875),
        _letter("letter-2x1", (10, 3), 2.625, 1.0, 0.125),
        _letter("letter-4x3", (3, 2), 4.0, 3.3125, 0.1875),
    )
}
"""Sizes as sheets are commonly cut (common practice): check one sheet against the light before a pack."""


def label_sheets(labels: Sequence[T], sheet: Sheet, start: int) -> list[list[T | None]]:
    """Labels on sheets, the first beginning at that place (from 1); None: left free."""
    places: list[T | None] = [*([None] * (start - 1)), *labels]
    return in_parts(places, sheet.count)


# ------------------------------------------------------------------------------------------ a crew's sheet

NEXT: Final[Mapping[str, str]] = {
    "released": "cut and bend",
    "cut": "bend",
    "rework": "bend again",
    "bent": "check",
    "rejected": "rework or scrap",
}
NEXT_OF_STRAIGHT: Final[Mapping[str, str]] = {"released": "cut", "cut": "check", "rework": "check"}
"""What is next on a piece with bends, and on one without."""


def urgency(due_on: date | None, priority: int) -> tuple[date, int]:
    """What goes first: what is due sooner, then what has priority."""
    return due_on or date.max, priority
