"""The life of a piece: which tick is legal from which state, and what a row of ticks makes of it."""

import hashlib
import json
import math
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from bendcore.words import Dialect
from services.company.models import Role
from services.core import words
from services.core.checks import Checks
from services.core.errors import FieldProblem
from services.tracking.models import Answer, Kind, State

# The table --------------------------------------------------------------------------------------------------

VERDICTS: Final = ("pass", "correct", "open", "shorten", "reject")

_R = State


def _same(*states: str) -> dict[str, str]:
    return {state: state for state in states}


_LIVE = (_R.RELEASED, _R.CUT, _R.BENT, _R.CHECKED, _R.REWORK, _R.REJECTED, _R.INSTALLED)
_BY_ACT: Final[Mapping[str, Mapping[str, str]]] = {
    "released": {_R.WAITING: _R.RELEASED, _R.RELEASED: _R.RELEASED},
    "assigned": _same(*_LIVE),
    "carried": _same(*_LIVE),
    "cut": {_R.RELEASED: _R.CUT, _R.BENT: _R.BENT},
    "threaded": {_R.RELEASED: _R.CUT, **_same(_R.CUT, _R.BENT, _R.CHECKED, _R.REWORK)},
    "pulled": {_R.RELEASED: _R.CUT, **_same(_R.CUT, _R.BENT, _R.CHECKED, _R.REWORK)},
    "bent": {_R.RELEASED: _R.BENT, _R.CUT: _R.BENT},
    "checked pass": {
        _R.RELEASED: _R.CHECKED,
        _R.CUT: _R.CHECKED,
        _R.BENT: _R.CHECKED,
        _R.CHECKED: _R.CHECKED,
    },
    "checked correct": {_R.RELEASED: _R.BENT, _R.CUT: _R.BENT, **_same(_R.BENT, _R.CHECKED)},
    "checked open": {_R.RELEASED: _R.BENT, _R.CUT: _R.BENT, **_same(_R.BENT, _R.CHECKED)},
    "checked shorten": dict.fromkeys((_R.RELEASED, _R.CUT, _R.BENT, _R.CHECKED), _R.REWORK),
    "checked reject": dict.fromkeys((_R.RELEASED, _R.CUT, _R.BENT, _R.CHECKED), _R.REJECTED),
    "reworked": dict.fromkeys((_R.BENT, _R.CHECKED, _R.REWORK, _R.REJECTED), _R.BENT),
    "scrapped": dict.fromkeys(
        (_R.RELEASED, _R.CUT, _R.BENT, _R.CHECKED, _R.REWORK, _R.REJECTED), _R.SCRAPPED
    ),
    "salvaged": {_R.REJECTED: _R.SALVAGED},
    "installed": dict.fromkeys((_R.RELEASED, _R.CUT, _R.BENT, _R.CHECKED), _R.INSTALLED),
    "taken down": {_R.INSTALLED: _R.CHECKED},
    "note": _same(*_LIVE, _R.SCRAPPED, _R.SALVAGED),
}

MOVES: Final[Mapping[tuple[str, str], str]] = {
    (str(before), act): str(after) for act, moves in _BY_ACT.items() for before, after in moves.items()
}
"""(state, act) -> state. An act is a tick's kind; `checked` is five acts, one a verdict. What is absent is
illegal."""

_ON_SITE: Final = frozenset({str(Role.ELECTRICIAN), str(Role.FOREMAN)})
_FOREMAN: Final = frozenset({str(Role.FOREMAN)})

ROLES: Final[Mapping[str, frozenset[str]]] = {
    Kind.RELEASED: _FOREMAN,
    Kind.ASSIGNED: _FOREMAN,
    Kind.CARRIED: _FOREMAN,
    Kind.SALVAGED: _FOREMAN,
    **dict.fromkeys(
        (
            Kind.CUT,
            Kind.THREADED,
            Kind.PULLED,
            Kind.BENT,
            Kind.CHECKED,
            Kind.REWORKED,
            Kind.SCRAPPED,
            Kind.INSTALLED,
            Kind.TAKEN_DOWN,
            Kind.TAKEN_BACK,
            Kind.NOTE,
        ),
        _ON_SITE,
    ),
}
"""Who may make a tick of a kind."""

