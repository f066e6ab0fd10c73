"""Declared kinds of value: one declaration checks input, writes it back and gives its JSON Schema.

Kept apart from `spec`, which declares the contract with it. Every problem found is collected, so that a
person sees all of them at once; nothing is repaired on the way.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields
from enum import StrEnum
from typing import Any, Final, Generic, Self, TypeVar

from bendcore.errors import (
    BendError,
    MissingKey,
    NotAChoice,
    OutOfRange,
    SpecProblem,
    UnknownKey,
    WrongType,
)

Problems = list[BendError]
Json = Any
"""What `json` reads and writes; checked here, so nothing beyond this module handles it."""


class _Refused:
    """Stands for a value that was refused; its problem is already told."""


REFUSED: Final = _Refused()


def name_of(value: object) -> str:
    """A value as a problem's text names it: short, and never a traceback."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return plain(value) if not abs(value) >= 10**15 else "a number far too large"
    if isinstance(value, str):
        return repr(value if len(value) <= 40 else value[:37] + "...")
    if isinstance(value, Mapping):
        return "an object"
    if isinstance(value, Sequence):
        return "a list"
    return f"of type {type(value).__name__}"


def plain(value: float) -> str:
    """A number in full, without powers of ten and without a needless point: 10000001, -0.5, 180.0000001."""
    number = float(value)
    return f"{number:.0f}" if number.is_integer() else repr(number)


class Kind:
    """What one value may be."""

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        """The checked value, or REFUSED with what is wrong appended to `problems`."""
        raise NotImplementedError  # pragma: no cover

    def write(self, value: Any) -> Json:
        """The value as the contract's JSON writes it."""
        return value

    def schema(self) -> dict[str, Json]:
        """Its JSON Schema (draft 2020-12)."""
        raise NotImplementedError  # pragma: no cover


class Number(Kind):
    """A finite number within bounds; `above` and `below` exclude theirs. Booleans and text are refused."""

    def __init__(
        self,
        unit: str,
        *,
        above: float | None = None,
        at_least: float | None = None,
        below: float | None = None,
        at_most: float | None = None,
    ) -> None:
        self.unit = unit
        self._bounds = {
            "exclusiveMinimum": above,
            "minimum": at_least,
            "exclusiveMaximum": below,
            "maximum": at_most,
        }
        low = math.nextafter(above, math.inf) if above is not None else at_least
        high = math.nextafter(below, -math.inf) if below is not None else at_most
        if low is None or high is None:
            raise ValueError("a number needs both bounds: nothing on a building site is without")
        self._low, self._high = low, high

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        kind = type(value)
        if (kind is float or kind is int) and self._low <= value <= self._high:
            return float(value)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            problems.append(WrongType(where, f"is {name_of(value)}; a number is wanted: {self._allowed()}"))
        elif self._low <= value <= self._high:  # of a class of its own, as array libraries hand them out
            return float(value)
        elif isinstance(value, float) and not math.isfinite(value):
            problems.append(OutOfRange(where, f"is not finite; allowed is {self._allowed()}"))
        else:
            given = float(value) if abs(value) < 1e300 else None
            problems.append(
                OutOfRange(where, f"is {name_of(value)}; allowed is {self._allowed()}", given=given),
            )
        return REFUSED

    def _allowed(self) -> str:
        above, at_least, below, at_most = self._bounds.values()
        low = f"above {plain(above)}" if above is not None else f"at least {plain(at_least or 0.0)}"
        high = f"below {plain(below)}" if below is not None else f"at most {plain(at_most or 0.0)}"
        return f"{low} and {high}{self.unit and ' ' + self.unit}"

    def schema(self) -> dict[str, Json]:
        return {"type": "number", **{key: bound for key, bound in self._bounds.items() if bound is not None}}


class Count(Kind):
    """A whole number within bounds, both included."""

    def __init__(self, low: int, high: int) -> None:
        self._low, self._high = low, high

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if type(value) is int and self._low <= value <= self._high:
            return value
        if isinstance(value, float) and value.is_integer() and self._low <= value <= self._high:
            return int(value)  # JSON has one kind of number: 3.0 is 3
        allowed = f"a whole number from {self._low} to {self._high}"
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            problems.append(WrongType(where, f"is {name_of(value)}; {allowed} is wanted"))
        else:
            problems.append(OutOfRange(where, f"is {name_of(value)}; {allowed} is wanted"))
        return REFUSED

    def schema(self) -> dict[str, Json]:
        return {"type": "integer", "minimum": self._low, "maximum": self._high}


