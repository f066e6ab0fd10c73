"""Who may do what: one table, read by commands, pages and API alike."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from services.company.models import Role
from services.core.commands import Actor
from services.core.errors import NotAllowed


class Right(StrEnum):
    """What a role may be allowed."""

    SEE_WORK = "see work"
    TICK = "tick work"
    SURVEY = "survey and plan"
    RELEASE = "release and assign"
    OVERRIDE = "let a rule's stop pass"
    BENDERS = "keep benders and formers"
    STOCK = "keep stock"
    SEE_MONEY = "see money"
    PRICES = "keep prices"
    PEOPLE = "keep people and crews"
    SETTINGS = "change settings"


_E, _F, _M, _A = Role.ELECTRICIAN, Role.FOREMAN, Role.MANAGER, Role.ADMINISTRATOR

RIGHTS: Final[Mapping[Right, frozenset[str]]] = {
    Right.SEE_WORK: frozenset({_E, _F, _M, _A}),
    Right.TICK: frozenset({_E, _F}),
    Right.SURVEY: frozenset({_F}),
    Right.RELEASE: frozenset({_F}),
    Right.OVERRIDE: frozenset({_M}),
    Right.BENDERS: frozenset({_F, _A}),
    Right.STOCK: frozenset({_F, _M, _A}),
    Right.SEE_MONEY: frozenset({_M, _A}),
    Right.PRICES: frozenset({_M, _A}),
    Right.PEOPLE: frozenset({_A}),
    Right.SETTINGS: frozenset({_A}),
}


SAID: Final[Mapping[Right, object]] = {
    Right.SEE_WORK: gettext_lazy("See jobs, rooms, runs, pieces and the wall chart"),
    Right.TICK: gettext_lazy("Tick what was done to a piece, and scrap it"),
    Right.SURVEY: gettext_lazy("Open projects and rooms, and type and plan runs"),
    Right.RELEASE: gettext_lazy("Release runs, give work to others, and settle what is held"),
    Right.OVERRIDE: gettext_lazy("Let a stop of the rule pack pass, with a reason"),
    Right.BENDERS: gettext_lazy("Keep benders and what they bend with"),
    Right.STOCK: gettext_lazy("Say what came into stock"),
    Right.SEE_MONEY: gettext_lazy("See prices and what material and scrap cost"),
    Right.PRICES: gettext_lazy("Set prices"),
    Right.PEOPLE: gettext_lazy("Invite people, change their roles, let them go, and form crews"),
    Right.SETTINGS: gettext_lazy("Change the company’s settings"),
}
"""Each right as a person understands it, for the page of rights."""


def may(role: str, right: Right, *, foreman_sees_money: bool = False) -> bool:
    """Whether a role has a right. A foreman sees money where the company says so."""
    if right is Right.SEE_MONEY and role == Role.FOREMAN:
        return foreman_sees_money
    return role in RIGHTS[right]


def require(actor: Actor, right: Right) -> None:
    """Raises NotAllowed unless the actor's role has the right; it says which roles have."""
    if not may(actor.role, right):
        holders = _(" or ").join(_(role) for role in sorted(RIGHTS[right]))
        raise NotAllowed(
            _("To %(right)s is for %(holders)s; you are signed in as %(role)s.")
            % {"right": _(right), "holders": holders, "role": _(actor.role)}
        )
