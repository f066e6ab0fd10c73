"""The isometrics: the finished stick with its dimensions, and the whole run in its room."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from bendcore import tape
from bendcore.drawing.plane import box_round, distance
from bendcore.drawing.said import (
    angle_said,
    counted,
    end_said,
    listed,
    run_said,
    sentence_case,
    stick_of,
    stick_said,
)
from bendcore.drawing.scene import WALL, Dimension, Label, Lettering, Scene, Shape, Tube, fit, paint
from bendcore.drawing.signs import Sign, SignKind
from bendcore.drawing.space import Centreline, View, centreline, choose_view, lies_on, opposite, way_said
from bendcore.drawing.svg import Drawing, clean
from bendcore.planned import Plan, Stick
from bendcore.route import Corner
from bendcore.spec import FittingKind
from bendcore.units import Deg, Mm, Units, cos_deg, sin_deg
from bendcore.vectors import Vec, along, combine, dot, part_square_to
from bendcore.words import Dialect, term

LEAST_WIDTH: Final = 120.0
"""An isometric narrower than this, px, has no room for a figure beside its tube."""

PAD: Final = 4.0
"""Room round what is drawn, px."""

# Of the greatest scale. Words alone are not worth a much smaller drawing: a run keeps its scale whichever
# stick is meant.
_PARTS: Final = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
_TALLEST: Final = 1.25  # times as high as wide, where no height is given
_MOST_DIMENSIONS: Final = 60  # legs; beyond, a drawing is for the shape
_MOST_TOLD: Final = 80  # legs told in words
_MOST_NAMED: Final = 12  # sticks named in the run's drawing
_BOLDEST: Final = 16.0
_THINNEST: Final = 2.5
_LARGE: Final = Lettering(16.0, 14.0)
_GAP_SEEN: Final = 0.5  # mm between two sticks
_ON_WALL: Final = 0.15  # of the run lies on a wall, or it is none
_WALL_LONG: Final = 0.12  # of the run's greatest extent, or it is a sliver

_UP: Final[Vec] = (0.0, 0.0, 1.0)
_AXES: Final[tuple[Vec, ...]] = (
    (0.0, 0.0, -1.0),
    (1.0, 0.0, 0.0),
    (-1.0, 0.0, 0.0),
    (0.0, 1.0, 0.0),
    (0.0, -1.0, 0.0),
)


def stick_isometric(
    plan: Plan,
    number: int,
    *,
    units: Units = Units.MM,
    dialect: Dialect = Dialect.UK,
    width: float = 210.0,
    height: float | None = None,
    paper: bool = True,
    highlight: int | None = None,
    prefix: str | None = None,
) -> str:
    """The finished stick as it lies in the room, without perspective, with its legs' dimensions, as SVG text.

    number: of the stick in the run, from 1.  width, height: px, 120 or more; without a height it is as high
    as it needs to be.  paper: looks as attributes, else as classes for the page's sheet.  highlight: number
    of the bend in hand.  prefix: of the ids, for the same drawing twice on a page.
    Raises ValueError for a stick, bend, size or prefix that is not there or not allowed.
    """
    stick = stick_of(plan, number)
    if highlight is not None and not 1 <= highlight <= len(stick.bends):
        raise ValueError(f"the stick has {counted(len(stick.bends), 'bend')}; there is no bend {highlight}")
    view, line = choose_view(plan.route), _centreline(plan)
    nodes = _stick_nodes(plan, stick, line)
    few = len(stick.bends) < _MOST_DIMENSIONS
    names = [f"leg {i}" for i in range(1, len(nodes))]
    scene = Scene(
        view,
        plan.conduit.outside_diameter,
        (Tube(tuple(line.cut(stick.along, stick.along + stick.cut_length))),),
        dimensions=_dimensions(nodes, names, units) if few else (),
        labels=(_datum_label(stick, line, dialect), *_angle_labels(stick, line, highlight, few=few)),
        datum=(line.at(stick.along), _heading(line, stick.along)),
        marks=_held_mark(stick, line, highlight),
    )
    legs = "; ".join(way_said(a, b, units) for a, b in pairwise(nodes))
    said = [
        f"Isometric of the finished {term('stick', dialect)}, seen from the {view.name}. "
        f"Legs from the {term('datum_end', dialect)}, centre to centre: {legs}."
    ]
    if stick.bends:
        bends = ", ".join(f"{bend.number}: {angle_said(bend.angle)}" for bend in stick.bends)
        said.append(f"Bends: {bends}.")
    said.append(
        f"At the {term('datum_end', dialect)}: {end_said(stick.start, dialect)}. "
        f"At the {term('far_end', dialect)}: {end_said(stick.finish, dialect)}."
    )
    if not few:
        said.append("The legs are too many for their dimensions to be drawn.")
    title = f"Finished {stick_said(number, dialect)} of {run_said(plan)}"
    return _draw(scene, width, height, title=title, said=said, paper=paper, prefix=prefix)


def run_isometric(
    plan: Plan,
    *,
    units: Units = Units.MM,
    dialect: Dialect = Dialect.UK,
    width: float = 360.0,
    height: float | None = None,
    paper: bool = True,
    bold: int | None = None,
    dimensions: bool | None = None,
    ring: int | None = None,
    ends: tuple[str, str] = ("start", "finish"),
    prefix: str | None = None,
) -> str:
    """The whole run without perspective as SVG text: its joints, and its room where its extent tells one.

    Fittings are drawn as signs, and clips where the rules want them.

    bold: number of the stick that is meant, the others being drawn faint; None: all in full.
    dimensions: of each leg, corner to corner; unless told otherwise, where no stick is meant.  ring: number
    of a corner that turns to ring, from 1.  ends: what stands at the run's start and finish.  The rest as
    for a stick. Raises ValueError for a stick, corner, size or prefix that is not there or not allowed.
    """
    if bold is not None:
        stick_of(plan, bold)
    corners = _turns(plan)
    if ring is not None and not 1 <= ring <= len(corners):
        raise ValueError(f"the route has {counted(len(corners), 'corner')}; there is no corner {ring}")
    view, line = choose_view(plan.route), _centreline(plan)
    points = plan.route.points
    wanted = dimensions if dimensions is not None else bold is None
    told = wanted and len(plan.route.legs) <= _MOST_DIMENSIONS
    names = [f"leg {i}" for i in range(1, len(points))]
    walls = _walls(plan, view)
    few = len(plan.sticks) <= _MOST_NAMED
    scene = Scene(
        view,
        plan.conduit.outside_diameter,
        tuple(_run_tubes(plan, line, bold)),
        dimensions=_dimensions(points, names, units) if told else (),
        labels=tuple(_run_labels(plan, line, ends, bold, dialect, few=few)),
        signs=(*_clips(plan, line, bold), *_fittings(plan, line, bold), *_joints(plan, line, bold)),
        ring=None if ring is None else _middle_of_bend(plan, ring),
        shapes=tuple(Shape(classes, points, closed=True, weight=WALL) for classes, points in walls),
        north=True,
    )
    legs = [way_said(a, b, units) for a, b in pairwise(points)]
    more = len(legs) - _MOST_TOLD
    said = [
        f"Isometric of {run_said(plan)}, seen from the {view.name}. Legs from start to finish, "
        f"corner to corner: {'; '.join(legs[:_MOST_TOLD])}{f'; and {more} more' if more > 0 else ''}.",
    ]
    if len(plan.sticks) > 1:
        said.append(f"{len(plan.sticks)} {term('stick', dialect)}s.")
        said += [_joint_said(before, after, dialect) for before, after in pairwise(plan.sticks[:_MOST_TOLD])]
    if plan.supports:
        clips = counted(len(plan.supports), term("clip", dialect))
        said.append(f"{clips} where the rules want {'it' if len(plan.supports) == 1 else 'them'}.")
    if bold is not None:
        said.append(f"{sentence_case(stick_said(bold, dialect))} is bold.")
    if ring is not None:
        said.append(f"Corner {ring} is ringed.")
    if walls:
        said.append("Walls are drawn where the run lies along them; the rest of the room is cut away.")
    if wanted and not told:
        said.append("The legs are too many for their dimensions to be drawn.")
    title = f"{sentence_case(run_said(plan))} in the room"
    return _draw(scene, width, height, title=title, said=said, paper=paper, prefix=prefix)


# ---------------------------------------------------------------------------------------------- on the sheet


def _draw(
    scene: Scene,
    width: float,
    height: float | None,
    *,
    title: str,
    said: list[str],
    paper: bool,
    prefix: str | None,
) -> str:
    if not width >= LEAST_WIDTH or (height is not None and not height >= LEAST_WIDTH):
        raise ValueError(
            f"an isometric is {LEAST_WIDTH:g} px wide and high at least, not {width:g} by {height}"
        )
    tallest = height if height is not None else _TALLEST * width
    layout = fit(
        scene,
        lettering_for(width),
        width=width - 2.0 * PAD,
        height=tallest - 2.0 * PAD,
        line_width=_tube_width(scene, width, tallest),
        parts=_PARTS if scene.dimensions else _PARTS[:2],
    )
    high = height if height is not None else layout.box.height + 2.0 * PAD
    out = Drawing(paper=paper)
    paint(layout, out, ((width - layout.box.width) / 2.0, (high - layout.box.height) / 2.0))
    if layout.left_out:
        said.append(f"Left out of the drawing for want of room: {listed(layout.left_out)}.")
    return out.finish("iso", width=width, height=high, title=title, desc=" ".join(said), prefix=prefix)


def lettering_for(width: float) -> Lettering:
    """Sizes of text for a drawing so wide, px."""
    return Lettering(13.0, 12.0) if width < 300.0 else Lettering(14.0, 13.0) if width < 600.0 else _LARGE


def _tube_width(scene: Scene, width: float, height: float) -> float:
    """Of the tube, px: as bold as the sheet allows, thinner where the legs come out short."""
    flat = scene.view.flat
    ends = [
        (flat(piece.start), flat(piece.at(piece.finish))) for tube in scene.tubes for piece in tube.pieces
    ]
    whole = box_round(spot for pair in ends for spot in pair)
    scale = min(
        width / whole.width if whole.width else math.inf, height / whole.height if whole.height else math.inf
    )
    straights = sorted(
        distance(a, b)
        for (a, b), piece in zip(ends, (piece for tube in scene.tubes for piece in tube.pieces), strict=True)
        if not piece.angle
    )
    usual = straights[len(straights) // 3] * scale if straights else width
    return max(min(_BOLDEST, 5.0 + 0.025 * width, 0.3 * usual), _THINNEST)


# ---------------------------------------------------------------------------------------------- what is shown


def _centreline(plan: Plan) -> Centreline:
    start, finish = plan.sticks[0].start.allowance, plan.sticks[-1].finish.allowance
    return centreline(plan.route, start or Mm(0.0), finish or Mm(0.0))


def _heading(line: Centreline, place: float) -> Vec:
    return line.piece_at(place).heading(place)


def _turns(plan: Plan) -> list[Corner]:
    """The corners that turn, as bends number them: a fitting in a leg is none."""
    return [corner for corner in plan.route.corners if corner.angle > 0.0]


def _stick_nodes(plan: Plan, stick: Stick, line: Centreline) -> list[Vec]:
    """The stick's ends and the corners between, in the room."""
    turns = _turns(plan)
    corners = [turns[bend.corner - 1].at for bend in stick.bends]
    return [line.at(stick.along), *corners, line.at(stick.along + stick.cut_length)]


