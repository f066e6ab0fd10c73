"""Shapes of what the API tells of projects, rooms and runs, with examples of an invented job."""

from typing import Final

from bendcore.spec import EndKind
from bendcore.units import Units
from services.core.openapi import (
    Schema,
    anything,
    closed,
    component,
    day,
    many,
    moment,
    number,
    one_of,
    or_null,
    row_id,
    text,
    truth,
    whole,
)
from services.projects.models import BankCorners, FitFrom, Heading, Priority
from services.projects.rules import FIELDS_OF, MEASURED

PROJECT: Final = component(
    "Project",
    "A project.",
    {
        "id": row_id(),
        "code": text("FC-1"),
        "name": text("Fenwater Creamery"),
        "client": text("Fenwater Dairies"),
        "site": text("Fenwater, north yard"),
        "archived_at": or_null(moment(), None),
        "version": whole(1),
    },
)

ROOM: Final = component(
    "Room",
    "A room.",
    {
        "id": row_id(),
        "project": row_id("Its project."),
        "name": text("Plate room"),
        "version": whole(1),
    },
)

ROW: Final = component(
    "Row",
    "A straight as the tape read it, and what follows it. Lengths in mm, angles in degrees; null: still to"
    " measure, or not wanted.",
    {
        "length_mm": or_null(number(877.0)),
        "from": one_of(MEASURED, "face", "What it is measured from."),
        "to": one_of(MEASURED, "back", "What it is measured to."),
        "then": one_of(list(FIELDS_OF), "bend", "What follows."),
        "angle_deg": or_null(number(90.0)),
        "toward": or_null(one_of(Heading.values, Heading.RIGHT)),
        "rise_mm": or_null(number(80.0), None),
        "spread_mm": or_null(number(40.0), None),
        "spread_toward": or_null(one_of(Heading.values), None),
        "bends": or_null(whole(3), None),
        "width_mm": or_null(number(120.0), None),
        "fitting": or_null(text("draw_in_box"), None),
        "radius_mm": or_null(number(150.0), None),
        "leg_in_mm": or_null(number(60.0), None),
        "leg_out_mm": or_null(number(60.0), None),
    },
    optional=("from", "to", "then", *(name for names in FIELDS_OF.values() for name in names), "length_mm"),
)

_RUN: Final[dict[str, Schema]] = {
    "id": row_id(),
    "room": row_id("Its room."),
    "label": text("07"),
    "from_place": text("Distribution board"),
    "to_place": text("Pump 1"),
    "former": row_id("What it is bent on."),
    "crew": or_null(row_id("Who makes it."), None),
    "fitting_crew": or_null(row_id("Who fits it in place."), None),
    "due_on": or_null(day(), None),
    "priority": whole(int(Priority.ORDINARY), "1 goes first, 3 last."),
    "heading": one_of(Heading.values),
    "standoff_mm": number(0.0, "Clear distance from the wall to the conduit."),
    "start_kind": one_of([str(each.value) for each in EndKind]),
    "start_allowance_mm": or_null(number(25.0), None),
    "finish_kind": one_of([str(each.value) for each in EndKind]),
    "finish_allowance_mm": or_null(number(25.0), None),
    "rows": many(ROW),
    "facing": text("north", "The wall that one faces to read the directions."),
    "fit_from": one_of(FitFrom.values),
    "cables": many(anything("Cables of one kind, by the engine's contract.", {})),
    "follows": or_null(row_id("The run that ends in the box where this one begins."), None),
    "beside": or_null(row_id("The run beside which it lies in a bank."), None),
    "place_in_bank": or_null(whole(1), None),
    "bank_spacing_mm": or_null(number(60.0, "Centre to centre."), None),
    "bank_toward": text("", "Where the bank lies from its first run."),
    "bank_corners": text("", "How its corners lie."),
    "version": whole(2),
}

RUN: Final = component(
    "Run",
    "A run as measured. Lengths in mm, angles in degrees; a figure still to measure is null.",
    _RUN,
)

SURVEY: Final = component(
    "Survey",
    "What a survey's file holds, and whether it was made.",
    {
        "imported": truth(True, "False after a dry run."),
        "units": or_null(one_of([str(each.value) for each in Units])),
        "new_rooms": many(text("Plate room")),
        "rows": whole(1),
        "to_measure": whole(0, "Figures that are still to measure."),
        "notes": whole(0, "Lines that hold only a note."),
        "runs": many(
            closed(
                {
                    "id": or_null(row_id("Null after a dry run.")),
                    "room": text("Plate room"),
                    "label": text("41"),
                    "rows": whole(1),
                    "to_measure": whole(0),
                }
            )
        ),
    },
)

RUNS_TOLD: Final = closed({"items": many(RUN)})
ROOMS_TOLD: Final = closed({"items": many(ROOM)})

SURVEY_FILES: Final = ("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "text/csv")

WORDS_OF_RUN: Final[dict[str, Schema]] = {"heading": _RUN["heading"]}
WORDS_OF_CHANGE: Final[dict[str, Schema]] = {
    name: _RUN[name] for name in ("heading", "start_kind", "finish_kind", "facing", "fit_from", "cables")
}
WORDS_OF_BANK: Final[dict[str, Schema]] = {
    "labels": many(text("08")),
    "toward": one_of(Heading.values),
    "corners": one_of(BankCorners.values),
}
WORDS_OF_PRIORITY: Final[dict[str, Schema]] = {"priority": _RUN["priority"]}
WORDS_OF_ROWS: Final[dict[str, Schema]] = {"rows": many(ROW)}
WORDS_OF_SURVEY: Final[dict[str, Schema]] = {
    "file": {
        "type": "string",
        "contentMediaType": "application/octet-stream",
        "description": "A workbook (XLSX) or CSV.",
    }
}
