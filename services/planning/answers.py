"""Shapes of what the API tells of drafts and released plans."""

from typing import Final

from services.core.openapi import (
    Schema,
    anything,
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
    whole,
)

_BY_CONTRACT: Final = "By the engine's contract."

DRAFT: Final = component(
    "Draft",
    "A run planned as it stands.",
    {
        "plan": or_null(anything(f"{_BY_CONTRACT} Null while it cannot be made.", {})),
        "findings": many(
            closed(
                {
                    "row": or_null(whole(1, "From 0; null: of the whole run.")),
                    "level": one_of(("stop", "warn", "note"), "warn"),
                    "text": text("only 101 mm to hold"),
                    "rule": text("hold"),
                    "where": text("sticks[0].bends[1]"),
                    "edition": text("", "Of the rule pack, where the finding is one of a rule pack."),
                    "said": text("only 101 mm to hold", "By which it is let pass."),
                    "may_pass": truth(False, "Whether a manager may let it pass."),
                    "passed": text("", "Why it was let pass."),
                    "passed_by": text(""),
                }
            )
        ),
        "to_measure": many(closed({"row": whole(0, "From 0."), "field": text("length_mm")})),
    },
)

PLAN: Final = component(
    "Plan",
    "A released plan. Lengths in mm.",
    {
        "id": row_id(),
        "run": row_id(),
        "revision": whole(1),
        "released_at": moment(),
        "engine_version": text("0.1.0"),
        "result": anything(_BY_CONTRACT, {}),
        "sticks": many(
            closed(
                {
                    "id": row_id(),
                    "number": whole(1),
                    "label": text("07/1", "Painted on it."),
                    "cut_length_mm": number(3479.6),
                }
            )
        ),
    },
)

OVERRIDE: Final = component(
    "Override",
    "What a manager let pass on a run.",
    {
        "id": row_id(),
        "rule": text("bends between draw-in points"),
        "where": text("route"),
        "finding": text("5 bends between draw-in points; 4 are allowed"),
        "reason": text("agreed with the client’s engineer"),
        "by": text("Joan Harte"),
        "made_at": moment(),
    },
)

LET_PASS: Final[dict[str, Schema]] = {
    "rule": text("bends between draw-in points", "Of the finding, as a draft tells it."),
    "where": text("route", "Of the finding."),
    "said": text("5 bends between draw-in points; 4 are allowed", "Of the finding."),
    "reason": text("agreed with the client’s engineer", "Why it may pass."),
}

REVISION: Final = component(
    "Revision",
    "A plan of a run without its figures.",
    {
        "id": row_id(),
        "revision": whole(1),
        "released_at": moment(),
        "is_current": truth(True),
        "overrides": many(anything("What was let pass for it.", {})),
    },
)

COMPARED: Final = closed(
    {
        "sticks": many(
            closed(
                {
                    "number": whole(1),
                    "what": many(text("cut_length"), "What differs."),
                    "before": or_null(anything(_BY_CONTRACT, {})),
                    "after": or_null(anything(_BY_CONTRACT, {})),
                }
            )
        )
    }
)
