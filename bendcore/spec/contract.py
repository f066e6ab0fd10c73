"""The contract's input: a run read from it and written to it, and its JSON Schema."""

import json
from typing import Any, Final

from bendcore import catalogue
from bendcore.errors import MalformedJson, SpecProblem
from bendcore.reader import Json, Problems, RecordOf, name_of
from bendcore.spec.run import RunSpec

_RUN: Final = RecordOf(RunSpec)


def read(value: object) -> RunSpec:
    """Reads a run from the contract's dict (a RunSpec passes as it is).

    Raises SpecProblem with every problem found: each with its code, its place and what is allowed there.
    """
    problems: Problems = []
    spec = _RUN.read(value, "", problems)
    if problems:
        raise SpecProblem(problems)
    return spec  # type: ignore[no-any-return]


def read_json(text: str | bytes) -> RunSpec:
    """Reads a run from JSON text (UTF-8). Raises SpecProblem, also for repeated keys and for NaN and
    Infinity."""
    problems: Problems = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(items)
        if len(found) != len(items):
            seen: set[str] = set()
            twice = next(name for name, _ in items if name in seen or seen.add(name))  # type: ignore[func-returns-value]
            problems.append(
                MalformedJson("", f"the key {name_of(twice)} stands more than once in one object")
            )
        return found

    def constant(name: str) -> float:
        problems.append(MalformedJson("", f"{name} is no number in JSON"))
        return 0.0

    try:
        if isinstance(text, bytes):
            text = text.decode("utf-8-sig")
        value = json.loads(text, object_pairs_hook=pairs, parse_constant=constant)
    except UnicodeDecodeError as error:
        problems.append(MalformedJson("", f"is not UTF-8 text (byte {error.start})"))
    except json.JSONDecodeError as error:
        problems.append(
            MalformedJson("", f"is not JSON: {error.msg} at line {error.lineno}, column {error.colno}")
        )
    except RecursionError:
        problems.append(MalformedJson("", "is nested too deeply"))
    except ValueError:  # an integer of more digits than Python turns into a number
        problems.append(MalformedJson("", "has a number of too many digits"))
    if problems:
        raise SpecProblem(problems)
    return read(value)


def write(spec: RunSpec) -> dict[str, Json]:
    """The run as the contract writes it, without what stands at its default. `read(write(spec)) == spec`."""
    return spec.to_json()


def json_schema() -> dict[str, Json]:
    """The contract's input as JSON Schema (draft 2020-12), made from the declarations above.

    What no schema can say is left to `read`: radius and diameter, keys that go together, overlapping bends.
    """
    schema = _RUN.schema()
    conduit = schema["properties"]["conduit"]["properties"]
    conduit["catalogue"]["enum"] = list(catalogue.conduit_ids())
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A run of conduit, as `bendcore plan` reads it",
        "description": "Lengths in millimetres, angles in degrees.",
        **schema,
    }