def _dimensions(points: Sequence[Vec], names: Sequence[str], units: Units) -> tuple[Dimension, ...]:
    """One for each leg, set off in the plane of the bend at either end, or along an axis of the room."""
    ways = [_unit(a, b) for a, b in pairwise(points)]
    found = []
    for i, (a, b) in enumerate(pairwise(points)):
        wanted: list[Vec] = []
        if i > 0:  # away from the leg before, in their plane
            wanted.append(ways[i - 1])
        if i + 1 < len(ways):
            wanted.append(opposite(ways[i + 1]))
        wanted += [_UP, *(opposite(way) for way in wanted), *_AXES]
        off: list[Vec] = []
        for way in wanted:
            square = part_square_to(way, ways[i])
            # an axis nearly along the leg would come out as a sixth direction that is nobody's plane
            if (
                square is not None
                and dot(square, way) > 0.3
                and all(dot(square, other) < 0.99 for other in off)
            ):
                off.append(square)
        found.append(Dimension(names[i], a, b, tape.read(Mm(math.dist(a, b)), units), tuple(off)))
    return tuple(found)


def _unit(a: Vec, b: Vec) -> Vec:
    size = math.dist(a, b)
    return ((b[0] - a[0]) / size, (b[1] - a[1]) / size, (b[2] - a[2]) / size)


