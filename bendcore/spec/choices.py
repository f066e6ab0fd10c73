"""The words that a run is told in: enumerations, and the directions in the room."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from bendcore.vectors import Vec


class Joining(StrEnum):
    """How a conduit is joined: by threads, or plain (set-screw or compression couplings)."""

    THREADED = "threaded"
    PLAIN = "plain"


class LineKind(StrEnum):
    """What the pencil mark is brought to in the bender."""

    BEGIN = "begin"
    BACK = "back"
    ARROW = "arrow"
    MIDDLE = "middle"
    OWN = "own"


class Heading(StrEnum):
    """A direction in the room, as one faces a wall to the north."""

    UP = "up"
    DOWN = "down"
    NORTH = "north"
    IN = "in"
    SOUTH = "south"
    OUT = "out"
    EAST = "east"
    RIGHT = "right"
    WEST = "west"
    LEFT = "left"


DIRECTIONS: Final[Mapping[Heading, Vec]] = {
    Heading.UP: (0.0, 0.0, 1.0),
    Heading.DOWN: (0.0, 0.0, -1.0),
    Heading.NORTH: (0.0, 1.0, 0.0),
    Heading.IN: (0.0, 1.0, 0.0),
    Heading.SOUTH: (0.0, -1.0, 0.0),
    Heading.OUT: (0.0, -1.0, 0.0),
    Heading.EAST: (1.0, 0.0, 0.0),
    Heading.RIGHT: (1.0, 0.0, 0.0),
    Heading.WEST: (-1.0, 0.0, 0.0),
    Heading.LEFT: (-1.0, 0.0, 0.0),
}


class Measured(StrEnum):
    """Where on a corner, or at an end, a leg is measured to or from."""

    CORNER = "corner"
    BACK = "back"
    INSIDE = "inside"
    WALL = "wall"
    FACE = "face"


class SaddleMeasured(StrEnum):
    """Where the legs beside a saddle set are measured to: its outer corner, or the middle of the
    obstruction."""

    OUTER = "outer"
    MIDDLE = "middle"


class EndKind(StrEnum):
    """How the run ends at a box or fitting."""

    OPEN = "open"
    SPOUT = "spout"
    COUPLER_AND_MALE_BUSH = "coupler_and_male_bush"
    LOCKNUTS_AND_FEMALE_BUSH = "locknuts_and_female_bush"
    CONNECTOR = "connector"
    COUPLER = "coupler"
    FLEXIBLE = "flexible"


class BankCorners(StrEnum):
    """Corners of a bank: all of one radius, or round one centre."""

    EQUAL = "equal"
    CONCENTRIC = "concentric"


class FittingKind(StrEnum):
    """What stands in a run between two sticks, other than a coupler."""

    DRAW_IN_BOX = "draw_in_box"
    INSPECTION_BEND = "inspection_bend"
    TEE = "tee"
    BOUGHT_BEND = "bought_bend"


class Motion(StrEnum):
    """What moves while a bend is pulled: the tail swings, the shoe rolls with the held side hooked, or both
    sides rise, pushed at the middle."""

    TAIL = "tail"
    HOOKED = "hooked"
    BOTH = "both"


class FitFrom(StrEnum):
    """Where fitting begins: at the run's start, at its finish, or at both ends, inward."""

    START = "start"
    FINISH = "finish"
    BOTH = "both"


class RulePack(StrEnum):
    """Whose rules judge the run."""

    UK = "uk"
    US = "us"


class Strand(StrEnum):
    """How a metric conductor is made."""

    SOLID = "solid"
    STRANDED = "stranded"
