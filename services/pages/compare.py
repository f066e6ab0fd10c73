"""Two plans of one run side by side: which figures of a stick differ, in words, and which findings came or
went."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import Any, Final

from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.units import Deg, Mm, Units
from bendcore.words import Dialect
from services.core import words
from services.planning import rules


@dataclass(frozen=True, slots=True)
class Line:
    """One figure of a stick in both plans. more: how far they are apart, where that can be said."""

    what: str
    before: str
    after: str
    differs: bool
    more: str = ""


@dataclass(frozen=True, slots=True)
class ComparedStick:
    """One stick in both plans. what: `new`, `gone`, `changed` or `same`."""

    number: int
    what: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two plans. came, went: findings of the one that the other has not, by the engine's contract."""

    sticks: tuple[ComparedStick, ...]
    came: tuple[Mapping[str, Any], ...]
    went: tuple[Mapping[str, Any], ...]

    @property
    def is_same(self) -> bool:
        """Whether nothing that is worked to differs."""
        return all(stick.what == "same" for stick in self.sticks)


@dataclass(frozen=True, slots=True)
class _Speaker:
    units: Units
    dialect: Dialect

    def length(self, value: float) -> str:
        return tape.say(Mm(value), self.units)

    def apart(self, before: float, after: float) -> str:
        """How far a length moved; empty where a tape would not show it."""
        by = tape.read(Mm(abs(after - before)), self.units)
        if by == "0":
            return ""
        figure = f"{by} {self.units.value}"
        return (_("%(by)s longer") if after > before else _("%(by)s shorter")) % {"by": figure}

    def moved(self, before: float, after: float) -> str:
        """How far a mark moved along the stick."""
        by = tape.read(Mm(abs(after - before)), self.units)
        if by == "0":
            return ""
        figure = f"{by} {self.units.value}"
        return (_("%(by)s farther") if after > before else _("%(by)s nearer")) % {"by": figure}

    def end(self, end: Mapping[str, Any]) -> str:
        said = words.word(end["kind"], self.dialect)
        thread = {"long": _("long thread"), "cut": _("thread cut"), "factory": _("thread as bought")}
        return f"{said}, {thread[end['thread']]}" if end.get("thread") in thread else said


def compared(
    before: Mapping[str, Any], after: Mapping[str, Any], units: Units, dialect: Dialect
) -> Comparison:
    """Two results of the engine for one run, stick by stick."""
    say = _Speaker(units, dialect)
    sticks = tuple(
        ComparedStick(
            change.number,
            change.what[0] if change.what in (("new",), ("gone",)) else "changed" if change.what else "same",
            _lines(change.before, change.after, say),
        )
        for change in rules.difference(before, after)
    )
    ours, theirs = (_named(each["findings"]) for each in (before, after))
    return Comparison(
        sticks,
        came=tuple(each for name, each in theirs.items() if name not in ours),
        went=tuple(each for name, each in ours.items() if name not in theirs),
    )


def _named(findings: Sequence[Mapping[str, Any]]) -> dict[tuple[str, ...], Mapping[str, Any]]:
    return {
        (each["rule"], each["where"], repr(sorted(each.get("figures", {}).items()))): each
        for each in findings
    }


_Told = Callable[[Mapping[str, Any]], Any]


def _lines(
    before: Mapping[str, Any] | None, after: Mapping[str, Any] | None, say: _Speaker
) -> tuple[Line, ...]:
    lines = [_line(_("cut length"), before, after, lambda stick: stick["cut_length"], say.length, say.apart)]
    count = max(len(each["bends"]) for each in (before, after) if each is not None)
    for index in range(count):
        lines += _bend_lines(index, before, after, say)
    lines.append(_line(_("bending order"), before, after, _order, str, None))
    for end, name in (("start", _("start")), ("finish", _("finish"))):
        lines.append(_line(name, before, after, itemgetter(end), say.end, None))
    return tuple(lines)


def _bend_lines(
    index: int, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None, say: _Speaker
) -> list[Line]:
    number = index + 1

    def of(*path: str) -> _Told:
        def figure(stick: Mapping[str, Any]) -> Any:
            if index >= len(stick["bends"]):
                return None
            found: Any = stick["bends"][index]
            for name in path:
                found = found[name]
            return found

        return figure

    def degrees(value: float) -> str:
        return tape.degrees(Deg(value))

    return [
        _line(_("mark %(n)d") % {"n": number}, before, after, of("set", "mark"), say.length, say.moved),
        _line(_("angle %(n)d") % {"n": number}, before, after, of("angle"), degrees, None),
        _line(_("roll %(n)d") % {"n": number}, before, after, of("roll"), degrees, None),
    ]


_NOTHING: Final = "–"


def _line(
    what: str,
    before: Mapping[str, Any] | None,
    after: Mapping[str, Any] | None,
    figure: _Told,
    said: Callable[[Any], str],
    apart: Callable[[float, float], str] | None,
) -> Line:
    ours = None if before is None else figure(before)
    theirs = None if after is None else figure(after)
    differs = not rules.agrees(ours, theirs)
    return Line(
        what,
        _NOTHING if ours is None else said(ours),
        _NOTHING if theirs is None else said(theirs),
        differs,
        apart(ours, theirs)
        if differs and ours is not None and theirs is not None and apart is not None
        else "",
    )


def _order(stick: Mapping[str, Any]) -> str | None:
    bends = stick["bends"]
    if not bends or any(bend["order"] is None for bend in bends):
        return None
    return ", ".join(str(bend["number"]) for bend in sorted(bends, key=lambda bend: bend["order"]))
