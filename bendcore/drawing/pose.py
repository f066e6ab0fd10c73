"""The pose: a stick as it lies in the bender at the moment a bend is set, and how its tail will swing."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bendcore import tape
from bendcore.clearance import ArcPiece
from bendcore.clearance import Piece as Posed
from bendcore.drawing.isometric import LEAST_WIDTH, PAD, lettering_for
from bendcore.drawing.plane import box_round, distance, hull, line_to_line
from bendcore.drawing.said import angle_said, counted, listed, ordinal, run_said, stick_of, stick_said
from bendcore.drawing.scene import WALL, Label, Scene, Shape, Tube, fit, paint
from bendcore.drawing.signs import Sign, SignKind
from bendcore.drawing.space import Piece, View, opposite, sampled
from bendcore.drawing.svg import Drawing
from bendcore.order import StickBend
from bendcore.order import pose as posed
from bendcore.planned import Plan, PlannedBend, Stick
from bendcore.spec import BodyAsked, Motion
from bendcore.units import Deg, Mm, Units, cos_deg, sin_deg
from bendcore.vectors import Vec, along, combine, cross, dot, part_square_to
from bendcore.words import Dialect, term

# How much is shown, in radii of the bend: beyond, conduit is broken and what stands there comes nearer.
_NEAR_HELD: Final = 3.0  # of the straight that is gripped
_NEAR_TAIL: Final = 3.6  # of the straight after the arc
_OTHER: Final = 2.4  # of every straight beyond a bend already made
_HALF_DOWN: Final = 1.8  # down to here the bender is to scale
_DOWN: Final = 3.2  # to the floor
_ASIDE: Final = 4.0  # to the sides of the bender

_WORTH: Final = 1.2  # a straight is broken where it is so many times longer than what is shown
_GAP: Final = 0.6  # of a break, in diameters
_EDGE: Final = 0.06  # of a body: how much it spoils to lead a word across it
_PARTS: Final = (1.0, 0.8)  # of the greatest scale
_TALLEST: Final = 1.05  # times as high as wide, where no height is given
_THINNEST: Final = 5.0
_THICKEST: Final = 16.0
_STEEP: Final = 35.0  # degrees from which the arc to come stands clear of the straight stick
_SWEEP_STEP: Final = 4.0  # degrees between places of the sweep
_ROUND: Final = 36  # places of the former's rim
_TURNED: Final = 220.0  # of the arrow that turns the stick round, degrees
_ZERO: Final[Vec] = (0.0, 0.0, 0.0)
_X: Final[Vec] = (1.0, 0.0, 0.0)
_Y: Final[Vec] = (0.0, 1.0, 0.0)
_Z: Final[Vec] = (0.0, 0.0, 1.0)


def pose(
    plan: Plan,
    number: int,
    bend: int,
    *,
    units: Units = Units.MM,
    dialect: Dialect = Dialect.UK,
    width: float = 360.0,
    height: float | None = None,
    paper: bool = True,
    prefix: str | None = None,
) -> str:
    """The stick in the bender at the moment of setting a bend, and the way the tail swings, as SVG text.

    The held side lies gripped, the mark on the set line, the bends made before stand as they do; the bend to
    come is dashed. With a bender its floor and bodies are drawn, as boxes. Long straights are broken.

    number: of the stick in the run, from 1.  bend: its number in the stick, from 1.  The rest as for a stick.
    Raises ValueError for a stick, bend, size or prefix that is not there or not allowed, and for a stick that
    has no order of bending.
    """
    stick = stick_of(plan, number)
    if not 1 <= bend <= len(stick.bends):
        raise ValueError(f"the stick has {counted(len(stick.bends), 'bend')}; there is no bend {bend}")
    if not width >= LEAST_WIDTH or (height is not None and not height >= LEAST_WIDTH):
        raise ValueError(f"a pose is {LEAST_WIDTH:g} px wide and high at least, not {width:g} by {height}")
    planned = stick.bends[bend - 1]
    if planned.order is None or planned.held is None:
        raise ValueError(f"there is no order of bending for {stick_said(number, dialect)}, so no pose")
    setting = _Setting.of(plan, stick, planned)
    scene = _scene(setting, units, dialect)
    tallest = height if height is not None else _TALLEST * width
    layout = fit(
        scene,
        lettering_for(width),
        width=width - 2.0 * PAD,
        height=tallest - 2.0 * PAD,
        line_width=_tube_width(scene, width, tallest),
        parts=_PARTS,
    )
    high = height if height is not None else layout.box.height + 2.0 * PAD
    out = Drawing(paper=paper)
    paint(layout, out, ((width - layout.box.width) / 2.0, (high - layout.box.height) / 2.0))
    said = list(_said(setting, units, dialect))
    if layout.left_out:
        said.append(f"Left out of the drawing for want of room: {listed(layout.left_out)}.")
    title = (
        f"Bend {bend} of {stick_said(number, dialect)}, {run_said(plan)}, in the {term('bender', dialect)}"
    )
    return out.finish("pose", width=width, height=high, title=title, desc=" ".join(said), prefix=prefix)


def _tube_width(scene: Scene, width: float, height: float) -> float:
    """Of the tube, px: to scale, as far as that can be seen and leaves room."""
    spots = [scene.view.flat(piece.start) for tube in scene.tubes for piece in tube.pieces]
    spots += [scene.view.flat(point) for shape in scene.shapes for point in shape.points]
    whole = box_round(spots)
    scale = 0.9 * min(width / max(whole.width, 1.0), height / max(whole.height, 1.0))
    return min(max(_THINNEST, scene.diameter * scale), _THICKEST)


# ---------------------------------------------------------------------------------------- what lies where


@dataclass(frozen=True, slots=True)
class _Setting:
    """A bend being set, in the machine's frame; what is far is brought nearer.

    still: the stick before the pull, from its held end, with whether each piece is broken; held: how many of
    its pieces are held.  come: arc and tail when the bend is pulled.  arc: its length, mm.  mark: from the
    hold-side tangent point, mm; None where it lies off what is shown.  up: away from the floor.
    """

    plan: Plan
    stick: Stick
    bend: PlannedBend
    still: tuple[tuple[Piece, bool], ...]
    held: int
    come: tuple[Piece, ...]
    arc: float
    line_at: float
    mark_shown: bool
    up: Vec

    @classmethod
    def of(cls, plan: Plan, stick: Stick, bend: PlannedBend) -> "_Setting":
        """As the plan has it."""
        order, side = bend.order, "start" if bend.held == "start" else "finish"
        straight = [
            StickBend(each.begin, each.finish, each.angle, each.radius, each.roll) for each in stick.bends
        ]
        made = [each.number for each in stick.bends if (each.order or 0) < (order or 0)]
        arc = bend.finish - bend.begin
        line_at = bend.set.mark - bend.begin if side == "start" else bend.finish - bend.set.mark
        radius, diameter = bend.radius, plan.conduit.outside_diameter
        near_held = max(_NEAR_HELD * radius, 2.0 * diameter - line_at)
        near_tail = max(_NEAR_TAIL * radius, line_at - arc + 2.0 * diameter)

        def pieces(pulled: Deg) -> list[tuple[Posed, Piece]]:
            found = posed(
                straight,
                stick.cut_length,
                bend.number,
                made=made,
                held="start" if side == "start" else "finish",
                pulled=pulled,
            )
            return [(each, _piece(each)) for each in found.pieces]

        before, after = pieces(Deg(0.0)), pieces(bend.angle)
        held = [piece for each, piece in before if each.part == "held side"]
        tail = [piece for each, piece in before if each.part != "held side"]
        still = [
            *_nearer(held, near_held, _OTHER * radius, outward=False),
            *_nearer(tail, arc + near_tail, _OTHER * radius, outward=True),
        ]
        arcs = [piece for each, piece in after if each.part == "arc"]
        swung = [piece for each, piece in after if each.part == "tail"]
        come = [*arcs, *(piece for piece, _ in _nearer(swung, near_tail, _OTHER * radius, outward=True))]
        floor = None if plan.bender is None else plan.bender.floor
        up = _Y if floor is None else floor.normal
        on_stick = 0.0 <= bend.set.mark <= stick.cut_length
        return cls(
            plan, stick, bend, tuple(still), len(held), tuple(come), arc, line_at, on_stick, up
        )  # fmt: skip

    @property
    def diameter(self) -> float:
        """Outside, mm."""
        return self.plan.conduit.outside_diameter

    @property
    def tail(self) -> list[Piece]:
        """The swing side before the pull."""
        return [piece for piece, _ in self.still[self.held :]]

    @property
    def datum(self) -> tuple[Vec, Vec]:
        """The datum end, and its unit direction into the stick."""
        if self.bend.held == "start":
            first = self.still[0][0]
            return first.start, first.direction
        last = self.still[-1][0]
        return last.at(last.finish), opposite(last.heading(last.finish))

    def swung(self, point: Vec, pulled: Deg) -> Vec:
        """Where a point of the swing side comes when the bend is pulled so far: it rolls on the former."""
        radius = self.bend.radius
        c, s = cos_deg(pulled), sin_deg(pulled)
        x, y, z = point[0] - radius * math.radians(pulled), point[1], point[2]
        return (radius * s + x * c - y * s, radius * (1.0 - c) + x * s + y * c, z)


def _piece(posed_piece: Posed) -> Piece:
    """A piece of the engine's pose as a piece of a centreline; places along it count from 0."""
    if isinstance(posed_piece, ArcPiece):
        radius = posed_piece.radius
        toward = combine(1.0 / radius, posed_piece.centre, -1.0 / radius, posed_piece.start)
        direction = cross(toward, posed_piece.axis)
        size = radius * math.radians(posed_piece.angle)
        return Piece(Mm(0.0), Mm(size), posed_piece.start, direction, toward, radius, posed_piece.angle)
    size = math.dist(posed_piece.start, posed_piece.end)
    way = combine(1.0 / size, posed_piece.end, -1.0 / size, posed_piece.start)
    return Piece(Mm(0.0), Mm(size), posed_piece.start, way)


