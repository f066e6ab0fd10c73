"""Changes of companies, people, crews, settings, and of the links that let people in."""

from services.company.commands.crews import change_crew, disband_crew, form_crew
from services.company.commands.links import (
    accept_invitation,
    invite,
    make_reset_link,
    use_reset_link,
    withdraw_invitation,
)
from services.company.commands.people import (
    add_member,
    change_own_mail,
    change_own_password,
    change_role,
    correct_mail,
    leave,
    let_go,
    rename_self,
    take_back,
)
from services.company.commands.settings import change_settings, found_company

__all__ = [
    "accept_invitation",
    "add_member",
    "change_crew",
    "change_own_mail",
    "change_own_password",
    "change_role",
    "change_settings",
    "correct_mail",
    "disband_crew",
    "form_crew",
    "found_company",
    "invite",
    "leave",
    "let_go",
    "make_reset_link",
    "rename_self",
    "take_back",
    "use_reset_link",
    "withdraw_invitation",
]
