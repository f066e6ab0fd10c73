"""Routes such as an electrician measures: each a shape, with lengths drawn anew each time."""

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

MM_PER_INCH: Final = 25.4

Row = dict[str, Any]
Rows = list[Row]


@dataclass(frozen=True, slots=True)
class Draw:
    """Draws figures as a tape of the company gives them: whole millimetres, or eighths of an inch."""

    chance: random.Random
    inches: bool

    def length(self, least_mm: int, most_mm: int) -> float:
        """A length in mm between the two."""
        if not self.inches:
            return float(self.chance.randint(least_mm, most_mm))
        eighths = self.chance.randint(round(least_mm / MM_PER_INCH * 8), round(most_mm / MM_PER_INCH * 8))
        return eighths * MM_PER_INCH / 8

    def side(self) -> str:
        """Left or right."""
        return self.chance.choice(("left", "right"))

    def angle(self) -> float:
        """An angle that benders are set to."""
        return self.chance.choice((22.5, 30.0, 45.0))


Shape = Callable[[Draw], Rows]


def row(length_mm: float | None, then: str, *, to: str = "back", start: str = "back", **figures: Any) -> Row:
    """One row of a run sheet."""
    return {
        "length_mm": length_mm,
        "from": start,
        "to": "face" if then == "end" else to,
        "then": then,
        **figures,
    }


def bend(toward: str, angle_deg: float = 90.0) -> dict[str, Any]:
    """Figures of a bend."""
    return {"angle_deg": angle_deg, "toward": toward}


def right_angle(draw: Draw) -> Rows:
    """Up the wall and along it."""
    return [
        row(draw.length(600, 1500), "bend", start="face", **bend(draw.side())),
        row(draw.length(500, 1600), "end"),
    ]


def over_the_door(draw: Draw) -> Rows:
    """Up, across and down."""
    side = draw.side()
    return [
        row(draw.length(700, 1300), "bend", start="face", **bend(side)),
        row(draw.length(500, 1000), "bend", **bend("down")),
        row(draw.length(400, 900), "end"),
    ]


def through_the_wall(draw: Draw) -> Rows:
    """Up, along, in through an opening, and down behind it: three bends out of one plane."""
    return [
        row(draw.length(700, 1100), "bend", start="face", **bend(draw.side())),
        row(draw.length(900, 1500), "bend", **bend("in")),
        row(draw.length(520, 700), "bend", **bend("down")),
        row(draw.length(350, 600), "end"),
    ]


def double_set(draw: Draw) -> Rows:
    """Up the wall, off it by a set, and on."""
    figures = {"angle_deg": draw.angle(), "toward": draw.side(), "rise_mm": draw.length(60, 180)}
    return [
        row(draw.length(500, 1100), "offset", to="corner", start="face", **figures),
        row(draw.length(600, 1300), "end", start="corner"),
    ]


def set_and_bend(draw: Draw) -> Rows:
    """A set past a ledge, then round to the side."""
    figures = {"angle_deg": draw.angle(), "toward": "out", "rise_mm": draw.length(50, 140)}
    return [
        row(draw.length(450, 800), "offset", to="corner", start="face", **figures),
        row(draw.length(600, 900), "bend", start="corner", **bend(draw.side())),
        row(draw.length(500, 1100), "end"),
    ]


def rolling_set(draw: Draw) -> Rows:
    """Past a beam, out and sideways at once."""
    return [
        row(
            draw.length(600, 1000),
            "offset",
            to="corner",
            start="face",
            angle_deg=draw.angle(),
            toward="out",
            rise_mm=draw.length(80, 160),
            spread_mm=draw.length(60, 150),
            spread_toward=draw.side(),
        ),
        row(draw.length(700, 1400), "end", start="corner"),
    ]


def over_a_pipe(draw: Draw) -> Rows:
    """Three bends over a pipe on the wall."""
    figures = {"angle_deg": 22.5, "toward": "out", "rise_mm": draw.length(45, 90), "bends": 3}
    return [
        row(draw.length(700, 1200), "saddle_set", to="corner", start="face", **figures),
        row(draw.length(700, 1200), "end", start="corner"),
    ]


def over_a_duct(draw: Draw) -> Rows:
    """Four bends over something broad."""
    figures = {"angle_deg": 30.0, "toward": "out", "rise_mm": draw.length(80, 140), "bends": 4}
    return [
        row(
            draw.length(600, 900),
            "saddle_set",
            to="corner",
            start="face",
            width_mm=draw.length(350, 600),
            **figures,
        ),
        row(draw.length(600, 900), "end", start="corner"),
    ]


def kick_to_a_box(draw: Draw) -> Rows:
    """Along, and at the end a kick to a box that stands off."""
    figures = {"angle_deg": 30.0, "toward": draw.side(), "rise_mm": draw.length(160, 260)}
    return [
        row(draw.length(800, 1800), "kick", to="corner", start="face", **figures),
        row(None, "end", start="corner"),
    ]


def box_to_box(draw: Draw) -> Rows:
    """A small set at the box, then up and along."""
    return [
        row(
            draw.length(140, 200),
            "box_set",
            to="corner",
            start="face",
            angle_deg=10.0,
            toward="in",
            rise_mm=20.0,
        ),
        row(draw.length(700, 1200), "bend", start="corner", **bend(draw.side())),
        row(draw.length(500, 1000), "end"),
    ]


def whole_hall(draw: Draw) -> Rows:
    """Longer than stock: several sticks."""
    return [
        row(draw.length(2100, 2600), "bend", start="face", **bend(draw.side())),
        row(draw.length(4200, 5600), "bend", **bend("in")),
        row(draw.length(1200, 1900), "end"),
    ]


def still_to_measure(draw: Draw) -> Rows:
    """A room not open yet: one figure is missing."""
    side = draw.side()
    return [
        row(draw.length(700, 1300), "bend", start="face", **bend(side)),
        row(None, "bend", **bend("down")),
        row(draw.length(400, 900), "end"),
    ]


def too_tight(draw: Draw) -> Rows:
    """Two right angles nearer to each other than the former allows: it cannot be bent so."""
    side = draw.side()
    return [
        row(draw.length(700, 900), "bend", start="face", **bend(side)),
        row(90.0, "bend", **bend("up")),
        row(draw.length(400, 900), "end"),
    ]


VARIED: Final[tuple[Shape, ...]] = (
    right_angle,
    double_set,
    through_the_wall,
    over_a_pipe,
    over_the_door,
    set_and_bend,
    kick_to_a_box,
    rolling_set,
    box_to_box,
    over_a_duct,
    whole_hall,
)