def _nearer(
    pieces: Sequence[Piece], first: float, other: float, *, outward: bool
) -> list[tuple[Piece, bool]]:
    """One side of the stick with its long straights made shorter, each with whether it was.

    first: what is left of the straight at the former, mm.  other: of every other.  outward: the pieces run
    away from the former, as the tail's do.
    """
    found: list[tuple[Piece, bool]] = []
    shift = _ZERO
    most = first
    for piece in pieces if outward else reversed(pieces):
        size = piece.finish - piece.begin
        left = size
        if not piece.angle:
            left = most if size > _WORTH * most else size
            most = other
        sign = -1.0 if outward else 1.0
        start = combine(1.0, piece.start, 1.0, shift)
        if not outward:
            start = along(start, size - left, piece.direction)
        found.append((replace(piece, start=start, finish=Mm(piece.begin + left)), left < size))
        shift = along(shift, sign * (size - left), piece.direction)
    return found if outward else found[::-1]


def _tubes(setting: _Setting) -> Iterator[Tube]:
    """The stick before the pull, parted where it is broken; then, dashed, arc and tail to come."""
    gap = _GAP * setting.diameter
    taken: list[Piece] = []
    broken = False
    for index, (piece, is_broken) in enumerate(setting.still):
        if not is_broken:
            taken.append(piece)
            continue
        size = piece.finish - piece.begin
        # near the former the stick is whole: hold, mark and arc are to be seen
        part = 0.72 if index == setting.held else 0.28 if index == setting.held - 1 else 0.5
        first, second = part * size - gap / 2.0, part * size + gap / 2.0
        taken.append(replace(piece, finish=Mm(first)))
        yield Tube(tuple(taken), broken=(broken, True))
        taken = [replace(piece, start=piece.at(second), finish=Mm(size - second))]
        broken = True
    yield Tube(tuple(taken), broken=(broken, False))
    yield Tube(setting.come, dashed=True)


