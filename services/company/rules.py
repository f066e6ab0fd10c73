"""What settings, mail addresses and one-time links may be: values in, a value or a problem out."""

import dataclasses
import hashlib
import math
import re
import secrets
from collections.abc import Mapping
from datetime import timedelta
from functools import lru_cache
from typing import Any, Final
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.spec import CostsAsked
from bendcore.units import MM_PER_INCH, Mm, Units
from services.company.models import ReadUnits, Role, Rules, Words
from services.core.checks import Checks, said
from services.core.errors import FieldProblem, Invalid

# ---------------------------------------------------------------- one-time links

TOKEN_BYTES: Final = 32
"""256 bits: nobody guesses one."""

INVITATION_LASTS: Final = timedelta(days=7)
RESET_LASTS: Final = timedelta(hours=24)


def fresh_token() -> str:
    """The secret of a new link, as it stands in the address."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def hash_of(token: str) -> str:
    """What is kept of a token: its SHA-256, in hex. No salt and no slow hash: it is random already."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def token_in(text: str) -> str:
    """The token in what was pasted: the token itself, or a whole link, whose token follows its #."""
    return text.strip().rpartition("#")[2][:200]


def dead_link() -> Invalid:
    """What is said of a link that opens nothing, whatever the reason."""
    return Invalid(
        [
            FieldProblem(
                "token",
                _(
                    "This link opens nothing: it was used, withdrawn, replaced by a newer one, or its time is"
                    " up. Ask an administrator of your company for a new one."
                ),
                "dead",
            )
        ]
    )


# ---------------------------------------------------------------- people

LONGEST_MAIL: Final = 254
LONGEST_NAME: Final = 120


def checked_mail(checks: Checks, where: str, value: object) -> str:
    """A mail address in small letters."""
    line = checks.text(where, value, longest=LONGEST_MAIL).lower()
    if line:
        try:
            validate_email(line)
        except ValidationError:
            checks.refuse(
                where, _("is %(value)s; a mail address is wanted: name@place") % {"value": said(line)}
            )
    return line


def checked_role(checks: Checks, value: object) -> str:
    """One of the roles."""
    return checks.choice("role", value, Role.values)


# ---------------------------------------------------------------- settings

LENGTHS: Final[Mapping[str, tuple[float, float]]] = {
    "clearance_mm": (0.0, 2000.0),
    "min_piece_mm": (0.0, 3000.0),
    "kerf_mm": (0.0, 20.0),
    "least_offcut_mm": (0.0, 6000.0),
    "tolerance_mm": (0.1, 50.0),
    "long_thread_mm": (0.0, 500.0),
    "union_gap_mm": (0.0, 500.0),
}
"""Least and most of each length, mm."""

MAY_BE_UNTOLD: Final = ("long_thread_mm", "union_gap_mm")
"""None: the engine plans without, and warns."""

COSTS: Final = tuple(each.name for each in dataclasses.fields(CostsAsked))
"""What a joint's parts may cost, by the engine's contract."""

MOST_COST: Final = 1e7
PAPERS: Final = ("A4", "Letter")

SETTINGS: Final = (
    "name",
    "words",
    "units",
    "currency",
    "time_zone",
    "paper",
    "rules",
    "foreman_sees_money",
    "tolerance_deg",
    "risk",
    "joint_costs",
    *LENGTHS,
)
"""All that an administrator may set."""


@lru_cache(maxsize=1)
def time_zones() -> tuple[str, ...]:
    """The time zones that people live in, by name: continent and city, and UTC."""
    named = (each for each in available_timezones() if "/" in each and not each.startswith("Etc/"))
    return (*sorted(named), "UTC")


