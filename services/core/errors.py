"""What the service refuses: one root, one class for each reason. `core.problems` alone knows HTTP."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """One bad input. where: the field, or the place in it (`rows[2].length`).  text: what is wrong and what
    is allowed."""

    where: str
    text: str
    code: str = "invalid"


class DomainError(Exception):
    """Root of what the service refuses.

    code: stable; clients tell errors apart by it.  title: the same for every case.  text: of this case,
    with what is allowed.  figures: named values a client may show.  problems: one for each bad input.
    """

    code: ClassVar[str] = "refused"
    title: ClassVar[str] = "Refused"

    def __init__(self, text: str, *, problems: Sequence[FieldProblem] = (), **figures: Any) -> None:
        super().__init__(text)
        self.text = text
        self.problems = tuple(problems)
        self.figures: Mapping[str, Any] = figures


class Invalid(DomainError):
    """Input that is well formed but not allowed: one problem for each bad field."""

    code = "invalid"
    title = "Some of this is not allowed"

    def __init__(self, problems: Sequence[FieldProblem]) -> None:
        super().__init__("; ".join(f"{each.where}: {each.text}" for each in problems), problems=problems)


class Malformed(DomainError):
    """A request that is not what it says it is: refused before any of it was looked at."""

    code = "malformed"
    title = "Not understood"


class TooLarge(DomainError):
    """More than one request may carry."""

    code = "too-large"
    title = "Too large"


class Unguarded(DomainError):
    """A request without the page's own token: it may come from another site."""

    code = "token-missing"
    title = "Open the page again"


class MustNameVersion(DomainError):
    """A change that does not say which version it was made to."""

    code = "version-missing"
    title = "Say which version you changed"


class KeyReused(DomainError):
    """An Idempotency-Key that came before with another body: one of the two is a slip of the sender."""

    code = "key-reused"
    title = "The key belongs to another request"


class StillRunning(DomainError):
    """The first request with this Idempotency-Key is not answered yet."""

    code = "still-running"
    title = "The first request is still running"


class NotFound(DomainError):
    """Absent, or another company's: the two are told alike."""

    code = "not-found"
    title = "Not found"

    def __init__(self, text: str = "There is nothing of that name here.") -> None:
        super().__init__(text)


class NotAllowed(DomainError):
    """The person's role has not this right."""

    code = "not-allowed"
    title = "Not allowed"


class StaleVersion(DomainError):
    """Somebody else changed it since it was read."""

    code = "stale-version"
    title = "Changed by somebody else"


class IllegalMove(DomainError):
    """The act is not possible from the present state."""

    code = "illegal-move"
    title = "Not possible from this state"


class RunHasStops(DomainError):
    """A run that cannot be made as planned is not released."""

    code = "run-has-stops"
    title = "The run has a stop"


class CannotPlan(DomainError):
    """The engine refuses the run; the problems say where."""

    code = "cannot-plan"
    title = "The run cannot be planned"


class TooManyTries(DomainError):
    """A secret was guessed at too often: wait, then try again."""

    code = "too-many-tries"
    title = "Too many tries"


class Unavailable(DomainError):
    """The database is away, or busy beyond patience; nothing was changed, try again."""

    code = "unavailable"
    title = "Not available just now"
