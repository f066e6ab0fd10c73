"""Sentences of the rule packs and of cable capacity."""

from collections.abc import Callable, Mapping
from typing import Final

from bendcore.words.finding import Dialect
from bendcore.words.terms import Sentence, Speaker

# (UK, US), in the plural where only that is said. Source: docs/words.md.
_POINTS: Final = ("draw-in points", "pull points")
_EARTHING: Final = ("earthing", "grounding")
_PROTECTIVE: Final = ("protective conductor (cpc)", "equipment grounding conductor")
_LINK: Final = ("bonding link", "bonding jumper")


def _of(say: Speaker, pair: tuple[str, str]) -> str:
    return pair[say.dialect is Dialect.US]


def _place(name: str) -> str:
    """An end of a stretch, or a fitting, as a person calls it."""
    return f"the {name} of the run" if name in ("start", "finish") else f"fitting {name}"


def _stretch(say: Speaker) -> str:
    return f"from {_place(say.plain('from'))} to {_place(say.plain('to'))}"


def _beside(have: str, limit: str, *, told: Callable[[str], str], word: str) -> str:
    """A figure beside the limit that it breaks; where both read the same, that it just does."""
    return f"just {word} {told(limit)}" if told(have) == told(limit) else told(have)


def _counted(count: str, one: str, many: str) -> str:
    return f"{count} {one if count == '1' else many}"


def _bend_radius(say: Speaker) -> str:
    former = say.word("former")
    if not say.has("least_mm"):
        return (
            f"The bends have a radius of {say.length('radius_mm')} at the {say.word('centre')}line, but the "
            "trade size of the conduit is not known, so no least radius was read. "
            "Look it up for the size in use."
        )
    name = "inside_mm" if say.has("inside_mm") else "radius_mm"
    have = _beside(name, "least_mm", told=say.length, word="under")
    least = say.length("least_mm")
    if name == "inside_mm":
        return (
            f"The {say.word('inside')} of the bends has a radius of {have}; the guidance is {least} or more, "
            f"two and a half outside diameters. Use a larger {former}."
        )
    return (
        f"The bends have a radius of {have} at the {say.word('centre')}line; the table has {least} or more "
        f"for this size. Use a larger {former}."
    )


def _total_bend(say: Speaker) -> str:
    total = _beside("total_deg", "limit_deg", told=say.angle, word="over")
    sets = say.has("sets") and say.plain("sets") == "1"
    counted = f", a {say.word('offset')} or {say.word('box_set')} counted as a right angle" if sets else ""
    return (
        f"The bends {_stretch(say)} come to {total}{counted}; the most between {_of(say, _POINTS)} is "
        f"{say.angle('limit_deg')}. Put a {say.word('draw_in_box')} between, or take bends out."
    )


def _draw_in_distance(say: Speaker) -> str:
    length = _beside("length_mm", "limit_mm", told=say.length, word="over")
    return (
        f"It is {length} {_stretch(say)}; common practice is a {say.word('draw_in_box')} every "
        f"{say.length('limit_mm')} or less."
    )


def _cable_capacity(say: Speaker) -> str:
    return _CAPACITY[say.plain("case")](say)


def _cable_untold(say: Speaker) -> str:
    return (
        f"Cable {say.plain('cable')} of the list is not in the tables read, so the cables are not judged. "
        "Check its size and kind."
    )


def _wall_untold(say: Speaker) -> str:
    return (
        "The inside of the conduit is not known, so the conductors are not judged. "
        "Give its wall thickness, or its catalogue id."
    )


def _stretch_untabulated(say: Speaker) -> str:
    bends = _counted(say.plain("bends"), "bend", "bends")
    return (
        f"For {say.length('length_mm')} with {bends}, {_stretch(say)}, no cable capacity is tabulated. "
        f"Put a {say.word('draw_in_box')} between."
    )


def _conduit_untabulated(say: Speaker) -> str:
    return (
        f"For this conduit, {_stretch(say)}, no cable capacity is tabulated; the cables need a factor of "
        f"{say.plain('need')}. {_takes(say)}"
    )


def _over(say: Speaker) -> str:
    return f"{_factors(say) if say.has('need') else _filled(say)} {_takes(say)}"


def _fits(say: Speaker) -> str:
    if not say.has("need"):
        return _filled(say)
    room = f" It has room for {say.plain('most')} of them." if say.has("most") else ""
    return f"{_factors(say)}{room}"


def _factors(say: Speaker) -> str:
    bends = _counted(say.plain("bends"), "bend", "bends")
    return (
        f"The cables need a factor of {say.plain('need')}, and the conduit has {say.plain('have')} "
        f"{_stretch(say)}, {say.length('length_mm')} with {bends}."
    )


