"""The API's description by OpenAPI 3.1, made from the code: what each method takes, gives and refuses.

A view's method says the rest of it with `operation`; shapes of answers stand in each app's `answers`.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, TypeVar

from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from rest_framework import serializers

from services.core import errors, problems
from services.core.api import LONGEST_TEXT, MOST_ON_A_PAGE, USUAL_PAGE, Id, Scalar, Strict

Schema = dict[str, Any]
F = TypeVar("F", bound=Callable[..., Any])

COMPONENTS: Final[dict[str, Schema]] = {}
"""Shapes that have a name, by it."""

_ID: Final = "0190f3a0-5c1e-7000-8000-000000000000"

# ---------------------------------------------------------------- shapes


def _made(schema: Schema, about: str, example: Any) -> Schema:
    if about:
        schema["description"] = about
    if example is not None:
        schema["examples"] = [example]
    return schema


def text(example: str, about: str = "") -> Schema:
    """A text."""
    return _made({"type": "string"}, about, example)


def row_id(about: str = "", example: str = _ID) -> Schema:
    """The id of a row."""
    return _made({"type": "string", "format": "uuid"}, about, example)


def moment(example: str = "2026-11-25T10:00:00Z", about: str = "") -> Schema:
    """A time, ISO 8601 in UTC."""
    return _made({"type": "string", "format": "date-time"}, about, example)


def day(example: str = "2026-12-04", about: str = "") -> Schema:
    """A day, ISO 8601."""
    return _made({"type": "string", "format": "date"}, about, example)


def number(example: float, about: str = "") -> Schema:
    """A number; its name says the unit."""
    return _made({"type": "number"}, about, example)


def whole(example: int, about: str = "") -> Schema:
    """A whole number."""
    return _made({"type": "integer"}, about, example)


def decimal(example: str, about: str = "") -> Schema:
    """A decimal as text, so that nothing of it is lost."""
    return _made({"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$"}, about, example)


def truth(example: bool, about: str = "") -> Schema:
    """True or false."""
    return _made({"type": "boolean"}, about, example)


def one_of(words: Sequence[str], example: str | None = None, about: str = "") -> Schema:
    """One word of those."""
    given = [str(each) for each in words]
    return _made({"type": "string", "enum": given}, about, example or given[0])


def many(items: Schema, about: str = "") -> Schema:
    """A list."""
    return _made({"type": "array", "items": items}, about, None)


def anything(about: str, example: Any) -> Schema:
    """An object of its own contract, which `about` names."""
    return _made({"type": "object", "additionalProperties": True}, about, example)


def or_null(schema: Schema, example: Any = ...) -> Schema:
    """The same, or null. example: null, or another than that of the shape."""
    made = deepcopy(schema)
    if "$ref" in made:
        return {"anyOf": [made, {"type": "null"}]}
    made["type"] = [made["type"], "null"]
    if "enum" in made:
        made["enum"] = [*made["enum"], None]
    if example is not ...:
        made["examples"] = [example]
    return made


def closed(parts: Mapping[str, Schema], *, optional: Sequence[str] = (), about: str = "") -> Schema:
    """An object of these parts and no others."""
    made: Schema = {
        "type": "object",
        "properties": dict(parts),
        "required": [name for name in parts if name not in optional],
        "additionalProperties": False,
    }
    return _made(made, about, None)


def component(name: str, about: str, parts: Mapping[str, Schema], *, optional: Sequence[str] = ()) -> Schema:
    """An object that has a name in the description. Raises KeyError for a name that there is already."""
    if name in COMPONENTS:
        raise KeyError(name)
    COMPONENTS[name] = closed(parts, optional=optional, about=about)
    return {"$ref": f"#/components/schemas/{name}"}


def with_more(known: Schema, **parts: Schema) -> Schema:
    """The object that has a name, with more parts."""
    base = resolved(known)
    return closed({**base["properties"], **parts}, about=base.get("description", ""))


def page_of(items: Schema) -> Schema:
    """One page of a list."""
    after = or_null(row_id("Ask with `?cursor=` this for the page after; null on the last."), None)
    return closed({"items": many(items), "next": after})


def resolved(schema: Schema) -> Schema:
    """The schema itself, where it only names a component."""
    if "$ref" in schema:
        return COMPONENTS[schema["$ref"].rpartition("/")[2]]
    return schema


def example_of(schema: Schema, components: Mapping[str, Schema] = COMPONENTS) -> Any:
    """A value of that shape, put together from the examples of its parts."""
    if "$ref" in schema:
        return example_of(components[schema["$ref"].rpartition("/")[2]], components)
    if schema.get("examples"):
        return schema["examples"][0]
    if "anyOf" in schema:
        return example_of(schema["anyOf"][0], components)
    if "properties" in schema:
        return {name: example_of(part, components) for name, part in schema["properties"].items()}
    if schema.get("type") == "array":
        return [example_of(schema["items"], components)]
    raise LookupError(f"no example for {schema}")


MONEY: Final = component(
    "Money",
    "An amount, as decimal text, with its currency.",
    {"amount": decimal("11.40"), "currency": text("GBP", "ISO 4217.")},
)

PROBLEM: Final = component(
    "Problem",
    "What was refused (RFC 9457). Tell problems apart by `type`, never by wording; figures of the case stand"
    " beside it under names of their own.",
    {
        "type": text("urn:stickbook:problem:stale-version", "Stable."),
        "title": text("Changed by somebody else", "The same for every case."),
        "status": whole(412),
        "detail": text("Somebody else changed this since you opened it.", "Of this case."),
        "instance": text(_ID, "The request; quote it when you report the problem."),
        "problems": many(
            closed(
                {
                    "where": text("rows[2].angle_deg", "The place; empty for the whole."),
                    "text": text("is 190; allowed is above 0 to below 180"),
                    "code": text("out-of-range"),
                }
            ),
            "One entry for each bad input.",
        ),
    },
    optional=("problems",),
)
COMPONENTS["Problem"]["additionalProperties"] = True

# ---------------------------------------------------------------- what a method says of itself


@dataclass(frozen=True, slots=True)
class Operation:
    """What a method says of itself. See `operation`."""

    summary: str
    gives: Schema | None
    takes: type[serializers.Serializer[Any]] | None
    example: Mapping[str, Any] | None
    status: tuple[int, ...]
    query: type[serializers.Serializer[Any]] | Mapping[str, Schema] | None
    files: tuple[str, ...]
    etag: bool
    if_match: bool
    if_none_match: bool
    listed: bool
    refuses: tuple[int, ...]


def operation(
    summary: str,
    *,
    gives: Schema | None = None,
    takes: type[serializers.Serializer[Any]] | None = None,
    example: Mapping[str, Any] | None = None,
    status: int | tuple[int, ...] | None = None,
    query: type[serializers.Serializer[Any]] | Mapping[str, Schema] | None = None,
    files: tuple[str, ...] = (),
    etag: bool = False,
    if_match: bool = False,
    if_none_match: bool = False,
    listed: bool = False,
    refuses: tuple[int, ...] = (),
) -> Callable[[F], F]:
    """Describes a view's method.

    summary: verb and noun; no two are alike.  gives: the answer's shape; None: none (204), or a file.  takes:
    the form of the body, with an example of it.  status: 200 unless told, 204 without an answer.  query: what
    may be asked.  files: media types of the answer, where it is a file.  etag: whether it comes with one.
    if_match: whether it must be sent.  if_none_match: whether it may be sent with the ETag of the answer that
    one has.  listed: whether `gives` is the shape of one item of a paged list.
    refuses: what it refuses with, beside what follows from the rest.
    """
    if status is None:
        status = 200 if gives is not None or files else 204
    said = Operation(
        summary=summary,
        gives=page_of(gives) if listed and gives is not None else gives,
        takes=takes,
        example=example,
        status=status if isinstance(status, tuple) else (status,),
        query=query,
        files=files,
        etag=etag,
        if_match=if_match,
        if_none_match=if_none_match,
        listed=listed,
        refuses=refuses,
    )

    def say(method: F) -> F:
        method.operation = said  # type: ignore[attr-defined]
        return method

    return say


# ---------------------------------------------------------------- what a name means

_TEXTS: Final = frozenset(
    {"name", "code", "client", "site", "label", "from_place", "to_place", "shape", "cause", "reason", "note"}
)
_ANY: Final[Schema] = {"type": ["string", "number", "boolean", "null"]}


def _meaning(name: str) -> Schema:
    """What a plain value of that name is. The command says what it may be. Raises LookupError for a name that
    nothing is known of: then the form says it in `described`."""
    if name in _TEXTS:
        return {"type": "string", "maxLength": LONGEST_TEXT}
    if name.endswith(("_mm", "_deg")):
        return {"type": "number"}
    if name.endswith("_on") or name == "day":
        return {"type": "string", "format": "date"}
    if name.endswith("_at"):
        return {"type": "string", "format": "date-time"}
    if name == "email":
        return {"type": "string", "format": "email"}
    if name.startswith(("is_", "only_")):
        return {"type": "boolean"}
    raise LookupError(f"what is {name}? Say it in the form's `described` (services/core/openapi.py).")


_PAGE: Final[Mapping[str, Schema]] = {
    "cursor": row_id("`next` of the page before."),
    "limit": {
        "type": "integer",
        "minimum": 1,
        "maximum": MOST_ON_A_PAGE,
        "default": USUAL_PAGE,
        "description": "Most items of a page.",
    },
}

_TAGS: Final[Mapping[str, str]] = {
    "projects": "Projects, rooms and runs",
    "planning": "Drafts and releases",
    "tracking": "Pieces and ticks",
    "papers": "Papers",
    "bench": "Benders and formers",
    "costing": "Review",
    "company": "People, crews and settings",
    "pages": "Wall chart and search",
}
"""Headings of the operations, by app, in their order."""

# ---------------------------------------------------------------- the generator's hooks


class Described(AutoSchema):
    """Describes one method by what it says of itself, and by what is alike everywhere."""

    @property
    def said(self) -> Operation:
        """What the method says. Raises LookupError for one that says nothing."""
        method = getattr(self.view, self.method.lower())
        said: Operation | None = getattr(method, "operation", None)
        if said is None:
            raise LookupError(
                f"{type(self.view).__module__}.{type(self.view).__name__}.{self.method.lower()} says nothing"
                " of itself: give it @operation (services/core/openapi.py)."
            )
        return said

    def get_operation_id(self) -> str:
        """The summary as one word."""
        return re.sub(r"[^a-z0-9]+", "-", self.said.summary.lower()).strip("-")

    def get_summary(self) -> str:
        """As said."""
        return self.said.summary

    def get_description(self) -> str:  # type: ignore[override] # the generator calls it so
        """The docstrings of the view and of its method, and who may."""
        own = _words(getattr(self.view, self.method.lower()).__doc__)
        return f"{_words(type(self.view).__doc__)} {own}\n\nFor those with the right “{self._right}”."

    @property
    def _right(self) -> str:
        return str(self.view.rights[self.method].value)  # type: ignore[attr-defined]

    def get_tags(self) -> list[str]:
        """The heading of the view's app."""
        return [_TAGS[type(self.view).__module__.split(".")[1]]]

    def get_extensions(self) -> dict[str, Any]:
        """The right that the method wants."""
        return {"x-right": self._right}

    def get_request_serializer(self) -> Any:
        """The form of the body."""
        return self.said.takes

    def get_response_serializers(self) -> Any:
        """None: answers are shapes, not serializers."""
        return None

    def _get_request_body(self, direction: Any = "request") -> Any:
        if self.said.takes is None:
            return None
        body = super()._get_request_body(direction)  # type: ignore[no-untyped-call]
        if self.said.example is not None:
            for content in body["content"].values():
                content["example"] = self.said.example
        return body

    def _get_parameters(self) -> list[Schema]:
        found: list[Schema] = super()._get_parameters()
        for each in found:
            each.setdefault("description", "The id of the row.")
            each["example"] = _ID
        query = self.said.query or {}
        if isinstance(query, Mapping):
            found += [_parameter("query", name, schema) for name, schema in query.items()]
        else:
            form = self._map_basic_serializer(query, "request")
            found += [
                _parameter("query", name, schema, required=name in form.get("required", ()))
                for name, schema in form["properties"].items()
            ]
        if self.said.listed:
            found += [_parameter("query", name, schema) for name, schema in _PAGE.items()]
        return found + self._headers()

    def _headers(self) -> list[Schema]:
        found = []
        if self.method != "GET":
            about = "The value of the cookie `csrftoken` (`__Host-csrf` in production)."
            found.append(_parameter("header", "X-CSRFToken", text("mK2…", about), required=True))
        if self.said.if_match:
            about = "The ETag that came with what is changed."
            tag = {"type": "string", "pattern": '^"[0-9]{1,9}"$', "description": about, "examples": ['"3"']}
            found.append(_parameter("header", "If-Match", tag, required=True))
        if self.said.if_none_match:
            tag = text('"9f2c…"', "The ETag of the answer that one has: 304 where it still holds.")
            found.append(_parameter("header", "If-None-Match", tag))
        if self._takes_key:
            about = (
                "A UUID, new for each new request. Sent again with the same body within 30 days, the first"
                " answer is told again and nothing is done."
            )
            found.append(_parameter("header", "Idempotency-Key", row_id(about)))
        return found

    @property
    def _takes_key(self) -> bool:
        return bool(getattr(getattr(self.view, self.method.lower()), "takes_key", False))

    def _get_response_bodies(self, direction: Any = "response") -> Schema:
        said = self.said
        headers: Schema = {"X-Request-Id": {"description": "Of this request.", "schema": row_id()}}
        if said.etag:
            about = "The version of what is told; name it in If-Match."
            headers["ETag"] = {"description": about, "schema": {"type": "string", "examples": ['"3"']}}
        if said.if_none_match:
            headers["ETag"] = {
                "description": "Of what is told; see If-None-Match.",
                "schema": {"type": "string"},
            }
        told: Schema = {}
        for status in said.status:
            answer: Schema = {"description": _STATUS_SAID[status], "headers": headers}
            if said.gives is not None:
                answer["content"] = {
                    "application/json": {"schema": said.gives, "example": example_of(said.gives)}
                }
            elif said.files:
                answer["content"] = {each: {"schema": {}} for each in said.files}
            told[str(status)] = answer
        if said.if_none_match:
            told["304"] = {"description": "What one has still holds.", "headers": headers}
        for status in sorted(self._refusals()):
            told[str(status)] = {"$ref": f"#/components/responses/{_response_name(status)}"}
        return told

    def _refusals(self) -> set[int]:
        found = {403, 503, *self.said.refuses}
        if "{" in self.path:
            found.add(404)
        if self.said.query or self.said.listed:
            found.add(400)
        if self.said.takes is not None:
            found |= {400, 413, 415, 422}
        if self.said.if_match:
            found |= {400, 412, 428}
        if self._takes_key:
            found |= {400, 409, 422}
        return found

    def _map_serializer_field(self, field: Any, direction: Any, bypass_extensions: bool = False) -> Any:
        if isinstance(field, Id):
            return row_id()
        if isinstance(field, Scalar):
            described = getattr(field.parent, "described", {})
            if field.field_name in described:
                return described[field.field_name]
            made = _meaning(field.field_name) if field.field_name else dict(_ANY)
            return or_null(made) if field.allow_null and field.field_name else made
        made = super()._map_serializer_field(field, direction, bypass_extensions)  # type: ignore[no-untyped-call]
        made.pop("x-spec-enum-id", None)
        return made

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        made = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        form = serializer if isinstance(serializer, type) else type(serializer)
        if issubclass(form, Strict):
            made["additionalProperties"] = False
        for name, schema in getattr(form, "described", {}).items():
            made["properties"][name] = schema
        if form.__doc__:
            made["description"] = _words(form.__doc__)
        return made