BY_SERVER: Final = frozenset({Kind.RELEASED, Kind.SETTLED})
"""Written by the server in the wake of something else; nobody sends them."""

WAY: Final = (Kind.CUT, Kind.BENT, Kind.CHECKED)
"""The steps that a later tick implies, in their order."""

_STANDS_BEHIND: Final[Mapping[str, int]] = {State.RELEASED: 0, State.CUT: 1, State.BENT: 2, State.CHECKED: 3}
_NEEDS_BEHIND: Final[Mapping[str, int]] = {
    Kind.THREADED: 1,
    Kind.PULLED: 1,
    Kind.SCRAPPED: 1,
    Kind.BENT: 1,
    Kind.CHECKED: 2,
    Kind.INSTALLED: 3,
}

FULL_LENGTH: Final = "full length"
"""What a piece is cut from, unless its tick names an offcut."""

LONGEST_MM: Final = 20_000.0
"""No conduit is sold longer; what is above this is a slip of the keyboard."""


def act_of(kind: str, figures: Mapping[str, Any]) -> str:
    """The act of the table that a tick is."""
    return f"checked {figures.get('verdict')}" if kind == Kind.CHECKED else str(kind)


def implied_kinds(state: str, kind: str) -> tuple[str, ...]:
    """The steps that a tick of this kind tells to have been made, though nobody ticked them, in their
    order."""
    behind, needed = _STANDS_BEHIND.get(state), _NEEDS_BEHIND.get(kind)
    return () if behind is None or needed is None else tuple(str(step) for step in WAY[behind:needed])


BENCH: Final = "bench"
FITTING: Final = "fitting"
STAGES: Final = (BENCH, FITTING)
"""What a crew is given of a piece: to cut, bend and check it, or to fix it in place."""

OPEN_STAGE: Final[Mapping[str, str]] = {
    **dict.fromkeys((str(_R.RELEASED), str(_R.CUT), str(_R.BENT), str(_R.REWORK), str(_R.REJECTED)), BENCH),
    str(_R.CHECKED): FITTING,
}
"""The stage that is open on a piece in a state: the bench until it is checked, then the fitting. Absent:
none."""

GIVEN_IN: Final = frozenset(OPEN_STAGE)
"""States in which a stage may be given to a crew. A checked piece may yet come back to the bench."""


@dataclass(frozen=True, slots=True)
class Crews:
    """Who has a piece's stages. None: nobody yet."""

    bench: uuid.UUID | None
    fitting: uuid.UUID | None

    def of(self, stage: str | None) -> uuid.UUID | None:
        """Who has a stage."""
        return {BENCH: self.bench, FITTING: self.fitting}.get(stage or "")


def crews_of(
    own_bench: uuid.UUID | None,
    own_fitting: uuid.UUID | None,
    *,
    run_bench: uuid.UUID | None,
    run_fitting: uuid.UUID | None,
) -> Crews:
    """Who has a piece's stages: what is said of the piece itself goes before what is said of its run, and who
    bends it fits it where nobody else is named."""
    bench = own_bench or run_bench
    return Crews(bench, own_fitting or run_fitting or bench)


def kinds_from(state: str, role: str) -> list[str]:
    """The kinds that a person of the role may tick on a piece in the state, in the order of `Kind`."""
    acts = {
        act.partition(" ")[0] if act.startswith("checked ") else act
        for before, act in MOVES
        if before == state
    }
    return [
        kind for kind in Kind.values if kind in acts and kind not in BY_SERVER and role in ROLES.get(kind, ())
    ]


# What a tick may say ----------------------------------------------------------------------------------------

LAST_SEQUENCE: Final = 2**53 - 1
"""The largest whole number that a browser counts without a slip (ECMA-262, Number.MAX_SAFE_INTEGER)."""


@dataclass(frozen=True, slots=True)
class TickIn:
    """A tick as it was received. id and sequence: the device's own.  made_at: by the device's clock, with a
    zone.

    plan_id: the plan revision that the piece was made to.  figures: what the kind tells, see `clean_figures`.
    takes_back: id of the tick that a `taken back` ends.
    """

    id: uuid.UUID
    sequence: int
    kind: str
    piece_id: uuid.UUID
    plan_id: uuid.UUID
    made_at: datetime
    figures: Mapping[str, Any]
    takes_back: uuid.UUID | None = None


