"""JSON as the API takes it: bounded and strict before anything of it is looked at."""

import json
import math
from collections.abc import Mapping
from typing import Any, Final, NoReturn

from django.utils.translation import gettext as _
from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

DEEPEST: Final = 16
"""Lists and objects inside one another. The deepest that we ask for is 5: ticks, a tick, its figures, a
figure."""


class StrictJSONParser(JSONParser):
    """UTF-8 JSON without what a database or a float cannot keep; says what is wrong, as malformed (400)."""

    def parse(
        self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The value. Raises ParseError."""
        try:
            value = json.loads(
                stream.read().decode("utf-8"),
                parse_constant=_no_constant,
                parse_float=_finite,
                object_pairs_hook=_once,
            )
        except RecursionError:
            raise ParseError(_too_deep()) from None
        except UnicodeDecodeError:
            raise ParseError(_("The body is not UTF-8.")) from None
        except ValueError as error:
            raise ParseError(_("The body is not JSON: %(error)s") % {"error": error}) from None
        _check(value)
        return value


def _too_deep() -> str:
    return _("The body is nested deeper than %(deepest)d.") % {"deepest": DEEPEST}


def _no_constant(name: str) -> NoReturn:
    raise ParseError(_("%(name)s is not a number of JSON.") % {"name": name})


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ParseError(_("%(text)s is too large a number.") % {"text": text[:40]})
    return number


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise ParseError(_("The key %(name)s stands twice in one object.") % {"name": name[:40]})
        found[name] = value
    return found


def _check(value: Any) -> None:
    """Level by level, not by recursion: its own depth is what is in doubt."""
    level = [value]
    for _depth in range(DEEPEST + 1):
        below: list[Any] = []
        for each in level:
            if isinstance(each, str):
                _check_text(each)
            elif isinstance(each, dict):
                for name in each:
                    _check_text(name)
                below.extend(each.values())
            elif isinstance(each, list):
                below.extend(each)
        if not below:
            return
        level = below
    raise ParseError(_too_deep())


def _check_text(text: str) -> None:
    if "\x00" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise ParseError(_("A text holds a sign that is none: NUL, or half of a pair."))
