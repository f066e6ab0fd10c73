"""Who may do what: one table, read by commands, pages and API alike."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _

from services.company.models import Role
from services.core.commands import Actor
from services.core.errors import NotAllowed


class Right(StrEnum):
    """What a role may be allowed."""

    SEE_WORK = "see work"
    TICK = "tick work"
    SURVEY = "survey and plan"
    RELEASE = "release and assign"
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
    Right.BENDERS: frozenset({_F, _A}),
    Right.STOCK: frozenset({_F, _M, _A}),
    Right.SEE_MONEY: frozenset({_M, _A}),
    Right.PRICES: frozenset({_M, _A}),
    Right.PEOPLE: frozenset({_A}),
    Right.SETTINGS: frozenset({_A}),
}


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