@dataclass(frozen=True, slots=True)
class TickAnswer:
    """What became of a tick: applied, held or refused. reason: a stable code, with text for a person; empty
    if applied.

    number: its ledger number; None for what is not in the ledger.
    """

    id: uuid.UUID
    answer: str
    reason: str
    number: int | None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a tick was not applied. code: stable.  text: for a person.  problems: of its figures, if they are
    why."""

    code: str
    text: str
    answer: str = Answer.HELD
    problems: tuple[FieldProblem, ...] = ()


def refusal(code: str, text: str, problems: Sequence[FieldProblem] = ()) -> Reason:
    """A reason to refuse."""
    return Reason(code, text, Answer.REFUSED, tuple(problems))


_EARLIEST: Final = datetime(1970, 1, 1, tzinfo=UTC)  # where a clock with a dead battery starts
_LATEST: Final = datetime(2200, 1, 1, tzinfo=UTC)


def malformed(tick: TickIn) -> Reason | None:
    """Why a tick cannot even be judged; None if it can. A wrong clock is no reason.

    Nothing is taken for granted, not even the types: what a device sends comes here as it came.
    """
    checks = Checks()
    sequence: object = tick.sequence
    if not (_is_whole(sequence) and 1 <= tick.sequence <= LAST_SEQUENCE):
        checks.refuse("sequence", _("is not a whole number from 1 to %(last)d") % {"last": LAST_SEQUENCE})
    checks.choice("kind", tick.kind, [kind for kind in Kind.values if kind not in BY_SERVER])
    for where in ("piece_id", "plan_id"):
        if not isinstance(getattr(tick, where), uuid.UUID):
            checks.refuse(where, _("is not an id; a UUID is wanted"))
    made_at: object = tick.made_at
    if not isinstance(made_at, datetime) or made_at.tzinfo is None:
        checks.refuse("made_at", _("is not a time with its zone"))
    elif not _EARLIEST <= made_at < _LATEST:
        checks.refuse("made_at", _("is not between 1970 and 2200"))
    figures: object = tick.figures
    if not isinstance(figures, Mapping):
        checks.refuse("figures", _("are not an object"))
    takes_back: object = tick.takes_back
    if takes_back is not None and not isinstance(takes_back, uuid.UUID):
        checks.refuse("takes_back", _("is not an id; a UUID is wanted"))
    elif (takes_back is not None) != (tick.kind == Kind.TAKEN_BACK):
        checks.refuse("takes_back", _("goes with a tick that takes another back, and is needed there"))
    return _told("malformed", checks.problems) if checks.problems else None


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _told(code: str, problems: Sequence[FieldProblem]) -> Reason:
    return refusal(code, short("; ".join(f"{each.where} {each.text}" for each in problems)), problems)


def short(text: str) -> str:
    """A text that fits the ledger's column."""
    return text if len(text) <= 300 else text[:299] + "…"


_NUMBERS: Final[Mapping[str, tuple[str, float, float]]] = {
    "length_mm": ("mm", 0.0, LONGEST_MM),
    "saved_mm": ("mm", 0.0, LONGEST_MM),
    "angle_deg": ("°", 0.0, 190.0),
    "dial_deg": ("°", 0.0, 200.0),
    "reading_deg": ("°", 0.0, 200.0),
}
_COUNTS: Final = {"bend": 99, "pull": 20}
_TEXTS: Final = {"note": 300, "cause": 60, "offcut": 20}
_MARKS: Final = ("angle", "length", "bore")
_MAY_TELL: Final[Mapping[str, tuple[str, ...]]] = {
    Kind.CUT: ("offcut", "length_mm"),
    Kind.PULLED: ("bend", "pull", "dial_deg", "reading_deg"),
    Kind.BENT: ("angle_deg",),
    Kind.CHECKED: ("verdict", *_MARKS, "angle_deg", "length_mm"),
    Kind.REWORKED: ("cause",),
    Kind.SCRAPPED: ("cause", "saved_mm"),
    Kind.TAKEN_DOWN: ("cause",),
    Kind.ASSIGNED: ("crew", "stage"),
}
NEEDED: Final[Mapping[str, tuple[str, ...]]] = {
    Kind.PULLED: ("bend", "pull"),
    Kind.CHECKED: ("verdict",),
    Kind.SCRAPPED: ("cause",),
    Kind.ASSIGNED: ("crew",),
    Kind.NOTE: ("note",),
}
"""The figures without which a tick of the kind is refused. All others are welcome, never forced."""