def checked_settings(checks: Checks, given: Mapping[str, Any], *, units: str) -> dict[str, Any]:
    """The settings that were given, as they are kept; the rest stays out.

    units: of the company now, in which a problem tells lengths.
    """
    kept: dict[str, Any] = {}
    for name, value in given.items():
        if name in LENGTHS:
            kept[name] = _length(checks, name, value, Units(units))
        elif name == "name":
            kept[name] = checks.text(name, value, longest=120)
        elif name == "words":
            kept[name] = checks.choice(name, value, Words.values)
        elif name == "units":
            kept[name] = checks.choice(name, value, ReadUnits.values)
        elif name == "paper":
            kept[name] = checks.choice(name, value, PAPERS)
        elif name == "rules":
            kept[name] = "" if value in ("", None) else checks.choice(name, value, Rules.values)
        elif name == "currency":
            kept[name] = _currency(checks, value)
        elif name == "time_zone":
            kept[name] = _time_zone(checks, value)
        elif name == "tolerance_deg":
            kept[name] = checks.number(name, value, unit="°", at_least=0.1, at_most=10.0)
        elif name == "risk":
            kept[name] = checks.number(name, value, at_least=0.001, at_most=0.5)
        elif name == "joint_costs":
            kept[name] = _costs(checks, value)
        elif name == "foreman_sees_money":
            kept[name] = value if isinstance(value, bool) else _no_boolean(checks, name, value)
        else:
            checks.refuse(str(name)[:40], _("is no setting"))
    return kept


def _length(checks: Checks, name: str, value: object, units: Units) -> float | None:
    if value is None and name in MAY_BE_UNTOLD:
        return None
    least, most = LENGTHS[name]
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if is_number and least <= value <= most:  # type: ignore[operator]
        return float(value)  # type: ignore[arg-type]
    told = said(value)
    if is_number and abs(value) <= 1e9:  # type: ignore[arg-type]
        told = tape.say(Mm(float(value)), units)  # type: ignore[arg-type]
    checks.refuse(
        name,
        _("is %(value)s; allowed are %(least)s to %(most)s")
        % {
            "value": told,
            "least": _bound(least, units, up=True),
            "most": _bound(most, units, up=False),
        },
        "out-of-range" if is_number else "wrong-type",
    )
    return None


def _bound(length: float, units: Units, *, up: bool) -> str:
    """A bound with its unit, on a division of the tape that is itself allowed."""
    if units is Units.MM:
        return f"{length:g} mm"
    parts = length / MM_PER_INCH * 16
    parts = math.ceil(parts - 1e-9) if up else math.floor(parts + 1e-9)
    return tape.say(Mm(parts * MM_PER_INCH / 16), units)


def _currency(checks: Checks, value: object) -> str:
    """The three letters of ISO 4217. Which of them are in use is the administrator's to know."""
    code = value.strip().upper() if isinstance(value, str) else ""
    if re.fullmatch(r"[A-Z]{3}", code) is None:
        checks.refuse(
            "currency",
            _("is %(value)s; three letters are wanted, such as GBP, EUR or USD") % {"value": said(value)},
        )
        return ""
    return code


def _time_zone(checks: Checks, value: object) -> str:
    if isinstance(value, str) and value in time_zones():
        return value
    checks.refuse(
        "time_zone",
        _("is %(value)s; a continent and a city are wanted, such as Europe/London") % {"value": said(value)},
        "not-a-choice",
    )
    return ""


def _no_boolean(checks: Checks, name: str, value: object) -> bool:
    checks.refuse(name, _("is %(value)s; true or false is wanted") % {"value": said(value)}, "wrong-type")
    return False


def _costs(checks: Checks, value: object) -> dict[str, float]:
    """Costs by the engine's keys; what is null or left out costs nothing and is not kept."""
    if not isinstance(value, Mapping):
        checks.refuse(
            "joint_costs",
            _("is %(value)s; an object is wanted, with any of %(keys)s")
            % {"value": said(value), "keys": ", ".join(COSTS)},
            "wrong-type",
        )
        return {}
    kept: dict[str, float] = {}
    for name, cost in value.items():
        if name not in COSTS:
            checks.refuse(
                f"joint_costs.{str(name)[:40]}",
                _("is not among the costs: %(keys)s") % {"keys": ", ".join(COSTS)},
            )
        elif cost is not None:
            kept[name] = checks.number(f"joint_costs.{name}", cost, at_least=0.0, at_most=MOST_COST)
    return kept
