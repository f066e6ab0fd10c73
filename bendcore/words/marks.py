"""Sentences about the route, its marks and its pulls."""

from collections.abc import Mapping
from typing import Final

from bendcore.words.terms import Sentence, Speaker


def _mark_off(say: Speaker) -> str:
    bend = f"The mark for bend {say.plain('bend')} of {say.word('stick')} {say.plain('stick')}"
    if say.has("made_bend"):
        return (
            f"{bend} comes to {say.length('mark_mm')}, on or before bend {say.plain('made_bend')}, "
            "which is already made. "
            f"Use another {say.word('set_line')} or move the bends apart."
        )
    return (
        f"{bend} comes to {say.length('mark_mm')}, off the {say.word('stick')}, which is "
        f"{say.length('cut_length_mm')} long. Use another {say.word('set_line')}, hold the other end, "
        "or bend it on a longer piece and cut after."
    )


def _allowance_untold(say: Speaker) -> str:
    return (
        f"No allowance is given for the {say.plain('end')} of the run ({say.word_of('kind')}), "
        "so it counts as 0. "
        "Measure how far the conduit goes past the face and give that."
    )


def _points_merged(say: Speaker) -> str:
    return f"Points {say.plain('first')} and {say.plain('second')} are one point, and count as one."


def _turn_too_small(say: Speaker) -> str:
    return (
        f"Point {say.plain('point')} lies in a straight line with its neighbours "
        f"and is no {say.word('corner')}."
    )


def _handbook_figures(say: Speaker) -> str:
    three = say.plain("feature") == "saddle_set_3"
    marks = "the middles of its bends" if three else "like marks"
    arc = " and its top in the arc, below the corner," if three else ""
    return (
        f"By the handbook the {say.word_of('feature')} shrinks {say.length('handbook_shrink_mm')}, with "
        f"{marks} {say.length('handbook_spacing_mm')} apart. With the {say.word('gain')} of its bends{arc} "
        f"counted it is {say.length('shrink_mm')} and {say.length('spacing_mm')}: the plan uses these."
    )


def _pull_too_far(say: Speaker) -> str:
    return (
        f"By the calibration, bend {say.plain('bend')} of {say.word('stick')} {say.plain('stick')} would "
        f"take a {say.word('pull')} of {say.angle('pull_deg')}, which no {say.word('bender')} makes. "
        "Check k and c with a trial bend."
    )


def _former_radius(say: Speaker) -> str:
    return (
        f"To keep one centre with its neighbours, {say.word('corner')} {say.plain('corner')} of conduit "
        f"{say.plain('conduit')} needs a radius of {say.length('need_mm')}; the {say.word('former')} in use "
        f"gives {say.length('radius_mm')}. Use a {say.word('former')} of that radius, bend it in segments, "
        "or choose equal corners."
    )


SENTENCES: Final[Mapping[str, Sentence]] = {
    "mark-off": _mark_off,
    "allowance-untold": _allowance_untold,
    "points-merged": _points_merged,
    "turn-too-small": _turn_too_small,
    "handbook-figures": _handbook_figures,
    "former-radius": _former_radius,
    "pull-too-far": _pull_too_far,
}