def clean_figures(kind: str, figures: Mapping[str, Any]) -> tuple[dict[str, Any], Reason | None]:
    """A tick's figures as they are kept, and why it is refused if they are out of range.

    cut: offcut (its label), length_mm.  pulled: bend, pull (counted from 1), dial_deg, reading_deg.
    bent: angle_deg.  checked: verdict, angle, length, bore (true or false), angle_deg, length_mm.
    reworked, taken down: cause.  scrapped: cause, saved_mm.  assigned: crew, stage (the bench unless said).
    Each kind: note.
    """
    checks = Checks()
    kept: dict[str, Any] = {}
    may = (*_MAY_TELL.get(kind, ()), "note")
    for name in NEEDED.get(kind, ()):
        if figures.get(name) is None:
            checks.refuse(f"figures.{name}", _("is missing"))
    for name, value in figures.items():
        where = f"figures.{name}"
        if name not in may:
            checks.refuse(
                "figures",
                _("have a key that is not known for %(kind)s; allowed are %(keys)s")
                % {"kind": kind, "keys": ", ".join(may)},
            )
        elif value is None:
            continue
        elif name in _NUMBERS:
            unit, least, most = _NUMBERS[name]
            kept[name] = checks.number(where, value, unit=unit, at_least=least, at_most=most)
        elif name in _COUNTS:
            if not (_is_whole(value) and 1 <= value <= _COUNTS[name]):
                checks.refuse(where, _("is not a whole number from 1 to %(most)d") % {"most": _COUNTS[name]})
            kept[name] = value
        elif name in _TEXTS:
            kept[name] = checks.text(where, value, longest=_TEXTS[name])
        elif name in _MARKS:
            if not isinstance(value, bool):
                checks.refuse(where, _("is neither true nor false"))
            kept[name] = value
        elif name == "verdict":
            kept[name] = checks.choice(where, value, VERDICTS)
        elif name == "stage":
            kept[name] = checks.choice(where, value, STAGES)
        else:
            kept[name] = _crew(checks, where, value)
    return kept, _told("out-of-range", checks.problems) if checks.problems else None


def _crew(checks: Checks, where: str, value: object) -> str:
    try:
        return str(uuid.UUID(str(value)))
    except ValueError:
        checks.refuse(where, _("is not the id of a crew"))
        return ""


def canonical(content: object) -> str:
    """One text for one content, whatever the order of keys and whichever way a number is written."""
    return json.dumps(
        plain(content), sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False
    )


def plain(value: object) -> Any:
    """A value as JSON that both databases keep as it is. 5.0 and 5 are one number; what JSON has not is told
    as text.

    NUL and half of a surrogate pair, which PostgreSQL does not keep, become U+FFFD and a question mark.
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        return value if abs(value) <= LAST_SEQUENCE else str(value)[:40]
    if isinstance(value, float):
        if not math.isfinite(value):
            return str(value)
        return int(value) if value.is_integer() and abs(value) <= LAST_SEQUENCE else value
    if isinstance(value, datetime) and value.tzinfo is not None:
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, Mapping):
        return {plain(str(name)): plain(each) for name, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(each) for each in value]
    return str(value).encode("utf-8", "replace").decode().replace("\x00", "�")


def content_of(tick: TickIn) -> dict[str, Any]:
    """All that a device says in a tick."""
    return {
        "id": tick.id,
        "sequence": tick.sequence,
        "kind": tick.kind,
        "piece": tick.piece_id,
        "plan": tick.plan_id,
        "made_at": tick.made_at,
        "figures": tick.figures,
        "takes_back": tick.takes_back,
    }


def fingerprint(tick: TickIn) -> str:
    """SHA-256 of a tick's canonical content."""
    return hashlib.sha256(canonical(content_of(tick)).encode()).hexdigest()


def link(before: str, fields: Mapping[str, object]) -> str:
    """The hash that chains an entry to the one before it, over all its fields."""
    return hashlib.sha256((before + canonical(fields)).encode()).hexdigest()


