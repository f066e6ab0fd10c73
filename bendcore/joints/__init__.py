"""A stretch of run into sticks at least cost: where the joints stand, of what kind, and what each stick is
cut from (docs/method/joints.md)."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bendcore.joints.making import MOST_REMAINDERS, Making
from bendcore.joints.places import Chains, merged
from bendcore.joints.reach import Reach
from bendcore.joints.refusal import no_joint
from bendcore.joints.straights import Stretch, windows
from bendcore.joints.table import Table
from bendcore.joints.values import SLACK, Blank, Joint, JointKind, Side, Split, Splitting, Window
from bendcore.units import Mm

__all__ = [
    "MOST_REMAINDERS",
    "SLACK",
    "Blank",
    "Joint",
    "JointKind",
    "Side",
    "Split",
    "Splitting",
    "Window",
    "split",
    "windows",
]

_PLACES: Final = 2000
_PLACES_A_STRAIGHT: Final = 40
_PLACES_A_STICK: Final = 4
_LEAST_PLACES: Final = 100
"""Candidates at the most, so that the work grows with the run alone; fewer where offcuts are counted."""


def split(bends: Sequence[tuple[Mm, Mm]], developed: Mm, *, how: Splitting, wheres: Sequence[str]) -> Split:
    """The sticks of a stretch at least cost; then the fewest, then with the fewest cuts, then with the joints
    farthest from the start, compared joint by joint from the start.

    bends: begin and finish of each along the stretch, mm.  developed: its length, mm, > 0.  wheres: the place
    in the spec of each bend, for problems.
    Of splits that are alike in all this: fitting from both ends meets as early as it can, a long thread is
    cut where more straight lies behind the joint (if alike, on the stick fitted earlier), and a stick is cut
    from an offcut rather than a length as bought, and from the shortest that does; each from the start on.
    Raises NoJoint when no set of joints does, OutOfRange when there are more offcuts than can be searched.
    Source: docs/method/joints.md.
    """
    making, stretch = Making.of(bends, developed, how), Stretch.of(bends, developed, how)
    places, searched = Chains(stretch, making).search(_most_places(stretch, making))
    if not searched:
        places = merged([*places, *(Reach(stretch, making).fewest() or ())])
    found = Table(stretch, making, places).best()
    if found is None:
        raise no_joint(bends, developed, how=how, wheres=wheres)
    return found if searched else replace(found, searched=False)


def _most_places(stretch: Stretch, making: Making) -> int:
    most = _PLACES + _PLACES_A_STRAIGHT * len(stretch.straights)
    most += int(_PLACES_A_STICK * stretch.developed / (stretch.how.longest + stretch.how.gap))
    # Some work at each place is the same whatever is left of the offcuts.
    return max(4 * most // (3 + math.prod(count + 1 for count in making.counts)), _LEAST_PLACES)
