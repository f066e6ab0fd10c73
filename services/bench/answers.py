"""Shapes of what the API tells of benders and formers."""

from typing import Final

from services.bench.models import Line
from services.core.openapi import component, number, one_of, or_null, row_id, text, whole

BENDER: Final = component(
    "Bender",
    "A bender. Lengths in mm; null where its shape says.",
    {
        "id": row_id(),
        "name": text("Bench 2"),
        "shape": text("", "Of the engine's catalogue, or empty."),
        "hold_min_mm": or_null(number(110.0, "Least straight that it holds.")),
        "swing_min_mm": or_null(number(60.0, "Least straight that it swings.")),
        "version": whole(1),
    },
)

FORMER: Final = component(
    "Former",
    "A former. Lengths in mm, angles in degrees.",
    {
        "id": row_id(),
        "bender": text("Bench 2", "The name of its bender."),
        "conduit": text("steel-20-heavy"),
        "centreline_radius_mm": number(73.0),
        "line": one_of(Line.values, Line.BACK, "Which set line a mark is brought to."),
        "take_up_mm": or_null(number(60.0), None),
        "reach_mm": or_null(number(0.0), None),
        "k": or_null(number(1.03, "Springback: angle to pull for each degree wanted.")),
        "c_deg": or_null(number(1.5, "Springback: what is added to that.")),
        "sd_deg": or_null(number(0.6, "Spread of the bends about it.")),
        "scale_deg": or_null(number(1.0, "Division of the bender's dial.")),
        "version": whole(1),
    },
)