_AHEAD: Final = timedelta(minutes=10)
_BEHIND: Final = timedelta(days=7)


def is_suspect(made_at: datetime, received_at: datetime) -> bool:
    """Whether a device's clock is not to be believed: ahead of receipt by more than 10 minutes, or a week
    behind."""
    return not -_BEHIND <= made_at - received_at <= _AHEAD


def day_of(moment: datetime, zone: str) -> date:
    """The day in the company's time zone."""
    return moment.astimezone(ZoneInfo(zone)).date()


def day_of_tick(made_at: datetime, received_at: datetime, *, clock_suspect: bool, zone: str) -> date:
    """The day a tick counts for: when it was made, or received where the clock is suspect."""
    return day_of(received_at if clock_suspect else made_at, zone)


# A piece's history ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Entry:
    """What a piece's history needs of a ledger entry. id: the row's.  implied_by: id of another row."""

    id: uuid.UUID
    tick_id: uuid.UUID
    kind: str
    figures: Mapping[str, Any]
    plan_id: uuid.UUID
    takes_back: uuid.UUID | None = None
    implied_by: uuid.UUID | None = None


@dataclass(frozen=True, slots=True)
class Life:
    """What a piece's standing ticks make of it. implied: steps told by a later tick only, whose own may yet
    come."""

    state: str = State.WAITING
    plan_id: uuid.UUID | None = None
    crew_id: uuid.UUID | None = None
    fitting_crew_id: uuid.UUID | None = None
    bent_once: bool = False
    reworked_times: int = 0
    cut_from: str = ""
    implied: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Change:
    """What an entry changes beside itself: entries whose effect ends, and entries that count again."""

    undone: tuple[Entry, ...] = ()
    redone: tuple[Entry, ...] = ()


class Illegal(Exception):
    """The entry is not legal from the present state."""


def takes_place(life: Life, entry: Entry) -> bool:
    """Whether a real tick comes late for a step that a later one implied: it takes that one's place, counted
    once."""
    told_so = entry.kind != Kind.CHECKED or entry.figures.get("verdict") == "pass"
    return entry.implied_by is None and entry.kind in life.implied and told_so


def after(life: Life, entry: Entry) -> Life:
    """What an entry makes of a piece. Raises Illegal."""
    if takes_place(life, entry):
        state, implied = life.state, life.implied - {entry.kind}
    else:
        moved = MOVES.get((life.state, act_of(entry.kind, entry.figures)))
        # A piece is cut once: cut after bent is the one trim that was left for last.
        if moved is None or (entry.kind == Kind.CUT and life.cut_from):
            raise Illegal
        state = moved
        implied = life.implied | {entry.kind} if entry.implied_by and entry.kind in WAY else life.implied
    life = replace(life, state=state, implied=implied)
    match entry.kind:
        case Kind.RELEASED:
            return Life(
                state=state,
                plan_id=entry.plan_id,
                crew_id=life.crew_id,
                fitting_crew_id=life.fitting_crew_id,
            )
        case Kind.CARRIED:
            return replace(life, plan_id=entry.plan_id)
        case Kind.ASSIGNED:
            crew_id = uuid.UUID(entry.figures["crew"])
            if entry.figures.get("stage", BENCH) == FITTING:
                return replace(life, fitting_crew_id=crew_id)
            return replace(life, crew_id=crew_id)
        case Kind.CUT:
            return replace(life, cut_from=entry.figures.get("offcut") or FULL_LENGTH)
        case Kind.BENT:
            return replace(life, bent_once=True)
        case Kind.REWORKED:
            return replace(life, reworked_times=life.reworked_times + 1)
    return life