class Text(Kind):
    """A short line of text without control characters."""

    def __init__(self, longest: int) -> None:
        self._longest = longest

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if not isinstance(value, str):
            problems.append(WrongType(where, f"is {name_of(value)}; text is wanted"))
        elif len(value) > self._longest:
            problems.append(
                OutOfRange(where, f"has {len(value)} characters; at most {self._longest} are allowed")
            )
        elif not value.replace("\N{NO-BREAK SPACE}", " ").isprintable():
            problems.append(
                OutOfRange(where, "has characters that cannot be printed; one line of text is wanted")
            )
        else:
            return value
        return REFUSED

    def schema(self) -> dict[str, Json]:
        return {"type": "string", "maxLength": self._longest}


E = TypeVar("E", bound=StrEnum)


class Choice(Kind, Generic[E]):
    """One word out of an enumeration."""

    def __init__(self, words: type[E]) -> None:
        self._words: dict[str, E] = {str(each): each for each in words}

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if isinstance(value, str):
            found = self._words.get(value)
            if found is not None:
                return found
            problems.append(NotAChoice(where, f"is {name_of(value)}; allowed are {', '.join(self._words)}"))
        else:
            problems.append(
                WrongType(where, f"is {name_of(value)}; one word is wanted of {', '.join(self._words)}")
            )
        return REFUSED

    def write(self, value: Any) -> Json:
        return str(value)

    def schema(self) -> dict[str, Json]:
        return {"enum": list(self._words)}


class Point(Kind):
    """A place in the room: x east, y north (in), z up, each in mm."""

    def __init__(self, reach: float) -> None:
        self._reach = reach

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if not isinstance(value, (list, tuple)) or len(value) != 3:
            problems.append(
                WrongType(where, f"is {name_of(value)}; three numbers are wanted: [east, north, up] in mm")
            )
            return REFUSED
        east, north, up = value
        reach = self._reach
        if (
            type(east) in _NUMBERS
            and type(north) in _NUMBERS
            and type(up) in _NUMBERS
            and -reach <= east <= reach
            and -reach <= north <= reach
            and -reach <= up <= reach
        ):
            return (float(east), float(north), float(up))
        number = Number("mm", at_least=-reach, at_most=reach)
        before = len(problems)
        read = [number.read(each, f"{where}[{index}]", problems) for index, each in enumerate(value)]
        return tuple(read) if len(problems) == before else REFUSED

    def write(self, value: Any) -> Json:
        return list(value)

    def schema(self) -> dict[str, Json]:
        number = Number("mm", at_least=-self._reach, at_most=self._reach).schema()
        return {"type": "array", "prefixItems": [number] * 3, "items": False, "minItems": 3}


_NUMBERS: Final = frozenset((int, float))


class Listed(Kind):
    """A list of one kind, of so many to so many; read to a tuple."""

    def __init__(self, each: Kind, *, least: int, most: int) -> None:
        self._each, self._least, self._most = each, least, most

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if not isinstance(value, (list, tuple)):
            problems.append(WrongType(where, f"is {name_of(value)}; a list is wanted"))
            return REFUSED
        if not self._least <= len(value) <= self._most:
            entries = "entry" if len(value) == 1 else "entries"
            problems.append(
                OutOfRange(where, f"has {len(value)} {entries}; allowed are {self._least} to {self._most}"),
            )
            return REFUSED
        before = len(problems)
        read = self._each.read
        got = tuple([read(each, f"{where}[{index}]", problems) for index, each in enumerate(value)])
        return got if len(problems) == before else REFUSED

    def write(self, value: Any) -> Json:
        return [self._each.write(each) for each in value]

    def schema(self) -> dict[str, Json]:
        return {
            "type": "array",
            "items": self._each.schema(),
            "minItems": self._least,
            "maxItems": self._most,
        }


class Nullable(Kind):
    """A kind that may also be null: not known."""

    def __init__(self, kind: Kind) -> None:
        self._kind = kind

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        return None if value is None else self._kind.read(value, where, problems)

    def write(self, value: Any) -> Json:
        return None if value is None else self._kind.write(value)

    def schema(self) -> dict[str, Json]:
        return {"anyOf": [self._kind.schema(), {"type": "null"}]}


class Flag(Kind):
    """True or false."""

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if isinstance(value, bool):
            return value
        problems.append(WrongType(where, f"is {name_of(value)}; true or false is wanted"))
        return REFUSED

    def schema(self) -> dict[str, Json]:
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class _Key:
    attribute: str
    kind: Kind
    doc: str
    needed: bool
    default: Any


def key(kind: Kind, doc: str, *, default: Any = MISSING, name: str = "") -> Any:
    """Declares one key of a record: its kind, what it says, its default (needed without one), its name in
    JSON."""
    metadata = {"kind": kind, "doc": doc, "name": name}
    return field(metadata=metadata) if default is MISSING else field(default=default, metadata=metadata)


R = TypeVar("R", bound="Record")