# ---------------------------------------------------------------------------------------- what is shown


def _scene(setting: _Setting, units: Units, dialect: Dialect) -> Scene:
    bend = setting.bend
    frame = _frame(setting.up)
    floor = _floor_at(setting, frame)
    view = _choose_view(setting, frame)
    boxes = _boxes(setting, frame, floor)
    shapes: list[Shape] = []
    if floor is not None:
        shapes.append(_floor(setting, frame, floor))
    # what is nearer the viewer is painted later
    for box in sorted(boxes, key=lambda box: sum(view.depth(point) for point in box)):
        shapes += _body(box, view)
    shapes += _former(setting, view)
    tip = _farthest(setting)
    steps = max(2, math.ceil(bend.angle / _SWEEP_STEP))
    sweep = [setting.swung(tip, Deg(bend.angle * i / steps)) for i in range(steps + 1)]
    if math.dist(sweep[0], sweep[-1]) > setting.diameter:
        shapes.append(Shape("swp", tuple(sweep), weight=0.6, arrow="arw"))
    shapes.append(_set_line(setting))
    signs = [*_grip(setting)]
    if bend.turned:
        shapes.append(_turn_arrow(setting, frame))
    marks = (((setting.line_at, 0.0, 0.0), _X),) if setting.mark_shown else ()
    return Scene(
        view,
        setting.diameter,
        tuple(_tubes(setting)),
        labels=tuple(_labels(setting, frame, sweep, floor, units, dialect)),
        signs=tuple(signs),
        datum=setting.datum,
        marks=marks,
        shapes=tuple(shapes),
        every=2,
    )


