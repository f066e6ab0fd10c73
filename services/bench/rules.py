"""What a former's figures may be."""

from collections.abc import Mapping
from typing import Final, TypedDict

from django.utils.translation import gettext as _

from bendcore import catalogue
from services.bench.models import Line
from services.core.checks import Checks, said

LARGEST_RADIUS_MM: Final = 5000.0
"""Beyond this a former's radius is a slip of the keyboard."""

FARTHEST_MM: Final = 1000.0
"""Take-up and reach stay within this, either way."""


class Figures(TypedDict, total=False):
    """The figures of a former that a person may change. Lengths in mm, angles in degrees; k has no unit."""

    centreline_radius_mm: float
    line: str
    take_up_mm: float | None
    reach_mm: float | None
    k: float | None
    c_deg: float | None
    sd_deg: float | None
    scale_deg: float | None


LONGEST_STRAIGHT_MM: Final = 5000.0
"""A least straight beyond this is a slip of the keyboard."""


class Body(TypedDict, total=False):
    """What a person may change of a bender. shape: one of the engine's catalogue, or empty; lengths in mm."""

    name: str
    shape: str
    hold_min_mm: float | None
    swing_min_mm: float | None


def body(checks: Checks, given: Body) -> Body:
    """What is given of a bender as it is kept; what is wrong goes to `checks`, each with its field."""
    kept: Body = {}
    if "name" in given:
        kept["name"] = checks.text("name", given["name"], longest=80)
    if "shape" in given:
        kept["shape"] = (
            ""
            if given["shape"] == ""
            else checks.choice("shape", given["shape"], list(catalogue.bender_shapes()))
        )
    if "hold_min_mm" in given:
        kept["hold_min_mm"] = _straight(checks, "hold_min_mm", given["hold_min_mm"])
    if "swing_min_mm" in given:
        kept["swing_min_mm"] = _straight(checks, "swing_min_mm", given["swing_min_mm"])
    return kept


def _straight(checks: Checks, name: str, value: object) -> float | None:
    if value is None:
        return None
    return checks.number(name, value, unit="mm", at_least=0.0, at_most=LONGEST_STRAIGHT_MM)


def conduit(checks: Checks, value: object) -> str:
    """The id of a conduit in the engine's catalogue; what is wrong goes to `checks`."""
    ids = catalogue.conduit_ids()
    if isinstance(value, str) and value in ids:
        return value
    checks.refuse(
        "conduit",
        _("is %(value)s; allowed are %(ids)s") % {"value": said(value), "ids": ", ".join(ids)},
        "not-a-choice",
    )
    return ""


def figures(checks: Checks, given: Mapping[str, object], *, conduit: str) -> Figures:
    """A former's figures as they are kept; what is wrong goes to `checks`, each with its field.

    given: all of them, None for what is not known.  conduit: its id; empty if that was refused.
    The radius must be above half the outside diameter (else the throat of the bend would close up); a take-up
    goes with the line `arrow` only and is needed there, a reach with `own`. k, c and sd give pulls once all
    three are known; their bounds are those of the engine's contract.
    """
    half = catalogue.conduit(conduit).outside_diameter / 2.0 if conduit else 0.0
    radius = checks.number(
        "centreline_radius_mm",
        given.get("centreline_radius_mm"),
        unit="mm",
        above=half,
        at_most=LARGEST_RADIUS_MM,
    )
    line = checks.choice("line", given.get("line"), Line.values)
    return Figures(
        centreline_radius_mm=radius,
        line=line,
        take_up_mm=_of_line(checks, "take_up_mm", given.get("take_up_mm"), line=line, only=Line.ARROW),
        reach_mm=_of_line(checks, "reach_mm", given.get("reach_mm"), line=line, only=Line.OWN),
        k=None if (k := given.get("k")) is None else checks.number("k", k, at_least=-0.5, below=0.9),
        c_deg=None
        if (c := given.get("c_deg")) is None
        else checks.number("c_deg", c, unit="°", at_least=-30.0, at_most=30.0),
        sd_deg=None
        if (sd := given.get("sd_deg")) is None
        else checks.number("sd_deg", sd, unit="°", at_least=0.0, at_most=45.0),
        scale_deg=None
        if (scale := given.get("scale_deg")) is None
        else checks.number("scale_deg", scale, unit="°", above=0.0, at_most=45.0),
    )


def _of_line(checks: Checks, name: str, value: object, *, line: str, only: Line) -> float | None:
    """A length that goes with one kind of set line, and is needed there."""
    if value is None:
        if line == only:
            checks.refuse(name, _("is missing: the line %(only)s needs it, in mm") % {"only": only.value})
        return None
    if line and line != only:
        checks.refuse(
            name,
            _("goes with the line %(only)s alone; here the line is %(line)s")
            % {"only": only.value, "line": line},
        )
    return checks.number(name, value, unit="mm", at_least=-FARTHEST_MM, at_most=FARTHEST_MM)