class Record:
    """Base of the frozen dataclasses that the contract's objects are read to.

    Made in code, they check themselves and raise SpecProblem; read from JSON, they are made from checked
    values.
    """

    __slots__ = ()

    def __post_init__(self) -> None:
        problems: Problems = []
        for name, declared in _keys(type(self)).items():
            value = getattr(self, declared.attribute)
            if value is declared.default and not declared.needed:
                continue
            read = declared.kind.read(value, name, problems)
            if read is not REFUSED:
                object.__setattr__(self, declared.attribute, read)  # a word becomes the choice that it names
        if not problems:
            problems.extend(self.conflicts(""))
        if problems:
            raise SpecProblem(problems)

    def conflicts(self, where: str) -> Iterable[BendError]:
        """Problems between keys that are each allowed. `where` is the record's own place, empty or ending in
        a dot."""
        return ()

    def to_json(self) -> dict[str, Json]:
        """The record as the contract writes it, without the keys that stand at their default."""
        return {
            name: declared.kind.write(value)
            for name, declared in _keys(type(self)).items()
            if (value := getattr(self, declared.attribute)) != declared.default or declared.needed
        }

    @classmethod
    def from_json(cls, value: Json, where: str = "") -> Self:
        """Reads and checks; raises SpecProblem with all problems found."""
        problems: Problems = []
        read = RecordOf(cls).read(value, where, problems)
        if problems:
            raise SpecProblem(problems)
        return read  # type: ignore[no-any-return]


_KEYS: dict[type, dict[str, _Key]] = {}


def _keys(cls: type[Record]) -> dict[str, _Key]:
    found = _KEYS.get(cls)
    if found is None:
        found = _KEYS[cls] = {
            each.metadata["name"] or each.name: _Key(
                each.name,
                each.metadata["kind"],
                each.metadata["doc"],
                each.default is MISSING,
                None if each.default is MISSING else each.default,
            )
            for each in _declared(cls)
        }
    return found


def _declared(cls: type[Record]) -> tuple["Field[Any]", ...]:
    return fields(cls)  # type: ignore[arg-type]  # every Record is a dataclass


class RecordOf(Kind, Generic[R]):
    """A JSON object read to a record of one class, unknown keys refused."""

    def __init__(self, cls: type[R]) -> None:
        self._cls = cls

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        cls = self._cls
        if type(value) is not dict:
            if isinstance(value, cls):
                return value
            if not isinstance(value, Mapping):
                problems.append(WrongType(where, f"is {name_of(value)}; an object is wanted"))
                return REFUSED
        keys = _keys(cls)
        prefix = where + "." if where else ""
        before = len(problems)
        made = object.__new__(cls)
        put = object.__setattr__
        taken = 0
        for name, declared in keys.items():
            if name in value:
                taken += 1
                put(made, declared.attribute, declared.kind.read(value[name], prefix + name, problems))
            elif declared.needed:
                problems.append(MissingKey(prefix + name, f"is missing: {declared.doc}"))
            else:
                put(made, declared.attribute, declared.default)
        if taken != len(value):
            self._tell_strangers(value, where, problems)
        if len(problems) == before:
            problems.extend(made.conflicts(prefix))
        return made if len(problems) == before else REFUSED

    def _tell_strangers(self, value: Mapping[Any, Any], where: str, problems: Problems) -> None:
        keys = _keys(self._cls)
        for name in value:
            if name in keys:
                continue
            problems.append(unknown_key(name, f"{where}.{name}" if where else str(name), keys))

    def write(self, value: Any) -> Json:
        return value.to_json()

    def schema(self) -> dict[str, Json]:
        keys = _keys(self._cls)
        properties: dict[str, Json] = {}
        for name, declared in keys.items():
            properties[name] = {**declared.kind.schema(), "description": declared.doc}
            if not declared.needed and declared.default not in (None, ""):
                default = declared.kind.write(declared.default)
                properties[name]["default"] = default
        return {
            "type": "object",
            "properties": properties,
            "required": [name for name, declared in keys.items() if declared.needed],
            "additionalProperties": False,
        }


def unknown_key(name: object, place: str, allowed: Iterable[str]) -> UnknownKey:
    """The problem of a key that is not in the contract, with the one that was perhaps meant."""
    from difflib import (
        get_close_matches,
    )  # only on the way out: it costs as much as all other imports together

    names = list(allowed)
    near = get_close_matches(str(name)[:40], names, n=1)
    hint = f"; did you mean {near[0]}?" if near else ""
    shown = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in place[:200])
    return UnknownKey(shown[:200], f"is not a key here; allowed are {', '.join(names)}{hint}")


class Either(Kind):
    """A kind chosen by looking at the value."""

    def __init__(self, choose: Callable[[Json, str, Problems], Kind | None], kinds: Sequence[Kind]) -> None:
        self._choose, self._kinds = choose, kinds

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        chosen = self._choose(value, where, problems)
        return REFUSED if chosen is None else chosen.read(value, where, problems)

    def write(self, value: Any) -> Json:
        return value.to_json() if isinstance(value, Record) else value

    def schema(self) -> dict[str, Json]:
        return {"oneOf": [each.schema() for each in self._kinds]}
