"""Sentences about joints, fittings and the order of fitting."""

from collections.abc import Mapping
from typing import Final

from bendcore.words.terms import Sentence, Speaker

_FROM: Final[Mapping[str, str]] = {
    "start": "from the start",
    "finish": "from the finish",
    "both": "from both ends inward",
}


def _closing_joints(say: Speaker) -> str:
    count, of = say.plain("closing"), say.plain("joints")
    made = "the one joint is" if of == "1" else f"{count} of {of} joints {'is' if count == '1' else 'are'}"
    why = (
        [] if count == say.plain("meets") else [f"a bent {say.word('stick')} cannot be turned against a wall"]
    )
    if say.plain("meets") == "1":
        why.append("where both ends meet, nothing turns between what is fixed")
    text = f"Fitted {_FROM[say.plain('from')]}, {made} made with a {say.word_of('kind')}: {'; '.join(why)}."
    if say.plain("kind") == "union":
        return (
            f"{text} Taper threads tighten where they like: leave a bent part free to turn in the "
            "union until it is lined up."
        )
    return (
        f"{text} The long thread is cut on the end named, as long as {say.word('coupler')} and locknut "
        "together; the locknut must be tight against it, or the joint is no good conductor."
    )


def _long_thread_untold(say: Speaker) -> str:
    return (
        f"The length of the long thread is not given, so a joint with a {say.word('running_coupler')} keeps "
        f"only {say.length('clearance_mm')} from a {say.word('bend')}. Measure {say.word('coupler')} and "
        "locknut side by side and give that."
    )


def _union_gap_untold(say: Speaker) -> str:
    return (
        f"What a {say.word('union')} adds between two {say.word('stick')}s is not given, so it counts as "
        f"{say.length('counted_mm')}. Measure one made up and give that."
    )


def _fitting_legs_untold(say: Speaker) -> str:
    return (
        f"How far the {say.word_of('kind')} reaches from its corner to the conduit's ends is not given in "
        f"full, so it counts as {say.length('counted_mm')} in all. Measure the fitting and give both sides."
    )


def _no_joint_to_close(say: Speaker) -> str:
    return (
        f"Fitted from both ends the run has no joint to close at: between its fittings each part is one "
        f"{say.word('stick')}. Fit it from one end, or split a {say.word('stick')}."
    )


def _joints_not_searched(say: Speaker) -> str:
    return (
        f"So many places for a joint come into question that not all were tried: the {say.word('stick')}s "
        "can be made as they are, and others might cost a little less."
    )


SENTENCES: Final[Mapping[str, Sentence]] = {
    "joints-not-searched": _joints_not_searched,
    "closing-joints": _closing_joints,
    "long-thread-untold": _long_thread_untold,
    "union-gap-untold": _union_gap_untold,
    "fitting-legs-untold": _fitting_legs_untold,
    "no-joint-to-close": _no_joint_to_close,
}