class History:
    """A piece's standing ticks, the latest on top: only it can be taken back, so they are a stack.

    To whom the piece was given meanwhile does not stand in the way of that, and stays given.
    """

    __slots__ = ("_stack", "gone")

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self._stack: list[tuple[Entry, Life]] = []
        self.gone: set[uuid.UUID] = set()
        for entry in entries:
            self.take(entry)

    @property
    def life(self) -> Life:
        """What the standing ticks make of the piece."""
        return self._stack[-1][1] if self._stack else Life()

    @property
    def standing(self) -> list[Entry]:
        """The entries that stand, oldest first; an implied one whose place was taken does not."""
        placed: set[uuid.UUID] = set()
        before = Life()
        for index, (entry, life) in enumerate(self._stack):
            if takes_place(before, entry):
                placed.add(self._implied_below(index, entry.kind).id)
            before = life
        return [entry for entry, _life in self._stack if entry.id not in placed]

    @property
    def latest(self) -> Entry | None:
        """The latest standing entry that tells what was done to the piece; None if there is none since the
        release."""
        done = (entry for entry, _life in reversed(self._stack) if entry.kind != Kind.ASSIGNED)
        top = next(done, None)
        return None if top is None or top.kind == Kind.RELEASED else top

    @property
    def may_go(self) -> frozenset[uuid.UUID]:
        """Ids of the entries of which one may be taken back now: the latest, and what gave the piece to a
        crew last."""
        top = self._stack[-1][0] if self._stack else None
        found = {each.id for each in (top, self.latest) if each is not None and each.kind != Kind.RELEASED}
        return frozenset(found)

    @property
    def is_begun(self) -> bool:
        """Whether anything was done to the piece since its release, but to give it to a crew or write a
        note."""
        idle = {Kind.RELEASED, Kind.ASSIGNED, Kind.CARRIED, Kind.NOTE}
        return any(entry.kind not in idle for entry, _life in self._stack)

    def change(self, entry: Entry) -> Change:
        """What `take` would change beside the entry. Raises Illegal; changes nothing."""
        if entry.kind == Kind.TAKEN_BACK:
            undone, redone, _stack = self._taken_back(entry)
            return Change(undone, redone)
        life = self.life
        after(life, entry)
        if takes_place(life, entry):
            return Change(undone=(self._implied_below(len(self._stack), entry.kind),))
        return Change()

    def take(self, entry: Entry) -> Change:
        """Takes an entry in. Raises Illegal and changes nothing if it is not legal now."""
        change = self.change(entry)
        if entry.kind == Kind.TAKEN_BACK:
            _undone, _redone, self._stack = self._taken_back(entry)
            self.gone.update(each.id for each in change.undone)
        else:
            self._stack.append((entry, after(self.life, entry)))
        return change

    def _taken_back(
        self, entry: Entry
    ) -> tuple[tuple[Entry, ...], tuple[Entry, ...], list[tuple[Entry, Life]]]:
        """What is undone, what counts again, and the stack that is left."""
        bottom = self._stack[0][0] if self._stack else None
        if any(
            each.tick_id == entry.takes_back and each.kind == Kind.RELEASED for each, _life in self._stack
        ):
            return tuple(each for each, _life in reversed(self._stack)), (), []
        left = list(self._stack)
        given: list[Entry] = []
        while left and left[-1][0].kind == Kind.ASSIGNED and left[-1][0].tick_id != entry.takes_back:
            given.append(left.pop()[0])
        top = left.pop()[0] if left else None
        if top is None or top is bottom or top.tick_id != entry.takes_back:
            raise Illegal
        redone: tuple[Entry, ...] = ()
        if takes_place(left[-1][1], top):
            redone = (self._implied_below(len(left), top.kind),)
        undone = [top]
        while left and left[-1][0].implied_by == top.id:
            undone.append(left.pop()[0])
        for each in reversed(given):
            left.append((each, after(left[-1][1], each)))
        return tuple(undone), redone, left

    def _implied_below(self, index: int, kind: str) -> Entry:
        return next(
            entry for entry, _life in reversed(self._stack[:index]) if entry.kind == kind and entry.implied_by
        )


def implied_entries(history: History, entry: Entry) -> tuple[str, ...]:
    """The kinds of the ticks to write before an entry, for the steps that it implies."""
    if takes_place(history.life, entry):
        return ()
    kinds = implied_kinds(history.life.state, entry.kind)
    # Bent, then cut: the trim may have come first in time though its tick came second.
    return tuple(kind for kind in kinds if not (kind == Kind.CUT and history.life.cut_from))


def why_illegal(life: Life, entry: Entry, *, label: str, dialect: Dialect) -> Reason:
    """Why a tick is not legal from the present state, as a person reads it."""
    if entry.kind == Kind.CUT and life.cut_from:
        return Reason("cut-already", _("%(piece)s was cut already.") % {"piece": label})
    act = act_of(entry.kind, entry.figures)
    before = ", ".join(words.state(state, dialect) for state, name in MOVES if name == act)
    return Reason(
        "not-from-this-state",
        _("%(piece)s is %(state)s; “%(act)s” is possible when it is %(before)s.")
        % {
            "piece": label,
            "state": words.state(life.state, dialect),
            "act": words.act(act, dialect),
            "before": before,
        },
    )