@dataclass(frozen=True, slots=True)
class _Frame:
    """The bender as one stands before it: up from the floor, ahead along the stick, away from the viewer."""

    up: Vec
    ahead: Vec
    away: Vec


def _frame(normal: Vec) -> _Frame:
    size = math.hypot(*normal)
    up = (normal[0] / size, normal[1] / size, normal[2] / size)
    # A stick that stands upright has no way ahead: the former's plane gives it.
    ahead = part_square_to(_X, up) or part_square_to(_Y, up) or _Z
    return _Frame(up, ahead, cross(up, ahead))


def _height(point: Vec, frame: _Frame) -> float:
    return dot(point, frame.up)


def _floor_at(setting: _Setting, frame: _Frame) -> tuple[float, float] | None:
    """How far down the floor lies: in truth, and as drawn, mm; None without one."""
    bender = setting.plan.bender
    if bender is None or bender.floor is None:
        return None
    true = -bender.floor.offset / math.hypot(*bender.floor.normal)
    ends = [point for piece in (*_pieces(setting), *setting.come) for point in sampled(piece, 0.1)]
    deepest = max(-_height(point, frame) for point in ends)
    return true, max(min(true, _DOWN * setting.bend.radius), deepest + 1.5 * setting.diameter)


def _pieces(setting: _Setting) -> list[Piece]:
    return [piece for piece, _ in setting.still]


def _boxes(setting: _Setting, frame: _Frame, floor: tuple[float, float] | None) -> list[tuple[Vec, ...]]:
    """The bender's bodies as drawn, by their corners."""
    bodies = () if setting.plan.bender is None else setting.plan.bender.bodies
    return [_corners(body, setting, frame, floor) for body in bodies]


def _corners(
    body: BodyAsked, setting: _Setting, frame: _Frame, floor: tuple[float, float] | None
) -> tuple[Vec, ...]:
    """A body's eight corners, x slowest and z fastest, what is far brought nearer."""
    radius = setting.bend.radius
    found = []
    for x in (body.min[0], body.max[0]):
        for y in (body.min[1], body.max[1]):
            for z in (body.min[2], body.max[2]):
                aside = _ASIDE * radius
                point = (min(max(x, -aside), aside), y, min(max(z, -aside), aside))
                down = -_height(point, frame)
                shown = down
                half = _HALF_DOWN * radius
                if floor is not None and floor[1] < floor[0] and down > half:
                    shown = half + (down - half) * (floor[1] - half) / (floor[0] - half)
                found.append(along(point, down - shown, frame.up))
    return tuple(found)


_FACES: Final = (
    ((0, 1, 3, 2), (4, 6, 7, 5)),
    ((0, 4, 5, 1), (2, 3, 7, 6)),
    ((0, 2, 6, 4), (1, 5, 7, 3)),
)
"""Corners of a box's faces: for each axis the face at its least and at its greatest coordinate."""


def _body(corners: tuple[Vec, ...], view: View) -> Iterator[Shape]:
    """The three faces of a box that are seen."""
    for axis, faces in enumerate(_FACES):
        face = faces[view.toward[axis] > 0.0]
        classes = ("room-w2", "room-f", "room-w")[axis]
        yield Shape(classes, tuple(corners[i] for i in face), closed=True, weight=_EDGE)