def _datum_label(stick: Stick, line: Centreline, dialect: Dialect) -> Label:
    heading = _heading(line, stick.along)
    word = term("datum_end", dialect)
    return Label(word, (line.at(stick.along),), word, "t-s", clear=0.9, beside=opposite(heading), weight=2.0)


def _angle_labels(stick: Stick, line: Centreline, highlight: int | None, *, few: bool) -> list[Label]:
    """The bend in hand first, then the larger angles: what there is no room for is the least of them.

    few: there are few enough bends to tell the others at all.
    """
    labels = []
    for bend in sorted(stick.bends, key=lambda bend: (bend.number != highlight, -bend.angle, bend.number)):
        if not few and bend.number != highlight:
            continue
        middle = stick.along + (bend.begin + bend.finish) / 2.0
        piece = line.piece_at(middle)
        turn = bend.angle / 2.0
        inward = combine(-sin_deg(Deg(turn)), piece.direction, cos_deg(Deg(turn)), piece.toward)
        held = " mk" if bend.number == highlight else ""
        text = tape.degrees(bend.angle)
        name = f"the angle of bend {bend.number}"
        labels.append(
            Label(
                name,
                (line.at(middle),),
                text,
                f"t-b{held}",
                clear=0.5,
                beside=inward,
                weight=0.5,
                family="angle",
            )
        )
    return labels