def _filled(say: Speaker) -> str:
    """How full conductors make the conduit: by count where they are equal, else by their share of it."""
    conductors = _counted(say.plain("conductors"), "conductor", "conductors")
    where = " as a nipple" if say.plain("nipple") == "1" else ""
    if say.has("most"):
        verb = "is" if say.plain("conductors") == "1" else "are"
        return f"There {verb} {conductors}, and room for {say.plain('most')}{where}."
    return (
        f"The {conductors} take {say.plain('need_percent')} % of the inside of the conduit, and "
        f"{say.plain('percent')} % is allowed{where}."
    )


def _takes(say: Speaker) -> str:
    """Which conduit would take the cables."""
    if not say.has("takes"):
        return "No size in the table takes them: share them between conduits."
    kind, _, trade_size = say.plain("takes").partition("-")
    size = f"{kind.upper()} {trade_size}" if trade_size else f"Size {kind}"
    return f"{size} is the smallest in the table that takes them."


_CAPACITY: Final[Mapping[str, Sentence]] = {
    "cable": _cable_untold,
    "wall": _wall_untold,
    "stretch": _stretch_untabulated,
    "conduit": _conduit_untabulated,
    "over": _over,
    "fits": _fits,
}


def _end_straight(say: Speaker) -> str:
    have = _beside("straight_mm", "need_mm", told=say.length, word="under")
    return (
        f"The straight at {_place(say.plain('end'))} is {have}; about {say.length('need_mm')} is wanted to "
        "join it and to get a grip on it. Move the bend away, or check on the fitting in use that it joins."
    )


def _running_thread(say: Speaker) -> str:
    return f"Running threads are not permitted at {say.word('coupler')}s. Use a {say.word('union')} or a box."


def _support_spacing(say: Speaker) -> str:
    if not say.has("missed"):
        return _supports_told(say)
    clip = say.word("clip")
    if say.plain("missed") == "none":
        return (
            f"No {clip} finds room on the conduit here, and one belongs within {say.length('most_mm')} of "
            "the box or end. Make room for one, or hold the conduit another way."
        )
    distance = _beside("distance_mm", "most_mm", told=say.length, word="over")
    most = say.length("most_mm")
    if say.plain("missed") == "gap":
        return (
            f"Two {clip}s stand {distance} apart here, where {most} is the most: bends and joints leave no "
            "room between. Move a bend or a joint, or hold the conduit another way."
        )
    which = "first" if say.plain("missed") == "first" else "last"
    return (
        f"The {which} {clip} stands {distance} from the box or end here, where {most} is the most: bends and "
        "joints leave no room nearer. Move a bend or a joint, or hold the conduit another way."
    )


def _supports_told(say: Speaker) -> str:
    clips = _counted(say.plain("count"), say.word("clip"), f"{say.word('clip')}s")
    end = f"within {say.length('end_mm')} of each box or end"
    if say.has("horizontal_mm"):
        return (
            f"{clips}, at most {say.length('horizontal_mm')} apart on the level and "
            f"{say.length('vertical_mm')} upright, {end}."
        )
    straight = f", {say.length('straight_mm')} on a straight" if say.has("straight_mm") else ""
    return f"{clips}, at most {say.length('general_mm')} apart{straight}, {end}."


def _thread_reminder(say: Speaker) -> str:
    length = f", {say.length('thread_mm')} of thread" if say.has("thread_mm") else ""
    taper = "; the thread is tapered and tightens where it will" if _tapered(say) else ""
    return (
        f"Each cut end of this conduit is threaded{length}: cut square, ream the bore, and protect what "
        f"thread is left bare{taper}."
    )


def _tapered(say: Speaker) -> bool:
    return say.has("taper") and float(say.plain("taper")) > 0.0


def _bonding(say: Speaker) -> str:
    return (
        f"Conduit may be the {_of(say, _PROTECTIVE)}: make every joint tight and clean, prove the run "
        f"continuous before cables go in, and put a {_of(say, _LINK)} where a joint does not carry. "
        f"Local rules on {_of(say, _EARTHING)} decide."
    )


def _building_joint(say: Speaker) -> str:
    return (
        "Where the run crosses a movement joint of the building it wants an expansion fitting and a "
        f"{_of(say, _LINK)} across it. Local rules and the drawings of the building decide."
    )


SENTENCES: Final[Mapping[str, Sentence]] = {
    "bend-radius": _bend_radius,
    "total-bend": _total_bend,
    "draw-in-distance": _draw_in_distance,
    "cable-capacity": _cable_capacity,
    "end-straight": _end_straight,
    "running-thread": _running_thread,
    "support-spacing": _support_spacing,
    "thread-reminder": _thread_reminder,
    "bonding": _bonding,
    "building-joint": _building_joint,
}