def _floor(setting: _Setting, frame: _Frame, floor: tuple[float, float]) -> Shape:
    """A strip of floor under the bender: far left, far right, near right and near left corner."""
    radius = setting.bend.radius
    feet = [point for box in _boxes(setting, frame, floor) for point in box]
    feet += [] if feet else [(-radius, 0.0, 0.0), (radius, 0.0, 0.0)]
    aheads = [dot(point, frame.ahead) for point in feet]
    aways = [dot(point, frame.away) for point in feet]
    margin = 0.8 * radius
    left, right = min(aheads) - margin, max(aheads) + margin
    near, far = min(aways) - margin, max(aways) + margin
    corners = ((left, far), (right, far), (right, near), (left, near))
    points = [along(combine(a, frame.ahead, b, frame.away), -floor[1], frame.up) for a, b in corners]
    return Shape("room-f", tuple(points), closed=True, weight=WALL)


def _former(setting: _Setting, view: View) -> Iterator[Shape]:
    """A disc that the arc is laid on, with its centre."""
    radius, half = setting.bend.radius, 0.5 * setting.diameter
    inner = max(radius - half, 0.3 * radius)
    rims = [
        [
            (inner * math.sin(turn), radius - inner * math.cos(turn), z)
            for turn in (2.0 * math.pi * i / _ROUND for i in range(_ROUND))
        ]
        for z in (-half, half)
    ]
    every = [*rims[0], *rims[1]]
    outline = hull([view.flat(point) for point in every])
    yield Shape("former", tuple(every[i] for i in outline), closed=True, weight=0.6, filled=True)
    near = rims[view.toward[2] > 0.0]
    yield Shape("former", tuple(near), closed=True, weight=0.3)
    z, size = near[0][2], 0.14 * radius
    yield Shape("former-c", ((-size, radius, z), (size, radius, z)), weight=0.3)
    yield Shape("former-c", ((0.0, radius - size, z), (0.0, radius + size, z)), weight=0.3)


def _farthest(setting: _Setting) -> Vec:
    """The place of the tail, as drawn, that swings widest."""
    leaves = (setting.arc, 0.0, 0.0)
    places = [point for piece in setting.tail for point in sampled(piece, 0.1)]
    return max(places, key=lambda point: math.dist(point, leaves), default=leaves)


def _set_line(setting: _Setting) -> Shape:
    """Across the conduit, from under it to the former."""
    x, radius = setting.line_at, setting.bend.radius
    over = 0.55 * radius if 0.0 <= x <= 0.9 * radius else 2.2 * setting.diameter
    return Shape("setl", ((x, -2.0 * setting.diameter, 0.0), (x, over, 0.0)), weight=0.3, over=True)


def _grip(setting: _Setting) -> Iterator[Sign]:
    """Jaws on the straight that is held."""
    if not setting.held:
        return
    piece = setting.still[setting.held - 1][0]
    size = piece.finish - piece.begin
    if piece.angle or size < 0.5 * setting.diameter:
        return
    reach = min(0.7 * setting.bend.radius, 0.4 * size)
    away = min(0.6 * setting.bend.radius, 0.25 * size)
    yield Sign(SignKind.GRIP, (-away, 0.0, 0.0), (((-1.0, 0.0, 0.0), reach),))


def _held_place(setting: _Setting) -> Vec:
    """Beside where the stick is gripped: the middle of what is shown of its straight."""
    if not setting.held:
        return _ZERO
    piece = setting.still[setting.held - 1][0]
    return piece.at((piece.begin + piece.finish) / 2.0)


def _turn_arrow(setting: _Setting, frame: _Frame) -> Shape:
    """An arrow round the held side: the stick was turned end for end."""
    centre = along(_held_place(setting), 1.9 * setting.diameter, frame.up)
    radius = 2.2 * setting.diameter
    steps = 18
    points = []
    for i in range(steps + 1):
        turn = math.radians(200.0 + _TURNED * i / steps)
        points.append(
            combine(
                1.0,
                centre,
                radius,
                combine(math.cos(turn), frame.ahead, math.sin(turn), frame.away),
            )
        )
    return Shape("turn", tuple(points), weight=1.2, over=True, arrow="turn-a")


# ---------------------------------------------------------------------------------------- from where


def _choose_view(setting: _Setting, frame: _Frame) -> View:
    """From before the bender, a little from one side: the former shows broad, and no leg end on."""
    best: tuple[float, View] | None = None
    for rank, (azimuth, elevation) in enumerate(
        (azimuth, elevation) for elevation in (24.0, 36.0, 52.0) for azimuth in (-28.0, 28.0, -50.0, 50.0)
    ):
        view = _view(frame, azimuth, elevation)
        cost = _hides(setting, view) + 0.04 * rank
        if best is None or cost < best[0]:
            best = (cost, view)
    assert best is not None  # noqa: S101 - the loop ran
    return best[1]