def _held_mark(stick: Stick, line: Centreline, highlight: int | None) -> tuple[tuple[Vec, Vec], ...]:
    """Where the pencil mark of the bend in hand comes to lie; nothing where it falls off the stick."""
    if highlight is None:
        return ()
    mark = stick.bends[highlight - 1].set.mark
    if not 0.0 <= mark <= stick.cut_length:
        return ()
    return ((line.at(stick.along + mark), _heading(line, stick.along + mark)),)


def _run_tubes(plan: Plan, line: Centreline, bold: int | None) -> Iterator[Tube]:
    """The sticks in turn, and between them what fills a gap: a union, or a bought bend."""
    place: float = line.pieces[0].begin
    before: Stick | None = None
    for stick in plan.sticks:
        finish = stick.along + stick.cut_length
        bare = before is None or before.finish.fitting is None or _is_bought(before)
        if stick.along > place + _GAP_SEEN and bare:
            yield Tube(tuple(line.cut(place, stick.along)), ghost=bold is not None)
        yield Tube(tuple(line.cut(stick.along, finish)), ghost=bold is not None and bold != stick.number)
        place, before = finish, stick


def _is_bought(stick: Stick) -> bool:
    return stick.finish.kind == FittingKind.BOUGHT_BEND


def _joints(plan: Plan, line: Centreline, bold: int | None) -> Iterator[Sign]:
    """A sign in the middle of each joint's gap; a bought bend has a coupler at both ends."""
    for before, after in pairwise(plan.sticks):
        finish = before.along + before.cut_length
        ghost = bold is not None and bold not in (before.number, after.number)
        if _is_bought(before):
            yield Sign(SignKind.COUPLER, line.at(finish), ghost=ghost)
            yield Sign(SignKind.COUPLER, line.at(after.along), ghost=ghost)
        elif before.finish.fitting is None:
            middle = (finish + after.along) / 2.0
            yield Sign(SignKind(before.finish.kind), line.at(middle), _long_way(before, after, line), ghost)


