"""What the API's views share: strict input, versions in headers, lists by page."""

import re
import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, ClassVar, Final, TypeVar

from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from services.core.commands import Actor
from services.core.errors import Malformed, MustNameVersion

MOST_ON_A_PAGE: Final = 200
USUAL_PAGE: Final = 50
LONGEST_TEXT: Final = 1000
"""Of any one text in a body. What a field allows is the command's to say, and shorter."""


T = TypeVar("T")

# ---------------------------------------------------------------- input


class Strict(serializers.Serializer[Any]):
    """An object whose keys are those declared, and no others."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuses strangers beside what the fields refuse themselves."""
        strangers: dict[str, list[str]] = {}
        if isinstance(data, Mapping):
            known = ", ".join(name for name, field in self.fields.items() if not field.read_only)
            strangers = {
                str(name)[:40]: [_("is not among the keys: %(known)s") % {"known": known}]
                for name in data
                if name not in self.fields
            }
        try:
            value = super().to_internal_value(data)
        except serializers.ValidationError as error:
            if strangers and isinstance(error.detail, dict):
                raise serializers.ValidationError({**error.detail, **strangers}) from None
            raise
        if strangers:
            raise serializers.ValidationError(strangers)
        return value


class Scalar(serializers.Field[Any, Any, Any, Any]):
    """A text, number, truth value or null, left as it came: the command says what is allowed, with its
    place."""

    default_error_messages: ClassVar = {
        "nested": "must be a single value, neither a list nor an object",
        "long": "has {count} characters; at most {most} are allowed",
    }

    def to_internal_value(self, data: Any) -> Any:
        """The value itself."""
        if isinstance(data, (list, dict)):
            self.fail("nested")
        if isinstance(data, str) and len(data) > LONGEST_TEXT:
            self.fail("long", count=len(data), most=LONGEST_TEXT)
        return data

    def to_representation(self, value: Any) -> Any:
        """The value itself."""
        return value


class Id(serializers.Field[uuid.UUID, Any, Any, Any]):
    """The name of a row: a UUID as text."""

    default_error_messages: ClassVar = {
        "invalid": "must be a UUID as text, such as 0190f3a0-0000-7000-8000-000000000000"
    }

    def to_internal_value(self, data: Any) -> uuid.UUID:
        """The name."""
        if isinstance(data, str) and re.fullmatch(
            r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}", data
        ):
            return uuid.UUID(data)
        return self.fail("invalid")

    def to_representation(self, value: uuid.UUID) -> str:
        """As text."""
        return str(value)


def taken(form: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
    """The request's body by that form. Raises DRF's ValidationError, told as 400 with the place of each
    problem."""
    checked = form(data=request.data)
    checked.is_valid(raise_exception=True)
    return dict(checked.validated_data)


def actor_of(request: Request) -> Actor:
    """Who asks; the gate has let nobody through without one."""
    actor: Actor = request._request.actor  # type: ignore[attr-defined]
    return actor


# ---------------------------------------------------------------- versions

_ETAG: Final = re.compile(r'"([0-9]{1,9})"')


def etag(version: int) -> str:
    """The strong ETag of a version (RFC 9110, section 8.8.3)."""
    return f'"{version}"'


def seen_by(request: Request) -> int:
    """The version that the request says it changes. Raises MustNameVersion (428) without If-Match, Malformed
    for
    anything but one strong ETag of ours: a change made to whatever stands there overwrites somebody
    unseen."""
    given = request.headers.get("If-Match", "").strip()
    if not given:
        raise MustNameVersion(
            _("Send If-Match with the ETag that came with what you changed; get it anew if you have none.")
        )
    match = _ETAG.fullmatch(given)
    if match is None:
        raise Malformed(_('If-Match takes one ETag as it was given, such as "3"; neither * nor a weak one.'))
    return int(match[1])


def versioned(body: Mapping[str, Any], version: int, *, status: int = 200) -> Response:
    """An answer with its version as ETag."""
    return Response(body, status=status, headers={"ETag": etag(version)})


# ---------------------------------------------------------------- lists


class _Page(Strict):
    cursor = Id(required=False)
    limit = serializers.RegexField(r"^[0-9]{1,3}$", required=False)


def listed(
    request: Request,
    rows: Sequence[T],
    told: Callable[[T], Mapping[str, Any]],
    *,
    key: Callable[[T], Any] | None = None,
    beside: Sequence[str] = (),
) -> Response:
    """One page of rows: `items`, and `next`, the cursor of the page after it, null on the last.

    The cursor is the name of the last row told. limit: 1 to 200, 50 without. beside: what else may be asked,
    which the
    view has judged. Raises DRF's ValidationError.
    """
    name = key or _pk
    asked = _Page(data={name: value for name, value in request.query_params.items() if name not in beside})
    asked.is_valid(raise_exception=True)
    limit = int(asked.validated_data.get("limit", USUAL_PAGE))
    if not 1 <= limit <= MOST_ON_A_PAGE:
        raise serializers.ValidationError(
            {
                "limit": [
                    _("is %(limit)d; allowed are 1 to %(most)d") % {"limit": limit, "most": MOST_ON_A_PAGE}
                ]
            }
        )
    start = 0
    if "cursor" in asked.validated_data:
        start = 1 + _place(rows, asked.validated_data["cursor"], name)
    page = rows[start : start + limit]
    more = start + limit < len(rows)
    return Response({"items": [told(row) for row in page], "next": str(name(page[-1])) if more else None})


def _pk(row: Any) -> Any:
    return row.pk


def _place(rows: Iterable[T], cursor: uuid.UUID, name: Callable[[T], Any]) -> int:
    for place, row in enumerate(rows):
        if name(row) == cursor:
            return place
    raise serializers.ValidationError(
        {"cursor": [_("is not in this list any more; begin with its first page")]}
    )
