"""Two contractors that there are not. Names, places, benders and prices are invented."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from services.company.models import Role


@dataclass(frozen=True, slots=True)
class Someone:
    """A person. gang: the crew they work in; empty for none."""

    name: str
    email: str
    role: str
    gang: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """A project with its rooms; done: how far the work in each room is, 0 to 5 (see `season`)."""

    code: str
    name: str
    client: str
    site: str
    rooms: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Contractor:
    """A company as the demo makes it. formers: bender, and its formers' figures.
    stock: conduit, lengths, price."""

    name: str
    settings: dict[str, Any]
    people: tuple[Someone, ...]
    benders: tuple[tuple[str, tuple[dict[str, Any], ...]], ...]
    stock: tuple[tuple[str, int, Decimal], ...]
    jobs: tuple[Job, ...]
    runs_a_room: int


OSTLEY: Final = Contractor(
    name="Ostley Electrical",
    settings={
        "words": "uk",
        "units": "mm",
        "currency": "GBP",
        "time_zone": "Europe/London",
        "paper": "A4",
        "rules": "uk",
        "long_thread_mm": 46.0,
    },
    people=(
        Someone("Corin Hathersage", "corin@ostley.example", Role.ADMINISTRATOR),
        Someone("Ilse Verrin", "ilse@ostley.example", Role.FOREMAN, "Bench gang"),
        Someone("Tobin Askrigg", "tobin@ostley.example", Role.ELECTRICIAN, "Bench gang"),
        Someone("Nesta Quarrell", "nesta@ostley.example", Role.ELECTRICIAN, "Tower gang"),
        Someone("Maud Pellowe", "maud@ostley.example", Role.MANAGER),
    ),
    benders=(
        (
            "Bench bender by the stairs",
            (
                {
                    "conduit": "steel-20-heavy",
                    "centreline_radius_mm": 73.0,
                    "line": "back",
                    "k": 0.028,
                    "c_deg": 1.1,
                    "sd_deg": 0.6,
                    "scale_deg": 1.0,
                },
                {"conduit": "steel-25-heavy", "centreline_radius_mm": 91.5, "line": "back"},
            ),
        ),
        ("Trestle bender", ({"conduit": "steel-32-heavy", "centreline_radius_mm": 128.0, "line": "begin"},)),
    ),
    stock=(
        ("steel-20-heavy", 160, Decimal("11.40")),
        ("steel-25-heavy", 60, Decimal("15.85")),
        ("steel-32-heavy", 20, Decimal("22.10")),
    ),
    jobs=(
        Job(
            "FC-26",
            "Fenwater Creamery, new filling line",
            "Fenwater Creamery",
            "Weir Lane, Fenwater",
            (("Plate room", 5), ("Cold store", 5), ("Boiler house", 4), ("Loading bay", 2)),
        ),
        Job(
            "SP-04",
            "Sallow End pumping station",
            "Sallow End Drainage",
            "Sallow End, the Long Drove",
            (("Pump hall", 5), ("Switch room", 3), ("Dosing room", 1), ("Gantry", 0)),
        ),
    ),
    runs_a_room=5,
)

TAMBER: Final = Contractor(
    name="Tamber Ridge Electric",
    settings={
        "words": "us",
        "units": "in",
        "currency": "USD",
        "time_zone": "America/Chicago",
        "paper": "Letter",
        "rules": "us",
        "union_gap_mm": 38.0,
    },
    people=(
        Someone("Amos Quillfeather", "amos@tamberridge.example", Role.ADMINISTRATOR),
        Someone("Odell Tarrish", "odell@tamberridge.example", Role.FOREMAN, "North crew"),
        Someone("Wren Halvoe", "wren@tamberridge.example", Role.ELECTRICIAN, "North crew"),
        Someone("Lucette Brandmoor", "lucette@tamberridge.example", Role.MANAGER),
    ),
    benders=(
        # take-up of a hand shoe, to the back of a 90: 5 in for 1/2 in, 6 in for 3/4 in EMT; common practice
        (
            "1/2 hand bender",
            ({"conduit": "emt-1/2", "centreline_radius_mm": 107.5, "line": "arrow", "take_up_mm": 127.0},),
        ),
        (
            "3/4 hand bender",
            ({"conduit": "emt-3/4", "centreline_radius_mm": 130.2, "line": "arrow", "take_up_mm": 152.4},),
        ),
    ),
    stock=(("emt-1/2", 80, Decimal("6.20")), ("emt-3/4", 50, Decimal("10.75"))),
    jobs=(
        Job(
            "LB-11",
            "Lantern Bluff Cannery, retort hall",
            "Lantern Bluff Cannery",
            "Dock Road, Lantern Bluff",
            (("Retort hall", 5), ("Label room", 1)),
        ),
    ),
    runs_a_room=4,
)

CONTRACTORS: Final = (OSTLEY, TAMBER)