def _view(frame: _Frame, azimuth: float, elevation: float) -> View:
    """azimuth: from straight before it toward the swing side, elevation: above level; degrees."""
    a, e = math.radians(azimuth), math.radians(elevation)
    level = combine(-math.cos(a), frame.away, math.sin(a), frame.ahead)
    return View(
        "before the bender",
        right=combine(math.cos(a), frame.ahead, math.sin(a), frame.away),
        up=combine(math.cos(e), frame.up, -math.sin(e), level),
        toward=combine(math.sin(e), frame.up, math.cos(e), level),
        back=((0, 1), (1, 1)),
    )


def _hides(setting: _Setting, view: View) -> float:
    """What a view hides: a former seen on edge, straights end on or over each other."""
    cost = 3.0 * max(0.0, 0.62 - abs(view.toward[2]))
    lines = [
        (view.flat(piece.start), view.flat(piece.at(piece.finish)), piece.finish - piece.begin)
        for piece in (*_pieces(setting), *setting.come)
        if not piece.angle
    ]
    for a, b, size in lines:
        cost += max(0.0, 0.45 - distance(a, b) / size) * 2.0
    near = 1.2 * setting.diameter
    for i, (a, b, _) in enumerate(lines):
        for c, d, _ in lines[i + 2 :]:
            if line_to_line(a, b, c, d) < near:
                cost += 0.15
    return cost


# ---------------------------------------------------------------------------------------- in words

_LEG_LIES: Final = {"up": "leg up", "down": "leg down", "flat": "leg flat", "aslant": "leg aslant"}


def _held_said(bend: PlannedBend, dialect: Dialect) -> str:
    return f"{term('datum_end' if bend.held == 'start' else 'far_end', dialect)} held"


def _posture_said(bend: PlannedBend) -> str:
    """How the leg beyond the nearest bend made lies; without a floor, how it is turned from this bend."""
    posture = bend.posture
    if posture is None:
        return ""
    if posture.lies is not None:
        return _LEG_LIES[posture.lies]
    turned = tape.degrees(posture.angle)
    return {"0°": "leg this way", "180°": "leg the other way"}.get(turned, f"leg turned {turned}")


def _labels(
    setting: _Setting,
    frame: _Frame,
    sweep: Sequence[Vec],
    floor: tuple[float, float] | None,
    units: Units,
    dialect: Dialect,
) -> Iterator[Label]:
    bend = setting.bend
    down = opposite(frame.up)
    if setting.mark_shown:
        text = tape.read(bend.set.mark, units)
        yield Label(
            "the mark", ((setting.line_at, 0.0, 0.0),), text, "t-b mk", clear=1.0, beside=down, weight=3.0
        )
    line = term(f"line_{bend.set.line}", dialect)
    foot = (setting.line_at, -2.0 * setting.diameter, 0.0)
    top = _set_line(setting).points[1]
    yield Label("the name of the set line", (foot, top), line, "t-s", clear=0.2, beside=down, weight=1.0)
    last = setting.still[0][0]
    places = (_held_place(setting), last.start)
    yield Label(
        "which end is held", places, _held_said(bend, dialect), "t-b", clear=1.0, beside=down, weight=3.0
    )
    # the word that has less choice of places first
    both = (_come_label(setting), _sweep_label(setting, sweep, units))
    yield from both if bend.angle < _STEEP else both[::-1]
    if bend.turned:
        yield Label(
            "the turn round",
            (along(_held_place(setting), 2.4 * setting.diameter, frame.up),),
            "turn round",
            "t-b",
            clear=1.6,
            beside=frame.up,
            weight=2.0,
        )
    yield from _made_labels(setting)
    if floor is not None:
        text = f"floor {tape.say(Mm(floor[0]), units)} down"
        near_right, near_left = _floor(setting, frame, floor).points[2:]
        at = combine(0.85, near_right, 0.15, near_left)
        yield Label("the floor", (at,), text, "t-s", clear=0.4, weight=0.1)


