"""Shapes of what the API tells of scrap and what it costs."""

from typing import Final

from services.core.openapi import (
    MONEY,
    Schema,
    component,
    day,
    decimal,
    many,
    one_of,
    or_null,
    row_id,
    text,
    whole,
)
from services.costing.models import EntryKind

SHARE: Final = component(
    "Share",
    "A share with what it is a share of.",
    {
        "part": decimal("3.48"),
        "of": decimal("41.20"),
        "unit": text("m"),
        "ratio": or_null(decimal("0.084466", "Null of nothing.")),
    },
)

_FIGURES: Final[dict[str, Schema]] = {
    "drawn_m": decimal("41.20"),
    "scrap_m": decimal("3.48"),
    "drawn": MONEY,
    "scrap": MONEY,
    "cut_pieces": whole(14),
    "scrapped_pieces": whole(1),
    "unpriced_pieces": whole(0, "Of which no price was known on their day."),
    "share": SHARE,
    "share_of_money": SHARE,
    "share_of_pieces": SHARE,
}
_JOB: Final[dict[str, Schema]] = {
    "project": row_id(),
    "code": text("FC-1"),
    "name": text("Fenwater Creamery"),
}

SCRAP_OF_PROJECT: Final = component("ProjectScrap", "A job's scrap.", {**_JOB, **_FIGURES})

SCRAP_OF_RUN: Final = component(
    "RunScrap",
    "A run's scrap.",
    {"run": row_id(), "label": text("07"), "room": text("Plate room"), **_FIGURES},
)

SCRAP_BY_CAUSE: Final = component(
    "CauseScrap",
    "What a cause cost.",
    {
        "cause": text("over-bent"),
        "stage": text("bending"),
        "payer": text("us", "Who usually pays."),
        "scrap_m": decimal("3.48"),
        "scrap": MONEY,
        "scrapped_pieces": whole(1),
        "share": SHARE,
    },
)

REVIEW: Final = component(
    "JobReview",
    "A job by run and by cause, the dearest first.",
    {**_JOB, "runs": many(SCRAP_OF_RUN), "causes": many(SCRAP_BY_CAUSE)},
)

ENTRY: Final = component(
    "CostEntry",
    "Metres and money of one tick.",
    {
        "id": row_id(),
        "kind": one_of(EntryKind.values),
        "run": row_id(),
        "piece": row_id(),
        "label": text("07/1"),
        "tick": row_id("As its device named it."),
        "number": whole(12, "Of the tick in the ledger."),
        "day": day("2026-11-25"),
        "metres": decimal("3.48"),
        "money": MONEY,
        "cause": text(""),
        "payer": text(""),
        "counters": or_null(row_id("The entry that it takes back."), None),
    },
)

ENTRIES_ASKED: Final[dict[str, Schema]] = {
    "kind": one_of(EntryKind.values, EntryKind.SCRAP, "Scrap, unless told."),
    "run": row_id("Of this run alone."),
    "cause": text("over-bent", "Of this cause alone."),
}
