"""Shapes of what the API tells of pieces and ticks."""

from typing import Final

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
    with_more,
)
from services.tracking.models import Answer, Kind, State
from services.tracking.rules import STAGES

PIECE: Final = component(
    "Piece",
    "An attempt at a stick. Lengths in mm.",
    {
        "id": row_id(),
        "label": text("07/1", "Painted on it."),
        "attempt": whole(1),
        "is_latest": truth(True),
        "state": one_of(State.values, State.CUT),
        "run": row_id(),
        "plan": row_id("The plan that it is made to."),
        "crew": or_null(row_id("Who makes it.")),
        "fitting_crew": or_null(row_id("Who fits it in place."), None),
        "stage": or_null(one_of(STAGES), STAGES[0]),
        "due_on": or_null(day(), None),
        "priority": whole(2, "1 goes first, 3 last."),
        "conduit": text("steel-20-heavy"),
        "cut_length_mm": number(3479.6),
        "cut_from": text("full length", "That, or the label of an offcut; empty while it is not cut."),
        "changed_at": moment(),
        "last_number": whole(12, "Of the ledger: the last tick of it that stands."),
    },
)

PIECE_WITH_STICK: Final = with_more(PIECE, stick=anything("By the engine's contract.", {}))

TICK: Final = component(
    "Tick",
    "A tick of the ledger.",
    {
        "id": row_id("Made on its device."),
        "number": whole(12, "In the company's ledger, without gaps."),
        "kind": one_of(Kind.values, Kind.CUT),
        "person": text("Ada Wray"),
        "made_at": moment(about="By the device's clock."),
        "received_at": moment("2026-11-25T10:00:04Z"),
        "clock_suspect": truth(False),
        "figures": anything("What was told with it.", {"note": "from the rack by the door"}),
        "answer": one_of(Answer.values),
        "reason": text("", "Empty unless it was held."),
        "stands": truth(True, "False once it was taken back."),
        "implied": truth(False, "Whether a later tick implied it."),
        "takes_back": or_null(row_id("Of the tick that it takes back."), None),
    },
)

ANSWERS: Final = component(
    "Answers",
    "What became of each tick, in the order given. `applied` and `held` are kept for good; `refused` is for a"
    " person to see.",
    {
        "answers": many(
            closed(
                {
                    "id": row_id(),
                    "answer": one_of(Answer.values),
                    "reason": text(""),
                    "text": text(""),
                    "number": or_null(whole(12, "In the ledger; null of one that was refused.")),
                }
            )
        )
    },
)

ASSIGNED: Final = closed({"ticks": whole(4, "How many the ledger has of it.")})

WORDS_OF_STAGE: Final[dict[str, Schema]] = {"stage": one_of((*STAGES, "both"))}

WORDS_OF_TICK: Final[dict[str, Schema]] = {
    "sequence": or_null(whole(12, "Of the device: 1, 2, 3 …")),
    "kind": or_null(one_of(Kind.values, Kind.CUT)),
    "piece": or_null(row_id()),
    "plan": or_null(row_id("The plan that it was made to.")),
    "made_at": or_null(moment(about="By the device's clock.")),
    "figures": anything("Of its kind.", {}),
    "takes_back": or_null(row_id("Of the tick that it takes back.")),
}
