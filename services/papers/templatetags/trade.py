"""In templates: the company's trade words, and figures as a tape reads. Nothing is rounded in a template."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import template
from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.catalogue import conduit as conduit_row
from bendcore.units import Deg, Mm, Units
from bendcore.words import Dialect
from services.core import money as core_money
from services.core import words
from services.papers import rules

register = template.Library()


def units_of(context: Mapping[str, Any]) -> Units:
    """The company's units."""
    return Units(context["company"].units)


def dialect_of(context: Mapping[str, Any]) -> Dialect:
    """The company's words."""
    return Dialect(context["company"].words)


@register.simple_tag(takes_context=True)
def word(context: Mapping[str, Any], name: str, form: str = "") -> str:
    """The company's word. form: "plural", "Large" for a first letter large, or both."""
    said = words.word(name, dialect_of(context))
    if "plural" in form:
        said = words.plural(said)
    return said[:1].upper() + said[1:] if "Large" in form else said


@register.simple_tag(takes_context=True)
def counted(context: Mapping[str, Any], count: int, name: str) -> str:
    """A count with its word: "3 lengths"."""
    return words.counted(count, name, dialect_of(context))


@register.simple_tag(takes_context=True)
def state_word(context: Mapping[str, Any], name: str) -> str:
    """A state as the company says it."""
    return words.state(name, dialect_of(context))


@register.simple_tag(takes_context=True)
def length(context: Mapping[str, Any], millimetres: float | None) -> str:
    """The bare figure that a tape shows; a dash where there is none."""
    return "–" if millimetres is None else tape.read(Mm(float(millimetres)), units_of(context))


@register.simple_tag(takes_context=True)
def length_said(context: Mapping[str, Any], millimetres: float | None) -> str:
    """The figure that a tape shows, with its unit."""
    return "–" if millimetres is None else tape.say(Mm(float(millimetres)), units_of(context))


@register.simple_tag(takes_context=True)
def total(context: Mapping[str, Any], millimetres: float) -> str:
    """A total of conduit: metres, or feet and inches."""
    return tape.metres(Mm(float(millimetres)), units_of(context))


@register.simple_tag(takes_context=True)
def total_metres(context: Mapping[str, Any], metres: Decimal) -> str:
    """A total that is kept in metres."""
    return tape.metres(Mm(float(metres) * 1000.0), units_of(context))


@register.simple_tag(takes_context=True)
def unit(context: Mapping[str, Any]) -> str:
    """The unit of a tape's figure."""
    return units_of(context).value


@register.filter
def degrees(angle: float | None) -> str:
    """An angle to one decimal at most; a dash where there is none."""
    return "–" if angle is None else tape.degrees(Deg(float(angle)))


@register.simple_tag(takes_context=True)
def money(context: Mapping[str, Any], amount: Decimal, currency: str = "") -> str:
    """An amount with its currency."""
    return core_money.said(amount, currency or context["company"].currency)


@register.filter
def conduit_title(conduit_id: str) -> str:
    """A conduit by its name in the catalogue: "20 mm steel, heavy"."""
    try:
        return conduit_row(conduit_id).title
    except KeyError:
        return conduit_id


@register.simple_tag(takes_context=True)
def next_said(context: Mapping[str, Any], state: str, bends: int) -> str:
    """What is to be done next on a piece in a state, as a crew's sheet says it; empty where nothing is."""
    if state == "checked":
        return words.word("install", dialect_of(context))
    if not bends and state in rules.NEXT_OF_STRAIGHT:
        return _(rules.NEXT_OF_STRAIGHT[state])
    return _(rules.NEXT[state]) if state in rules.NEXT else ""


@register.inclusion_tag("papers/glyph.html")
def glyph(name: str) -> dict[str, str]:
    """The shape of a state, for a line of text; the word stands beside it."""
    return {"name": name}