def _come_label(setting: _Setting) -> Label:
    """The bend to come, beside its arc, or beside the tail where the arc lies along the straight stick."""
    bend, arc = setting.bend, setting.come[0]
    out = combine(sin_deg(Deg(bend.angle / 2.0)), _X, -cos_deg(Deg(bend.angle / 2.0)), _Y)
    places = [arc.at(0.5 * arc.finish)]
    places += [piece.at(part * piece.finish) for piece in setting.come[1:2] for part in (0.6, 1.0)]
    if bend.angle < _STEEP:
        places.reverse()
    text = f"bend {bend.number}: {tape.degrees(bend.angle)}"
    return Label("the bend to come", tuple(places), text, "t-b", clear=0.9, beside=out, weight=2.0)


def _sweep_label(setting: _Setting, sweep: Sequence[Vec], units: Units) -> Label:
    """How far the tail swings, beside the way it goes."""
    places = tuple(sweep[len(sweep) * part // 10] for part in (6, 4, 8))
    word = "tail swings" if _motion(setting) is Motion.TAIL else "tail"
    text = f"{word} {tape.say(setting.bend.set.sweep, units)}"
    return Label("the sweep of the tail", places, text, "t-s", clear=0.3, weight=2.0)


def _motion(setting: _Setting) -> Motion:
    return Motion.TAIL if setting.plan.bender is None else setting.plan.bender.motion


def _made_labels(setting: _Setting) -> Iterator[Label]:
    """The bends that are made, the nearest with how the leg beyond it lies."""
    bend, pieces = setting.bend, _pieces(setting)
    arcs = [(index, piece) for index, piece in enumerate(pieces) if piece.angle]
    made = sorted(
        (each for each in setting.stick.bends if (each.order or 0) < (bend.order or 0)),
        key=lambda each: each.number,
        reverse=bend.held == "finish",
    )
    for each, (_, arc) in zip(made, arcs, strict=True):
        place = arc.at((arc.begin + arc.finish) / 2.0)
        outward = opposite(
            combine(-sin_deg(Deg(arc.angle / 2.0)), arc.direction, cos_deg(Deg(arc.angle / 2.0)), arc.toward)
        )
        nearest = bend.posture is not None and bend.posture.bend == each.number
        text = f"bend {each.number}" + (f", {_posture_said(bend)}" if nearest else "")
        yield Label(
            f"bend {each.number}, made",
            (place,),
            text,
            "t-s",
            clear=0.7,
            beside=outward,
            weight=0.8 if nearest else 0.15,
            family="made",
        )


def _said(setting: _Setting, units: Units, dialect: Dialect) -> Iterator[str]:
    """The pose in words."""
    bend, plan = setting.bend, setting.plan
    bender, former = term("bender", dialect), term("former", dialect)
    yield (
        f"The {term('stick', dialect)} in the {bender} before bend {bend.number}, {angle_said(bend.angle)}, "
        f"is pulled; it is made {ordinal(bend.order or 0)} of {len(setting.stick.bends)}."
    )
    turned = "Turn it round, end for end. " if bend.turned else ""
    yield f"{turned}{_held_said(bend, dialect).capitalize()}."
    yield (
        f"Mark {tape.say(bend.set.mark, units)} from the {term('datum_end', dialect)}, on the "
        f"{term(f'line_{bend.set.line}', dialect)}{'' if bend.set.line == 'middle' else f' of the {former}'}."
    )
    if not setting.mark_shown:
        yield f"The mark falls off the {term('stick', dialect)}."
    if bend.pull is not None:
        yield f"Pull to {angle_said(bend.pull.first)}."
    made = [str(each.number) for each in setting.stick.bends if (each.order or 0) < (bend.order or 0)]
    if made and bend.posture is not None:
        yield f"Already made: {listed(made)}. Nearest is bend {bend.posture.bend}: {_posture_said(bend)}."
    sweep = tape.say(bend.set.sweep, units)
    yield {
        Motion.TAIL: f"The tail swings {sweep}.",
        Motion.HOOKED: f"The held side rises; the tail reaches {sweep}.",
        Motion.BOTH: f"Both sides rise; the tail reaches {sweep}.",
    }[_motion(setting)]
    if plan.bender is not None:
        if plan.bender.floor is not None:
            down = -plan.bender.floor.offset / math.hypot(*plan.bender.floor.normal)
            yield f"The floor lies {tape.say(Mm(down), units)} down."
        if plan.bender.planes:
            yield f"Not drawn: {counted(len(plan.bender.planes), 'further plane')}."
    yield "Long straights are broken, and what is far is drawn nearer."
