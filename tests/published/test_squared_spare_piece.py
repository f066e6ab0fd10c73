"""Common practice: a right angle set to the back of a spare piece ends with its back exactly at the mark.

A spare piece bent to 90° is laid in the former, and the pencil mark is brought to where its back is. The bend
then ends with its back at the mark's distance from the datum end, whatever the radius, and nothing is
trimmed. Basis: common practice; the geometry is plain."""

import math
from collections.abc import Callable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import bendcore

EXACT = 1e-9
"""mm: distances up to some metres in floating point."""


def first_mark(distance: float, radius: float, diameter: float, tail: float) -> float:
    """The mark of a right angle whose back is wanted `distance` from the datum end, set to a spare piece's
    back."""
    plan = bendcore.plan(
        {
            "conduit": {"outside_diameter": diameter},
            "former": {"centreline_radius": radius, "set_line": {"kind": "back"}},
            "joints": "none",
            "route": {
                "heading": "up",
                "steps": [{"leg": distance, "to": "back"}, {"bend": 90, "toward": "right"}, {"leg": tail}],
            },
        }
    )
    assert isinstance(plan, bendcore.Plan)
    bend = plan.sticks[0].bends[0]
    assert bend.held == "start"
    return bend.set.mark


def farthest_of_outline(tangent_point: float, radius: float, diameter: float) -> float:
    """How far out the tube reaches along the first leg when an arc of 90° is laid from a tangent point on,
    mm.

    The outer face is walked in small steps round the arc: an arc of R + D/2 about a centre square to the
    tangent point."""
    return max(
        tangent_point + (radius + diameter / 2) * math.sin(math.radians(90) * step / 720)
        for step in range(721)
    )


@given(
    diameter=st.floats(10.0, 120.0),
    roundness=st.floats(1.05, 20.0),
    spare=st.floats(0.0, 5000.0),
    tail=st.floats(0.0, 5000.0),
)
@example(diameter=20.0, roundness=3.65, spare=1100.0, tail=600.0)
@example(diameter=17.9324, roundness=6.333, spare=0.0, tail=0.0)
def test_a_right_angle_marked_at_the_back_of_a_squared_spare_piece_ends_with_its_back_at_the_mark(
    diameter: float, roundness: float, spare: float, tail: float
) -> None:
    radius = roundness * diameter
    distance = radius + diameter / 2 + spare + 1.0
    mark = first_mark(distance, radius, diameter, radius + tail)
    assert mark == pytest.approx(distance, abs=EXACT)
    # On the bench: the spare piece lies in the former with its tangent point at 0, so its back is this far
    # past it ...
    back_of_spare = farthest_of_outline(0.0, radius, diameter)
    # ... and the stick lies with its mark there; the arc begins at the former's tangent point.
    tangent_point = mark - back_of_spare
    assert farthest_of_outline(tangent_point, radius, diameter) == pytest.approx(distance, abs=EXACT)


@pytest.mark.parametrize("diameter", [16.0, 17.9324, 20.0, 25.0, 26.67, 32.0, 60.325])
def test_the_mark_at_a_spare_pieces_back_does_not_depend_on_the_radius(
    diameter: float, record_property: Callable[[str, object], None]
) -> None:
    record_property("basis", "common-practice")
    for radius in (2.51 * diameter, 3.0 * diameter, 73.0 + diameter, 228.6 + diameter, 614.3):
        assert first_mark(1210.4, radius, diameter, 900.0) == pytest.approx(1210.4, abs=EXACT)
