"""Shapes of what the API tells of papers and packs."""

from typing import Final

from services.company.rules import PAPERS
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
from services.papers.models import Of, PackState, What

SHEETS_TOLD: Final = closed(
    {
        "items": many(
            closed(
                {
                    "id": text("a4-70x37"),
                    "paper": text("A4"),
                    "rows": whole(8),
                    "columns": whole(3),
                    "width_mm": number(70.0),
                    "height_mm": number(37.0),
                    "name": text("A4, 24 labels of 70 × 37 mm"),
                }
            )
        )
    }
)

PACK: Final = component(
    "Pack",
    "Papers that are drawn in the background.",
    {
        "id": row_id(),
        "what": one_of(What.values),
        "of": one_of(Of.values, Of.RUN),
        "of_id": row_id("Of the stick, run, room, project or crew."),
        "title": text("Bend cards, run 07"),
        "parameters": anything("As it was ordered.", {"paper": "A4"}),
        "state": one_of(PackState.values, PackState.DRAWING),
        "done": whole(2, "Sticks that are drawn."),
        "sticks": whole(6),
        "pages": or_null(whole(3, "Null while it is not made."), None),
        "error": text(""),
        "asked_at": moment(),
        "made_at": or_null(moment(), None),
    },
)

WORDS_ASKED: Final[dict[str, Schema]] = {
    "what": one_of(What.values),
    "of": one_of(Of.values, Of.RUN),
    "paper": one_of(PAPERS, about="The company's, unless told; of labels, their sheet's."),
    "labels": text("a4-70x37", "A sheet of `sheets`, for labels."),
    "start": whole(1, "The first free place on it, from 1."),
    "day": day(about="Of a crew's sheet; tomorrow unless told."),
    "only_open": truth(False),
}

WORDS_OF_PAPER: Final[dict[str, Schema]] = {
    name: or_null(schema) if name in ("labels", "start", "day", "only_open") else schema
    for name, schema in WORDS_ASKED.items()
}
