"""Shapes of what the API tells of people, crews and settings, with examples of an invented company."""

from typing import Final

from services.company.models import ReadUnits, Role, Rules, Words
from services.company.rights import Right
from services.company.rules import COSTS, PAPERS, SETTINGS
from services.core.openapi import (
    Schema,
    closed,
    component,
    many,
    moment,
    number,
    one_of,
    or_null,
    row_id,
    text,
    truth,
    with_more,
)

CREW: Final = component("Crew", "A crew.", {"id": row_id(), "name": text("North gang")})

CREW_WITH_MEMBERS: Final = with_more(
    CREW, members=many(closed({"id": row_id("As of a person."), "name": text("Ada Wray")}))
)

PERSON: Final = component(
    "Person",
    "Somebody who is or was in the company; `is_active` false: let go, or left.",
    {
        "id": row_id("Of their place in the company."),
        "name": text("Ada Wray"),
        "email": text("ada.wray@ostley.example"),
        "role": one_of(Role.values, Role.FOREMAN),
        "is_active": truth(True),
        "crews": many(CREW),
    },
)

INVITATION: Final = component(
    "Invitation",
    "An invitation that is open; without its token.",
    {
        "id": row_id(),
        "email": text("tom.birch@ostley.example"),
        "role": one_of(Role.values),
        "crews": many(row_id("Of a crew.")),
        "made_at": moment(),
        "expires_at": moment("2026-12-02T10:00:00Z"),
    },
)

TOKEN: Final = or_null(
    text("xv4kV0yB9bT4vJk7dM0m3o9Qf1b6bqkCwq8yq0hGm2s", "Told once: null where this answer is told again.")
)

INVITATION_MADE: Final = with_more(INVITATION, token=TOKEN)

RESET: Final = component(
    "Reset",
    "A link with which a person sets a new password.",
    {"id": row_id(), "expires_at": moment("2026-11-26T10:00:00Z"), "token": TOKEN},
)

SETTINGS_PARTS: Final[dict[str, Schema]] = {
    "name": text("Ostley Electrical"),
    "words": one_of(Words.values),
    "units": one_of(ReadUnits.values),
    "currency": text("GBP", "ISO 4217."),
    "time_zone": text("Europe/London", "Of the IANA time zone database."),
    "paper": one_of(PAPERS),
    "rules": one_of(Rules.values),
    "foreman_sees_money": truth(False),
    "tolerance_deg": number(1.0),
    "risk": number(0.05, "Of bending too far, from 0 to 1."),
    "joint_costs": closed(
        {name: or_null(number(1.5, "Of one, in the company's currency.")) for name in COSTS}, optional=COSTS
    ),
    "clearance_mm": number(90.0),
    "min_piece_mm": number(150.0),
    "kerf_mm": number(2.0),
    "least_offcut_mm": number(300.0),
    "tolerance_mm": number(2.0),
    "long_thread_mm": or_null(number(60.0)),
    "union_gap_mm": or_null(number(38.0)),
}

SETTINGS_TOLD: Final = component(
    "Settings",
    "All that a company may set. Lengths in mm.",
    {name: SETTINGS_PARTS[name] for name in SETTINGS},
)

RIGHTS_TOLD: Final = closed(
    {
        "items": many(
            closed(
                {
                    "right": one_of([each.value for each in Right]),
                    "roles": many(one_of(Role.values)),
                }
            )
        )
    }
)

WORDS_OF_ROLE: Final[dict[str, Schema]] = {"role": one_of(Role.values)}