_STATUS_SAID: Final[Mapping[int, str]] = {200: "Done.", 201: "Made.", 204: "Done; there is nothing to tell."}


def _words(doc: str | None) -> str:
    """A docstring on one line."""
    return " ".join((doc or "").split())


def _parameter(where: str, name: str, schema: Schema, *, required: bool = False) -> Schema:
    inner = dict(schema)
    made: Schema = {"in": where, "name": name, "schema": inner}
    if about := inner.pop("description", ""):
        made["description"] = about
    if required:
        made["required"] = True
    return made


# ---------------------------------------------------------------- problems

_FRAMEWORK: Final[Mapping[int, tuple[str, str, str]]] = {
    403: ("not-authenticated", "Authentication credentials were not provided.", "Nobody is signed in."),
    415: (
        "unsupported-media-type",
        "Unsupported media type in request.",
        "The body is of another type.",
    ),
}
"""What Django REST framework refuses with beside ours: code, title, and when."""


def _response_name(status: int) -> str:
    return f"Problem{status}"


def _responses() -> Schema:
    """One named answer for each status that we refuse with, made from the table of problems."""
    classes: dict[int, list[type[errors.DomainError]]] = {}
    for each, status in problems.STATUS.items():
        classes.setdefault(status, []).append(each)
    made: Schema = {}
    for status in sorted({*classes, *_FRAMEWORK}):
        said = [f"`{each.code}`: {_words(each.__doc__)}" for each in classes.get(status, [])]
        shown: list[Schema] = []
        if status in classes:
            first = classes[status][0]
            shown.append(_problem(first.code, first.title, status, _words(first.__doc__)))
        if status in _FRAMEWORK:
            code, title, when = _FRAMEWORK[status]
            said.append(f"`{code}`: {when}")
            shown.append(_problem(code, title, status, when))
        answer: Schema = {
            "description": "\n".join(said),
            "content": {"application/problem+json": {"schema": PROBLEM, "example": shown[0]}},
        }
        if status in (409, 429, 503):
            about = "Seconds after which to try again" + ("; with `still-running`." if status == 409 else ".")
            answer["headers"] = {"Retry-After": {"description": about, "schema": {"type": "integer"}}}
        made[_response_name(status)] = answer
    return made


def _problem(code: str, title: str, status: int, detail: str) -> Schema:
    return {
        "type": f"urn:stickbook:problem:{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "instance": _ID,
    }


def complete(result: Schema, **_others: Any) -> Schema:
    """Adds what has a name: shapes of answers, and refusals. Called by the generator."""
    components = result.setdefault("components", {})
    components.setdefault("schemas", {}).update(COMPONENTS)
    components["responses"] = _responses()
    used = {operation["tags"][0] for path in result["paths"].values() for operation in path.values()}
    result["tags"] = [{"name": name} for name in _TAGS.values() if name in used]
    return result


@lru_cache(maxsize=1)
def document() -> Schema:
    """The description of the whole API, made once a process. Not to be changed."""
    made: Schema = SchemaGenerator().get_schema(public=True)  # type: ignore[no-untyped-call]
    return made