def _long_way(before: Stick, after: Stick, line: Centreline) -> tuple[tuple[Vec, float], ...]:
    """Which way the long thread of a running coupler lies from it; nothing where there is none."""
    heading = _heading(line, after.along)
    if before.finish.thread == "long":
        return ((opposite(heading), 0.0),)
    return ((heading, 0.0),) if after.start.thread == "long" else ()


def _joint_said(before: Stick, after: Stick, dialect: Dialect) -> str:
    """A joint in a sentence, with the end that has the long thread."""
    told = f"{sentence_case(end_said(before.finish, dialect))} between {before.number} and {after.number}"
    for stick, thread in ((before, before.finish.thread), (after, after.start.thread)):
        if thread == "long":
            told += f", the long thread on {stick_said(stick.number, dialect)}"
    return f"{told}."


def _fittings(plan: Plan, line: Centreline, bold: int | None) -> Iterator[Sign]:
    """A sign for each fitting but a bought bend, which is drawn as it runs."""
    places = [stick for stick in plan.sticks if stick.finish.fitting is not None]
    told = [corner for corner in plan.route.corners if corner.fitting is not None]
    for stick, corner in zip(places, told, strict=True):
        if not _is_bought(stick):
            finish = stick.along + stick.cut_length
            way_in, way_out = _heading(line, finish - 1.0), _heading(line, finish + corner.through + 1.0)
            ghost = bold is not None and bold not in (stick.number, stick.number + 1)
            legs = ((opposite(way_in), corner.lead_in), (way_out, corner.lead_out))
            yield Sign(SignKind(stick.finish.kind), corner.at, legs, ghost)


def _clips(plan: Plan, line: Centreline, bold: int | None) -> Iterator[Sign]:
    for each in plan.supports:
        ghost = bold is not None and bold != each.stick
        yield Sign(SignKind.CLIP, each.at, ((_heading(line, each.along), 0.0),), ghost)


def _run_labels(
    plan: Plan, line: Centreline, ends: tuple[str, str], bold: int | None, dialect: Dialect, *, few: bool
) -> Iterator[Label]:
    """The stick that is meant, what stands at the ends, fittings and long threads, then the other sticks.

    few: there are few enough sticks to name them.
    """
    sticks = {stick.number: stick for stick in plan.sticks} if few and (bold or len(plan.sticks) > 1) else {}
    if bold in sticks:
        yield _stick_label(sticks.pop(bold), line, dialect, meant=True)
    places = (line.pieces[0].begin, line.pieces[-1].finish)
    for name, place, sign in zip(ends, places, (-1.0, 1.0), strict=True):
        text = clean(name)
        if text:
            heading = _heading(line, place)
            way = heading if sign > 0.0 else opposite(heading)
            yield Label(f"the name {text}", (line.at(place),), text, "t-s", clear=0.6, beside=way, weight=0.8)
    if few:
        yield from _joint_labels(plan, line, dialect)
    for stick in sticks.values():
        yield _stick_label(stick, line, dialect, meant=False)


def _joint_labels(plan: Plan, line: Centreline, dialect: Dialect) -> Iterator[Label]:
    """What stands between sticks, where it is no plain coupler."""
    for before, after in pairwise(plan.sticks):
        kind = before.finish.kind
        if kind == SignKind.COUPLER:
            continue
        middle = (before.along + before.cut_length + after.along) / 2.0
        text = term(kind, dialect)
        name = f"the name of the {text} between {before.number} and {after.number}"
        yield Label(name, (line.at(middle),), text, "t-s", clear=1.4, weight=0.3)


