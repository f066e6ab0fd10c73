"""The API's description laid out for a person: operations under headings, shapes, refusals."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from services.core import openapi

METHODS: Final = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True, slots=True)
class Field:
    """A value of a body or an answer. name: with its place (`runs[].id`).  kind: in words.  shape: the name
    of the shape that it has, or nothing."""

    name: str
    kind: str
    shape: str
    is_required: bool
    about: str


@dataclass(frozen=True, slots=True)
class Parameter:
    """What stands in the address, after its question mark, or in a header."""

    name: str
    where: str
    kind: str
    is_required: bool
    about: str


@dataclass(frozen=True, slots=True)
class Body:
    """What is sent or comes back. shape: its name, where it has one; `fields` are told where it has none."""

    media_types: tuple[str, ...]
    shape: str
    is_list: bool
    fields: tuple[Field, ...]
    example: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What may come back."""

    status: str
    about: str
    headers: tuple[str, ...]
    body: Body | None


@dataclass(frozen=True, slots=True)
class Entry:
    """One method of one address."""

    id: str
    method: str
    path: str
    summary: str
    about: tuple[str, ...]
    right: str
    parameters: tuple[Parameter, ...]
    body: Body | None
    answers: tuple[Answer, ...]
    refusals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape that has a name."""

    name: str
    about: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Refusal:
    """A status that the API refuses with. cases: code and when."""

    status: str
    cases: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reference:
    """The whole description."""

    headings: tuple[tuple[str, tuple[Entry, ...]], ...]
    shapes: tuple[Shape, ...]
    refusals: tuple[Refusal, ...]


@lru_cache(maxsize=1)
def reference() -> Reference:
    """The description, laid out once a process. No query."""
    told = openapi.document()
    entries: dict[str, list[Entry]] = {each["name"]: [] for each in told["tags"]}
    for path, methods in told["paths"].items():
        for method in METHODS:
            if method in methods:
                entries[methods[method]["tags"][0]].append(_entry(path, method, methods[method]))
    components = told["components"]
    return Reference(
        headings=tuple((name, tuple(found)) for name, found in entries.items()),
        shapes=tuple(
            Shape(name, _plain(schema.get("description", "")), tuple(_fields(schema)))
            for name, schema in sorted(components["schemas"].items())
        ),
        refusals=tuple(
            Refusal(name.removeprefix("Problem"), tuple(_plain(answer["description"]).split("\n")))
            for name, answer in components["responses"].items()
        ),
    )


def _entry(path: str, method: str, told: Mapping[str, Any]) -> Entry:
    answers = [
        Answer(
            status,
            answer["description"],
            tuple(name for name in answer.get("headers", {}) if name != "X-Request-Id"),
            _body(answer.get("content", {})),
        )
        for status, answer in told["responses"].items()
        if "$ref" not in answer
    ]
    return Entry(
        id=told["operationId"],
        method=method.upper(),
        path=path,
        summary=told["summary"],
        about=tuple(_plain(told["description"]).split("\n\n")[:-1]),
        right=told["x-right"],
        parameters=tuple(
            Parameter(
                name=each["name"],
                where=each["in"],
                kind=_kind(each["schema"]),
                is_required=each.get("required", False),
                about=_plain(each.get("description", "")),
            )
            for each in told.get("parameters", [])
        ),
        body=_body(told.get("requestBody", {}).get("content", {})),
        answers=tuple(answers),
        refusals=tuple(status for status, answer in told["responses"].items() if "$ref" in answer),
    )


def _body(content: Mapping[str, Any]) -> Body | None:
    if not content:
        return None
    first = next(iter(content.values()))
    schema = first["schema"]
    shape, is_list = _shape_of(schema)
    return Body(
        media_types=tuple(content),
        shape=shape,
        is_list=is_list,
        fields=() if shape else tuple(_fields(schema)),
        example=json.dumps(first["example"], indent=2, ensure_ascii=False) if "example" in first else "",
    )


def _fields(schema: Mapping[str, Any], before: str = "") -> Iterator[Field]:
    """The values of an object, and those of objects inside it that have no name."""
    required: Sequence[str] = schema.get("required", ())
    for name, part in schema.get("properties", {}).items():
        shape, is_list = _shape_of(part)
        place = f"{before}{name}{'[]' if is_list else ''}"
        yield Field(place, _kind(part), shape, name in required, _plain(part.get("description", "")))
        inner = part.get("items", part)
        if not shape and "properties" in inner:
            yield from _fields(inner, f"{place}.")


def _shape_of(schema: Mapping[str, Any]) -> tuple[str, bool]:
    """The name of the shape that a value or each item of a list has, and whether it is a list."""
    is_list = schema.get("type") == "array"
    inner = schema.get("items", schema) if is_list else schema
    if "anyOf" in inner:
        inner = inner["anyOf"][0]
    return str(inner.get("$ref", "")).rpartition("/")[2], is_list


def _kind(schema: Mapping[str, Any]) -> str:
    """What a value is, in words."""
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    if "anyOf" in schema:
        return " or ".join(_kind(each) for each in schema["anyOf"])
    if "enum" in schema:
        return ", ".join("null" if each is None else str(each) or "“”" for each in schema["enum"])
    kinds = schema.get("type", "anything")
    words = [str(schema.get("format", each)) if each == "string" else each for each in _listed(kinds)]
    said = " or ".join(words)
    return f"list of {_kind(schema['items'])}" if kinds == "array" else said


def _plain(text: str) -> str:
    """A text of the description, which is CommonMark, without its marks."""
    return text.replace("`", "")


def _listed(kinds: Any) -> list[str]:
    return [kinds] if isinstance(kinds, str) else list(kinds)
