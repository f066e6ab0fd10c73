"""What cannot be planned, and why: one root, one class for each kind of problem.

A plan that breaks a rule is not an error: findings are values (`words.Finding`).
"""

from collections.abc import Mapping, Sequence
from typing import ClassVar, Self

Figure = float | int | str | None
"""One figure of a problem or finding: a length in mm, an angle in degrees, a count, a name, or not known."""


class BendError(Exception):
    """Root of what the engine refuses.

    code: stable, told apart by class in code and by `code` in JSON.  where: the place in the spec
    (`route.points[2]`, empty for the whole).  text: what is wrong and what is allowed.  figures: named with
    their unit.
    """

    code: ClassVar[str] = "bend-error"

    def __init__(self, where: str, text: str, **figures: Figure) -> None:
        super().__init__(f"{where}: {text}" if where else text)
        self.where = where
        self.text = text
        self.figures: Mapping[str, Figure] = figures

    def of(self, **figures: Figure) -> Self:
        """The same problem with further figures: which conduit of a bank has it."""
        return type(self)(self.where, self.text, **{**self.figures, **figures})

    def to_dict(self) -> dict[str, object]:
        """The problem as the contract writes it: code, where, text and the figures beside them."""
        return {"code": self.code, "where": self.where, "text": self.text, **self.figures}


class SpecProblem(BendError):
    """A spec that cannot be planned, with every problem found in it, in the order of the spec."""

    code = "spec"

    def __init__(self, problems: Sequence[BendError]) -> None:
        first = problems[0]
        super().__init__(first.where, first.text, **first.figures)
        self.problems = tuple(problems)

    def to_dict(self) -> dict[str, object]:
        """`{"problem": the first, "problems": all}` as the command line writes it."""
        return {"problem": self.problems[0].to_dict(), "problems": [each.to_dict() for each in self.problems]}


class MalformedJson(BendError):
    """The text is no JSON, repeats a key, or writes a number that JSON has not (NaN, Infinity)."""

    code = "malformed-json"


class UnknownKey(BendError):
    """A key that the contract does not have; the text lists those it has there."""

    code = "unknown-key"


class MissingKey(BendError):
    """A key that is needed and was not given."""

    code = "missing-key"


class WrongType(BendError):
    """A value of another kind than the contract wants there (text for a number, true for a length)."""

    code = "wrong-type"


class OutOfRange(BendError):
    """A number, count or text outside what is allowed there."""

    code = "out-of-range"


class NotAChoice(BendError):
    """A word that is none of the words allowed there."""

    code = "not-a-choice"


class Conflict(BendError):
    """Keys that are each allowed but do not go together."""

    code = "conflict"


class RadiusTooSmall(BendError):
    """A centreline radius not above half the outside diameter: the throat of the bend would close up."""

    code = "radius-too-small"


class BendsOverlap(BendError):
    """A leg too short for the bends at its ends. Figures: leg (from 1), length_mm, need_mm, grow_mm."""

    code = "overlap"


class Reversal(BendError):
    """A turn straight back on itself, which no bend can make."""

    code = "reversal"


class CannotWalk(BendError):
    """Steps that cannot be walked: a direction along the heading, a convention with nothing to measure to."""

    code = "cannot-walk"


class NoRoute(BendError):
    """A route without length."""

    code = "no-route"


class NoJoint(BendError):
    """A stretch of the run that no joint position can split into sticks of stock length."""

    code = "no-joint"


class Unreadable(BendError):
    """A file that cannot be read or written."""

    code = "unreadable"