@dataclass(frozen=True, slots=True)
class TakeBack:
    """What there is to know when somebody takes a tick back.

    target: the entry meant; None if it was not received yet.  received, target_received: days of receipt.
    """

    target: Entry | None
    person_id: uuid.UUID
    role: str
    target_person_id: uuid.UUID | None
    received: date
    target_received: date | None
    is_gone: bool
    is_held: bool


def why_not_taken_back(history: History, asked: TakeBack, *, dialect: Dialect) -> Reason | None:
    """Why a tick cannot be taken back; None if it can.

    Only the latest standing tick of a piece; by its maker on the day of its receipt, or by a foreman.
    """
    target = asked.target
    if target is None:
        return Reason("tick-unknown", _("The tick that this takes back has not been received."))
    if target.implied_by or target.kind in BY_SERVER or target.kind == Kind.TAKEN_BACK:
        return refusal(
            "not-taken-back",
            _("“%(kind)s” was not ticked by anybody on its own; take back the tick that brought it about.")
            % {"kind": words.act(target.kind, dialect)},
        )
    if asked.is_gone:
        return refusal("taken-back-already", _("This tick was taken back already."))
    if asked.role != Role.FOREMAN:
        if asked.person_id != asked.target_person_id:
            return refusal("not-allowed", _("A tick is taken back by who made it, or by a foreman."))
        if asked.received != asked.target_received:
            return Reason(
                "day-passed", _("After the day of its receipt a tick is taken back by a foreman only.")
            )
    if asked.is_held:
        return Reason("tick-held", _("The tick that this takes back is held itself."))
    if target.id not in history.may_go:
        return Reason(
            "not-latest", _("Only the latest tick of a piece can be taken back; later ones come first.")
        )
    return None


# The drawing ------------------------------------------------------------------------------------------------


def states_page() -> str:
    """docs/states.md, made from the table: a drawing and the table itself, in Markdown."""
    arrows: dict[tuple[str, str], list[str]] = {}
    stays: dict[str, list[str]] = {}
    for (before, act), now in MOVES.items():
        if before == now:
            stays.setdefault(act, []).append(before)
        else:
            arrows.setdefault((before, now), []).append(act)
    order = [str(state) for state in State.values]
    drawn = sorted(arrows.items(), key=lambda each: (order.index(each[0][0]), order.index(each[0][1])))
    lines = [
        "# The life of a piece",
        "",
        "Made from the table in `services/tracking/rules.py` by `manage.py states_page`; a test compares.",
        "",
        "```mermaid",
        "stateDiagram-v2",
        "    [*] --> waiting",
        *(f"    {before} --> {now}: {', '.join(acts)}" for (before, now), acts in drawn),
        "```",
        "",
        "A tick that jumps over steps implies them: they are written before it, marked as implied by it,",
        "and the real tick of such a step, when it comes, takes the implied one's place; the piece stays.",
        "Taking the latest standing tick back leads to where the piece was before it.",
        "Scrapped and salvaged open the next attempt.",
        "",
        "| from | tick | to | implies |",
        "|---|---|---|---|",
    ]
    for (before, now), acts in drawn:
        for act in acts:
            kind = Kind.CHECKED if act.startswith("checked ") else act
            implied = ", ".join(implied_kinds(before, kind)) or "–"
            lines.append(f"| {before} | {act} | {now} | {implied} |")
    lines += ["", "| tick that keeps the state | in |", "|---|---|"]
    lines += [f"| {act} | {', '.join(sorted(states, key=order.index))} |" for act, states in stays.items()]
    lines += ["", "| tick | who | needs |", "|---|---|---|"]
    for kind in Kind.values:
        if kind in ROLES:
            who = "server, for a foreman" if kind in BY_SERVER else ", ".join(sorted(ROLES[kind]))
            lines.append(f"| {kind} | {who} | {', '.join(NEEDED.get(kind, ())) or '–'} |")
    return "\n".join(lines) + "\n"
