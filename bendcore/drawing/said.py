"""Words that all drawings share: of the run, its sticks, angles and ends."""

from collections.abc import Iterable

from bendcore import tape
from bendcore.ends import StickEnd
from bendcore.planned import Plan, Stick
from bendcore.units import Deg
from bendcore.words import Dialect, term


def stick_of(plan: Plan, number: int) -> Stick:
    """The stick of that number. Raises ValueError when the run has none."""
    for stick in plan.sticks:
        if stick.number == number:
            return stick
    raise ValueError(f"the run has sticks 1 to {len(plan.sticks)}; there is no stick {number}")


def run_said(plan: Plan) -> str:
    """The run by its label: "run 07"; "the run" without one."""
    return f"run {plan.run}" if plan.run else "the run"


def stick_said(number: int, dialect: Dialect) -> str:
    """A stick by its number: "length 2", "stick 2" in the United States."""
    return f"{term('stick', dialect)} {number}"


def angle_said(angle: Deg) -> str:
    """An angle in words: "22.5 degrees"."""
    return f"{tape.degrees(angle).removesuffix('°')} degrees"


def end_said(end: StickEnd, dialect: Dialect) -> str:
    """What stands at an end, in the trade's words."""
    return term(end.kind, dialect)


def listed(words: Iterable[str]) -> str:
    """Several in a sentence: "1, 2 and 3"."""
    each = list(words)
    if len(each) < 2:
        return "".join(each)
    return f"{', '.join(each[:-1])} and {each[-1]}"


def counted(number: int, one: str) -> str:
    """A count with its noun: "1 bend", "3 bends"."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def sentence_case(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def ordinal(number: int) -> str:
    """A place in an order: "1st", "2nd", "11th"."""
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