def _stick_label(stick: Stick, line: Centreline, dialect: Dialect, *, meant: bool) -> Label:
    """A stick's name, beside one of its longest straights."""
    pieces = line.cut(stick.along, stick.along + stick.cut_length)
    longest = sorted(pieces, key=lambda piece: (bool(piece.angle), piece.begin - piece.finish))[:3]
    text = stick_said(stick.number, dialect)
    return Label(
        f"the name of {text}",
        tuple(piece.at((piece.begin + piece.finish) / 2.0) for piece in longest),
        text,
        "t-b" if meant else "t-s",
        clear=0.5,
        weight=0.8 if meant else 0.2,
        family="stick",
    )


def _middle_of_bend(plan: Plan, number: int) -> Vec:
    """The middle of a corner's arc: from the corner R (sec(angle / 2) - 1) along the line that halves it."""
    corner = _turns(plan)[number - 1]
    index = plan.route.corners.index(corner)
    before, after = (plan.route.legs[i].direction for i in (index, index + 1))
    inward = _unit(before, after)
    return along(corner.at, corner.radius * (1.0 / cos_deg(Deg(corner.angle / 2.0)) - 1.0), inward)


def _walls(plan: Plan, view: View) -> list[tuple[str, tuple[Vec, ...]]]:
    """Floor and walls behind the run, where it lies along them; nothing where its extent tells no room.

    A run that stays on one level tells no height, and one that touches neither side tells no wall.
    """
    points = plan.route.points
    low = [min(point[i] for point in points) for i in range(3)]
    high = [max(point[i] for point in points) for i in range(3)]
    size = max(high[i] - low[i] for i in range(3))
    if high[2] - low[2] < 0.1 * size:
        return []
    shares = lies_on(plan.route)
    told = [
        (axis, side)
        for axis, side in sorted(view.back)
        if shares[axis, side] >= _ON_WALL and high[1 - axis] - low[1 - axis] >= _WALL_LONG * size
    ]
    if not told:
        return []
    thick, margin, deep = plan.conduit.outside_diameter, 0.07 * size, 0.2 * size
    heights = high[2] - low[2]
    # Heights above a floor, or a start put at 0 that says nothing of the floor.
    floor = 0.0 if 0.1 * heights < low[2] < 1.5 * heights else low[2] - 0.12 * size
    top = high[2] + margin

    # Along each axis: the back, and how far the walls and the floor reach from it.
    (_, side_x), (_, side_y) = sorted(view.back)
    back_x, front_x = (high[0] + thick, low[0] - margin) if side_x > 0 else (low[0] - thick, high[0] + margin)
    back_y, front_y = (high[1] + thick, low[1] - margin) if side_y > 0 else (low[1] - thick, high[1] + margin)
    if (0, side_x) not in told:
        back_x = high[0] + margin if side_x > 0 else low[0] - margin
    if (1, side_y) not in told:
        back_y = high[1] + margin if side_y > 0 else low[1] - margin
    near_x, near_y = back_x - side_x * deep, back_y - side_y * deep
    walls: list[tuple[str, tuple[Vec, ...]]] = []
    outline: list[tuple[float, float]]
    if len(told) == 2:
        outline = [
            (front_x, back_y),
            (back_x, back_y),
            (back_x, front_y),
            (near_x, front_y),
            (near_x, near_y),
            (front_x, near_y),
        ]
    elif told[0][0] == 1:
        outline = [(front_x, back_y), (back_x, back_y), (back_x, near_y), (front_x, near_y)]
    else:
        outline = [(back_x, front_y), (back_x, back_y), (near_x, back_y), (near_x, front_y)]
    walls.append(("room-f", tuple((x, y, floor) for x, y in outline)))
    if (1, side_y) in told:
        walls.append(("room-w", _upright((front_x, back_y), (back_x, back_y), floor, top)))
    if (0, side_x) in told:
        walls.append(("room-w2", _upright((back_x, back_y), (back_x, front_y), floor, top)))
    return walls


def _upright(a: tuple[float, float], b: tuple[float, float], floor: float, top: float) -> tuple[Vec, ...]:
    return ((*a, floor), (*b, floor), (*b, top), (*a, top))
