"""Shapes of what the API tells of the wall chart, and of what a search finds."""

from typing import Final

from services.core.openapi import (
    Schema,
    closed,
    component,
    day,
    many,
    number,
    one_of,
    or_null,
    row_id,
    text,
    truth,
    whole,
)
from services.pages.overview import STATES, Sort
from services.projects.answers import PROJECT, ROOM
from services.tracking.answers import PIECE

CHART_RUN: Final = component(
    "ChartRun",
    "A run as it stands on the wall chart. Lengths in mm, by state.",
    {
        "id": row_id(),
        "label": text("07"),
        "room": row_id(),
        "from_place": text("Distribution board"),
        "to_place": text("Pump 1"),
        "conduit": text("steel-20-heavy"),
        "crew": or_null(row_id(), None),
        "fitting_crew": or_null(row_id(), None),
        "due_on": or_null(day(), None),
        "priority": whole(2, "1 goes first, 3 last."),
        "is_released": truth(True),
        "is_late": truth(False),
        "is_stopped": truth(False),
        "is_to_measure": truth(False),
        "outcome": or_null(text("sound", "What the engine says of a draft; null where not asked."), None),
        "why": text("", "The first thing that it says."),
        "held": whole(0, "Ticks that wait for the foreman."),
        "sticks": many(
            closed({"state": one_of(STATES, "cut"), "count": whole(1), "length_mm": number(3479.6)})
        ),
        "version": whole(2),
    },
)

FOUND: Final = component(
    "Found",
    "What is called so, at most 20 of each kind.",
    {
        "text": text("07"),
        "projects": many(PROJECT),
        "rooms": many(ROOM),
        "runs": many(
            closed(
                {
                    "id": row_id(),
                    "room": row_id(),
                    "project": row_id(),
                    "label": text("07"),
                    "from_place": text("Distribution board"),
                    "to_place": text("Pump 1"),
                }
            )
        ),
        "pieces": many(PIECE),
        "more": many(text("runs"), "The kinds of which there are more."),
    },
)

CHART_ASKED: Final[dict[str, Schema]] = {
    "crew": row_id("Bench or fitting."),
    "state": one_of(STATES, about="Of one stick at least."),
    "late": one_of(("1",), about="Those alone."),
    "stopped": one_of(("1",), about="Those alone."),
    "measure": one_of(("1",), about="Those alone."),
    "sort": one_of([str(each) for each in Sort]),
}
SEARCH_ASKED: Final[dict[str, Schema]] = {"q": text("07", "What is looked for.")}
