"""A finished stick or a run laid out on the sheet: tubes, dimensions and words, none in another's way."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

from bendcore.drawing.depth import Stretch, painting_order
from bendcore.drawing.lettering import ASCENT, text_height, text_width
from bendcore.drawing.plane import (
    Box,
    Sheet,
    Spot,
    Stroke,
    beside,
    box_round,
    distance,
    part_in,
    scanned,
    thinned,
    toward,
    trimmed,
)
from bendcore.drawing.signs import GHOST, LEAST_LIT, Sign, SignKind, circle, figures
from bendcore.drawing.space import Piece, View, opposite, sampled
from bendcore.drawing.svg import Drawing, arrow_head
from bendcore.vectors import Vec, any_square_to, cross, dot

_GAP: Final = 2.5  # between a text and anything else, px
_ARROW: Final = 9.0
_TAIL: Final = 11.0  # how far a dimension line goes past its arrows where these stand outside
_STEPS_OFF: Final = (0.0, 4.0, 9.0, 16.0, 25.0, 36.0, 50.0, 66.0)
_ROUND_ABOUT: Final = tuple(
    (turn, math.cos(turn), math.sin(turn)) for turn in (2.0 * math.pi * i / 24.0 for i in range(24))
)
"""Directions from a place that a word may stand in: angle on the sheet, and its unit vector."""

_HEAVY: Final = 3.0  # weight of a word that every direction is tried for
_FAR_OFF: Final = 0.06  # what each px costs
_LED: Final = 13.0  # a word farther than this from what it names is led to it by a line
_NORTH: Final = "north"
_NORTH_LONG: Final = 22.0
_SHORTEST: Final = 11.0  # a leg shorter than this on the sheet gets no dimension
_SHORT: Final = 30.0  # a dimension line under this may have its figure past its end
_PAST: Final = 4.0  # how far an extension line goes past the dimension line

# How much it spoils a drawing when a line is drawn across another, by what is crossed.
_TUBE, _GHOST_TUBE, _LINE, WALL = 5.0, 1.0, 1.2, 0.15
_WALLS: Final = 0.5  # what the leader of a word may spoil: the edges of walls, but no line and no tube
_TOO_BAD: Final = 6.5  # a dimension that spoils more is left out

# What weighs against what, a dimension left out counting 1: a drawing of half the size, and an ugly place.
_SMALLNESS: Final = 1.6
_UGLINESS: Final = 0.1

_SEAM: Final = 0.4
_BREAK_PLACES: Final = 12
# Light and shade along a tube: class; width from which it shows, px; its own width and where it lies, in tube
# widths. The light comes from above on the left, and the tube is round: the shade lies farther out.
_LIGHT: Final = (("tu-d", 8.0, 0.18, 0.15, 0.25), ("tu-h", LEAST_LIT, 0.26, -0.09, -0.13))

# ---------------------------------------------------------------------------------------------- what is asked


@dataclass(frozen=True, slots=True)
class Tube:
    """A stretch of conduit.

    ghost: not the one meant.  broken: whether its start and its finish are a break, the conduit going on.
    dashed: only its outline, where conduit is still to come.
    """

    pieces: tuple[Piece, ...]
    ghost: bool = False
    broken: tuple[bool, bool] = (False, False)
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Shape:
    """A line or an outline in the room, drawn under the tubes or over them.

    weight: how much it spoils to draw across it.  filled: no word stands on it.  arrow: at its end.
    """

    classes: str
    points: tuple[Vec, ...]
    closed: bool = False
    weight: float = 1.2
    filled: bool = False
    over: bool = False
    arrow: str = ""


@dataclass(frozen=True, slots=True)
class Dimension:
    """A length to be told between two places in the room.

    off: unit directions to set it off in, the first wanted first.
    """

    name: str
    start: Vec
    end: Vec
    text: str
    off: tuple[Vec, ...]


@dataclass(frozen=True, slots=True)
class Label:
    """A word beside a place in the room, or beside one of several, the first wanted first.

    clear: how far from the place it stands at least, in tube widths.  beside: unit direction it stands in if
    it can.  weight: how much its absence counts, a dimension counting 1.  family: of labels that could be
    taken for each other.
    """

    name: str
    at: tuple[Vec, ...]
    text: str
    classes: str
    clear: float
    beside: Vec | None = None
    weight: float = 1.0
    family: str = ""


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything a drawing shows, in mm in the room."""

    view: View
    diameter: float
    tubes: tuple[Tube, ...]
    dimensions: tuple[Dimension, ...] = ()
    labels: tuple[Label, ...] = ()
    signs: tuple[Sign, ...] = ()
    datum: tuple[Vec, Vec] | None = None  # the end and its unit direction
    marks: tuple[tuple[Vec, Vec], ...] = ()  # the pencil mark of the bend in hand
    ring: Vec | None = None
    shapes: tuple[Shape, ...] = ()
    north: bool = False  # an arrow to the north, where there is room for one
    every: int = 1  # of the directions round a place, each so-manieth is tried for a word of less weight


@dataclass(frozen=True, slots=True)
class Lettering:
    """Sizes of text, px."""

    figure: float
    word: float


# ------------------------------------------------------------------------------------------ what is placed


@dataclass(frozen=True, slots=True)
class _Text:
    classes: str
    spot: Spot  # middle of its baseline
    text: str
    size: float
    box: Box


@dataclass(frozen=True, slots=True)
class _PlacedDimension:
    """A dimension on the sheet: two extension lines, the line in one piece or two, arrowheads, the figure."""

    extensions: tuple[tuple[Spot, Spot], ...]
    lines: tuple[tuple[Spot, Spot], ...]
    arrows: tuple[tuple[Spot, Spot, Spot], ...]
    text: _Text

    @property
    def box(self) -> Box:
        ends = [spot for line in (*self.extensions, *self.lines) for spot in line]
        return box_round([*ends, *(spot for head in self.arrows for spot in head)]).joined(self.text.box)


@dataclass(slots=True)
class Layout:
    """A scene at one scale, before it is moved to its place. left_out: names of what did not go."""

    scale: float
    tube_width: float
    box: Box
    scene: Scene
    chains: "list[_Chain]"
    dashes: list[list[Spot]] = field(default_factory=list)
    dimensions: list[_PlacedDimension] = field(default_factory=list)
    words: list[tuple[_Text, tuple[Spot, Spot] | None]] = field(default_factory=list)
    north: tuple[Spot, Spot] | None = None
    left_out: list[str] = field(default_factory=list)
    regret: float = 0.0


def fit(
    scene: Scene,
    lettering: Lettering,
    *,
    width: float,
    height: float,
    line_width: float,
    parts: Sequence[float],
) -> Layout:
    """The scene at the greatest scale at which all of it goes into the room; or the least bad.

    width, height: room, px.  line_width: of the tube, px; drawn wider where the scale asks for it.  parts: of
    the greatest scale, to be tried in turn.
    """
    spots = [
        scene.view.flat(point)
        for tube in scene.tubes
        for piece in tube.pieces
        for point in sampled(piece, 0.05)
    ]
    spots += [scene.view.flat(point) for shape in scene.shapes for point in shape.points]
    whole = box_round(spots)
    room = 2.0 * line_width
    widest = min(
        (width - room) / whole.width if whole.width > 0.0 else math.inf,
        (height - room) / whole.height if whole.height > 0.0 else math.inf,
    )
    # Bars, rings and rims may reach past the tube by more than was left for them.
    bare = _Laying(scene, lettering, widest, line_width, width=width, height=height).layout.box
    over = (bare.width - whole.width * widest, bare.height - whole.height * widest)
    widest = min(
        widest,
        (width - over[0]) / whole.width if whole.width > 0.0 else math.inf,
        (height - over[1]) / whole.height if whole.height > 0.0 else math.inf,
    )
    best: tuple[float, Layout] | None = None
    for part in parts:
        small = _SMALLNESS * (1.0 - part)
        if best is not None and best[0] <= small:
            break  # a smaller drawing cannot make up for being smaller
        laying = _Laying(scene, lettering, widest * part, line_width, width=width, height=height)
        layout = laying.lay(most=math.inf if best is None else best[0] - small)
        if best is None or layout.regret + small < best[0]:
            best = (layout.regret + small, layout)
    assert best is not None  # noqa: S101 - the loop ran
    return best[1]


class _Laying:
    """A scene being laid out at one scale: how much room it may take is known, not yet where that lies."""

    def __init__(
        self,
        scene: Scene,
        lettering: Lettering,
        scale: float,
        line_width: float,
        *,
        width: float,
        height: float,
    ) -> None:
        self.scene, self.lettering, self.scale = scene, lettering, scale
        self.width, self.height = width, height
        # never thinner than asked; as thick as it is where the scale is that large, but no thicker than twice
        self.tube_width = min(max(line_width, scene.diameter * scale), 2.0 * line_width)
        self.sheet = Sheet()
        chains = _chains(scene, scale, self.tube_width)
        dashes = [line for tube in scene.tubes if tube.dashed for line in self.dashed(tube)]
        self.layout = Layout(scale, self.tube_width, self._draw_tubes(chains, dashes), scene, chains, dashes)

    def at(self, point: Vec) -> Spot:
        """A place in the room on the sheet, px."""
        x, y = self.scene.view.flat(point)
        return (x * self.scale, y * self.scale)

    def lay(self, *, most: float) -> Layout:
        """Dimensions, longest first, then words in their order; given up where it is worse than `most`."""
        longest = sorted(
            self.scene.dimensions, key=lambda each: -distance(self.at(each.start), self.at(each.end))
        )
        for dimension in longest:
            self._place_dimension(dimension)
            if self.layout.regret > most:
                return self.layout
        for label in self.scene.labels:
            self._place_label(label)
            if self.layout.regret > most:
                return self.layout
        if self.scene.north:
            self._place_north()
        return self.layout

    # ------------------------------------------------------------------------------------------ what stands

    def _draw_tubes(self, chains: "list[_Chain]", dashes: list[list[Spot]]) -> Box:
        """Puts what stands anyway on the sheet; the box round it."""
        scene, sheet, width = self.scene, self.sheet, self.tube_width
        boxes: list[Box] = []
        for chain in chains:
            ghost = scene.tubes[chain.tube].ghost
            half = width / 2.0 * (GHOST if ghost else 1.0)
            sheet.add_strokes(thinned(chain.spots, 4.0), half, weight=_GHOST_TUBE if ghost else _TUBE)
            boxes.append(box_round(chain.spots, by=half))
            for end in (chain.spots[0], chain.spots[-1]):  # its rim, seen aslant, reaches a little past it
                sheet.add_stroke(Stroke(end, end, half, 0.0))
                boxes.append(box_round([end], by=half))
            for across in chain.breaks:
                sheet.add_strokes(across, 1.0, weight=_LINE)
                boxes.append(box_round(across, by=2.0))
        for dash in dashes:
            sheet.add_strokes(thinned(dash, 4.0), 0.8, weight=_LINE)
            boxes.append(box_round(dash, by=1.0))
        boxes += [self._keep_off(shape) for shape in scene.shapes]
        for sign in scene.signs:
            for figure in figures(sign, scene.view, self.scale, width):
                line = figure.outline
                sheet.add_strokes(line, 1.8, weight=WALL if sign.kind is SignKind.GRIP else _LINE)
                if figure.closed or figure.radius:
                    sheet.add_stroke(Stroke(figure.spots[0], self.at(sign.at), 2.0, 0.0))
                    for level in scanned(line, 6.0):
                        sheet.add_stroke(Stroke(*level, 3.0, 0.0))
                boxes.append(box_round(line, by=1.8))
        if scene.ring is not None:
            centre, radius = self.at(scene.ring), ring_radius(width) + 2.0
            sheet.add_strokes(circle(centre, radius, 16), 1.0, weight=_LINE)
            sheet.add_stroke(Stroke(centre, centre, radius, 0.0))
            boxes.append(box_round([centre], by=radius))
        if scene.datum is not None:
            bar = bar_across(self.scene.view, self.at(scene.datum[0]), scene.datum[1], 0.9 * width)
            sheet.add_strokes(bar, 2.5, weight=_TUBE)
            boxes.append(box_round(bar, by=2.5))
        for place, heading in scene.marks:
            bar = bar_across(self.scene.view, self.at(place), heading, 0.9 * width)
            sheet.add_strokes(bar, 2.0, weight=_LINE)
            boxes.append(box_round(bar, by=2.0))
        whole = boxes[0]
        for box in boxes[1:]:
            whole = whole.joined(box)
        return whole

    def dashed(self, tube: Tube) -> list[list[Spot]]:
        """The two lines of the outline of conduit that is still to come."""
        spots: list[Spot] = []
        for piece in tube.pieces:
            spots += [self.at(point) for point in sampled(piece, self.scale)[1 if spots else 0 :]]
        half = self.tube_width / 2.0 - 0.6
        return [beside(spots, half), beside(spots, -half)]

    def _keep_off(self, shape: Shape) -> Box:
        """Puts a shape on the sheet; the box round it."""
        spots = [self.at(point) for point in shape.points]
        line = [*spots, spots[0]] if shape.closed else spots
        self.sheet.add_strokes(thinned(line, 4.0), 1.0, weight=shape.weight)
        if shape.filled:
            for level in scanned(spots, 6.0):
                self.sheet.add_stroke(Stroke(*level, 3.0, 0.0))
        if shape.arrow:
            tip, left, right = arrow_head(spots[-1], spots[-2], size=_ARROW)
            foot = ((left[0] + right[0]) / 2.0, (left[1] + right[1]) / 2.0)
            self.sheet.add_stroke(Stroke(tip, foot, distance(left, right) / 2.0, 0.0))
        return box_round(spots, by=4.0 if shape.arrow else 1.0)

    def _goes(self, box: Box) -> bool:
        """Whether the drawing still goes into its room with this beside what it has."""
        left, top, right, bottom = self.layout.box
        return (
            max(right, box[2]) - min(left, box[0]) <= self.width
            and max(bottom, box[3]) - min(top, box[1]) <= self.height
        )

    # ------------------------------------------------------------------------------------------ dimensions

    def _place_dimension(self, dimension: Dimension) -> None:
        best: tuple[float, _PlacedDimension] | None = None
        for base, placed in sorted(self._ways(dimension), key=lambda way: way[0]):
            if best is not None and base >= best[0]:
                break
            if not self._free(placed):
                continue
            cost = base + self._spoils(placed, (_TOO_BAD if best is None else best[0]) - base)
            if best is None or cost < best[0]:
                best = (cost, placed)
        if best is None or best[0] > _TOO_BAD:
            self.layout.left_out.append(dimension.name)
            self.layout.regret += 1.0
            return
        self.layout.regret += _UGLINESS * best[0]
        placed = best[1]
        self.layout.dimensions.append(placed)
        self.layout.box = self.layout.box.joined(placed.box)
        self.sheet.add_text(placed.text.box)
        for line in (*placed.extensions, *placed.lines):
            self.sheet.add_stroke(Stroke(*line, 0.5, _LINE))
        for head in placed.arrows:
            tip, left, right = head
            foot = ((left[0] + right[0]) / 2.0, (left[1] + right[1]) / 2.0)
            self.sheet.add_stroke(Stroke(tip, foot, distance(left, right) / 2.0, 0.0))

    def _ways(self, dimension: Dimension) -> Iterator[tuple[float, _PlacedDimension]]:
        """Ways to draw a dimension, each with what it costs before it is held against the rest."""
        a, b = self.at(dimension.start), self.at(dimension.end)
        size = distance(a, b)
        if size < _SHORTEST:
            return
        along = ((b[0] - a[0]) / size, (b[1] - a[1]) / size)
        middle = self.layout.box.middle
        wide = text_width(dimension.text, self.lettering.figure, bold=True)
        high = text_height(self.lettering.figure)
        for rank, off in enumerate(dimension.off):
            x, y = self.scene.view.flat(off)
            sine = along[0] * y - along[1] * x
            if abs(sine) < 0.3 or abs(sine) < 0.45 * math.hypot(x, y):
                continue  # nearly along the leg on the sheet
            normal = (-along[1] * math.copysign(1.0, sine), along[0] * math.copysign(1.0, sine))
            half_across = (wide * abs(normal[0]) + high * abs(normal[1])) / 2.0
            half_along = (wide * abs(along[0]) + high * abs(along[1])) / 2.0
            centre = ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)
            inward = (middle[0] - centre[0]) * normal[0] + (middle[1] - centre[1]) * normal[1] > 0.0
            base = 0.35 * rank + (0.5 if inward else 0.0)
            first = self.tube_width / 2.0 + 8.0
            inline = self.tube_width / 2.0 + 4.0 + half_across
            for step in range(6):
                for in_line, least in ((True, max(inline, first)), (False, first)):
                    away = least + 9.0 * step
                    shift = (x * away / abs(sine), y * away / abs(sine))
                    ends = ((a[0] + shift[0], a[1] + shift[1]), (b[0] + shift[0], b[1] + shift[1]))
                    extensions = tuple(
                        (
                            _between(foot, end, (self.tube_width / 2.0 + 3.0) / away),
                            _between(foot, end, 1.0 + _PAST / away),
                        )
                        for foot, end in zip((a, b), ends, strict=True)
                    )
                    cost = base + 0.025 * away + (0.0 if in_line else 0.5)
                    for part, extra in _parts(size, half_along, in_line):
                        spot = _between(*ends, part)
                        if not in_line:
                            beyond = 0.0 if 0.0 <= part <= 1.0 else 1.0
                            by = (half_across + 3.5) * (1.0 - beyond)
                            spot = (spot[0] + normal[0] * by, spot[1] + normal[1] * by)
                        placed = self._drawn(dimension.text, ends, extensions, spot, in_line=in_line)
                        if placed is not None:
                            yield cost + extra, placed

    def _drawn(
        self,
        text: str,
        ends: tuple[Spot, Spot],
        extensions: tuple[tuple[Spot, Spot], ...],
        spot: Spot,
        *,
        in_line: bool,
    ) -> _PlacedDimension | None:
        """A dimension with its figure at a spot; None where line, arrows and figure have no room together."""
        words = self._text("t-dim", spot, text, self.lettering.figure)
        a, b = ends
        size = distance(a, b)
        lines: tuple[tuple[Spot, Spot], ...]
        if in_line:
            gap = part_in(words.box.grown(3.0), a, b)
            if gap is None:
                return None
            first, second = gap[0] * size, (1.0 - gap[1]) * size
            if min(first, second) < _ARROW + 3.0:
                return None
            lines = ((a, _between(a, b, gap[0])), (_between(a, b, gap[1]), b))
            heads = (arrow_head(a, b, size=_ARROW), arrow_head(b, a, size=_ARROW))
        elif size >= 2.0 * _ARROW + 5.0:
            lines = ((a, b),)
            heads = (arrow_head(a, b, size=_ARROW), arrow_head(b, a, size=_ARROW))
        else:  # arrows from outside
            before, after = toward(a, b, -_ARROW - _TAIL / 2.0), toward(b, a, -_ARROW - _TAIL / 2.0)
            lines = ((before, after),)
            heads = (arrow_head(a, before, size=_ARROW), arrow_head(b, after, size=_ARROW))
        if any(part_in(words.box.grown(2.0), *line) is not None for line in (*extensions, *lines)):
            return None
        return _PlacedDimension(extensions, lines, heads, words)

    def _free(self, placed: _PlacedDimension) -> bool:
        return (
            self._goes(placed.box)
            and self.sheet.text_is_free(placed.text.box, _GAP)
            and all(self.sheet.line_is_free(*line, _GAP) for line in (*placed.extensions, *placed.lines))
            and all(self.sheet.line_is_free(head[1], head[2], _GAP) for head in placed.arrows)
        )

    def _spoils(self, placed: _PlacedDimension, most: float) -> float:
        cost = 0.0
        for lines, share in ((placed.lines, 1.0), (placed.extensions, 0.6)):
            for line in lines:
                cost += share * self.sheet.spoiled(*line, most=(most - cost) / share)
                if cost > most:
                    return cost
        return cost

    # ------------------------------------------------------------------------------------------ words

    def _place_label(self, label: Label) -> None:
        best: tuple[float, Box, tuple[Spot, Spot] | None] | None = None
        for step in _STEPS_OFF:
            if best is not None and best[0] <= _FAR_OFF * step:
                break  # farther off it cannot cost less
            for cost, at, box in self._places(label, step, math.inf if best is None else best[0]):
                if best is not None and best[0] <= cost:
                    break
                leader = self._leader(label, at, box)
                if leader is not None:
                    best = (cost, box, leader if leader[0] != leader[1] else None)
                    break
        if best is None:
            self.layout.left_out.append(label.name)
            self.layout.regret += label.weight
            return
        cost, box, led = best
        words = self._text(label.classes, box.middle, label.text, self._size(label))
        self.layout.regret += _UGLINESS * cost * min(label.weight, 1.0)
        self.layout.words.append((words, led))
        self.layout.box = self.layout.box.joined(words.box)
        self.sheet.add_text(words.box)
        if led is not None:
            self.sheet.add_stroke(Stroke(*led, 0.5, _LINE))

    def _size(self, label: Label) -> float:
        return self.lettering.figure if label.classes.startswith("t-b") else self.lettering.word

    def _places(self, label: Label, step: float, most: float) -> list[tuple[float, Spot, Box]]:
        """Where a label may stand so far off: its cost, the place it names, its room; least cost first.

        most: what costs as much is of no use.
        """
        size = self._size(label)
        wide = text_width(label.text, size, bold=label.classes.startswith("t-b"))
        high = text_height(size)
        wanted = None
        if label.beside is not None:
            x, y = self.scene.view.flat(label.beside)
            wanted = math.atan2(y, x) if math.hypot(x, y) > 0.2 else None
        clear = label.clear * self.tube_width
        places = []
        ways = _ROUND_ABOUT[:: self.scene.every] if label.weight < _HEAVY else _ROUND_ABOUT
        for rank, at in enumerate(map(self.at, label.at)):
            for angle, x, y in ways:
                off = 0.0 if wanted is None else 1.0 - math.cos(angle - wanted)
                if _FAR_OFF * (step + 3.0) + off + 0.3 * rank >= most:
                    continue
                for box in _boxes_off(at, x, y, away=clear + 3.0 + step, wide=wide, high=high):
                    if self._goes(box):
                        far = distance(box.nearest(at), at) - clear
                        places.append((_FAR_OFF * far + off + 0.3 * rank, at, box))
        return sorted(places, key=lambda place: place[0])

    def _leader(self, label: Label, at: Spot, words: Box) -> tuple[Spot, Spot] | None:
        """The line that leads from a label, of no length where it stands near; None where it cannot stand."""
        if not self.sheet.text_is_free(words, _GAP):
            return None
        clear = label.clear * self.tube_width
        far = distance(words.nearest(at), at)
        if far - clear < _LED:
            rivals = (
                self.at(place)
                for other in self.scene.labels
                if label.family and other.family == label.family and other.name != label.name
                for place in other.at
            )
            if any(distance(words.nearest(rival), rival) < 1.5 * far for rival in rivals):
                return None
            return (at, at)
        near = words.grown(_GAP).nearest(at)
        leader = (toward(at, near, clear + 1.0), near)
        if not self.sheet.line_is_free(*leader, _GAP) or self.sheet.spoiled(*leader, most=_WALLS) > _WALLS:
            return None
        return leader

    def _place_north(self) -> None:
        """An arrow to the north in a corner of the drawing; none where no corner is free."""
        x, y = self.scene.view.flat((0.0, 1.0, 0.0))
        x, y = x / math.hypot(x, y), y / math.hypot(x, y)
        tip = (x * _NORTH_LONG, y * _NORTH_LONG)
        wide, high = text_width(_NORTH, self.lettering.word), text_height(self.lettering.word)
        beyond = _NORTH_LONG + 4.0 + (wide * abs(x) + high * abs(y)) / 2.0
        word = _box_of((x * beyond, y * beyond), wide, high)
        group = word.joined(box_round(((0.0, 0.0), tip), by=3.0))
        whole = self.layout.box
        for inset in (0.0, 10.0, 20.0):
            for right in (False, True):
                for low in (True, False):
                    dx = whole.right - inset - group.right if right else whole.left + inset - group.left
                    dy = whole.bottom - inset - group.bottom if low else whole.top + inset - group.top
                    if self.sheet.text_is_free(group.moved(dx, dy), _GAP):
                        spot = word.moved(dx, dy).middle
                        self.layout.north = ((dx, dy), (tip[0] + dx, tip[1] + dy))
                        self.layout.words.append((self._text("t-s", spot, _NORTH, self.lettering.word), None))
                        return

    def _text(self, classes: str, middle: Spot, text: str, size: float) -> _Text:
        bold = not classes.startswith("t-s")
        wide, high = text_width(text, size, bold=bold), text_height(size)
        box = _box_of(middle, wide, high)
        return _Text(classes, (middle[0], box.top + ASCENT * size), text, size, box)


def _parts(size: float, half_along: float, in_line: bool) -> Iterator[tuple[float, float]]:
    """Where along a dimension line its figure may stand, as a part of it, and what that costs."""
    yield 0.5, 0.0
    for part in (0.4, 0.6, 0.3, 0.7):
        yield part, 0.2 + abs(part - 0.5)
    if not in_line and size < _SHORT:  # in line with it, past its arrow
        beyond = (half_along + _ARROW + _TAIL / 2.0 + 4.0) / size
        yield 1.0 + beyond, 0.8
        yield -beyond, 0.8


def _between(a: Spot, b: Spot, part: float) -> Spot:
    return (a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part)


def _boxes_off(at: Spot, x: float, y: float, *, away: float, wide: float, high: float) -> Iterator[Box]:
    """Boxes of that size in a direction (x, y) from a place, at least so far from it.

    The first keeps off the line square to the direction too: it clears a tube that runs through the place.
    The second has only its nearest point so far off: it goes into a corner.
    """
    centre = away + (wide * abs(x) + high * abs(y)) / 2.0
    yield _box_of((at[0] + centre * x, at[1] + centre * y), wide, high)
    # straight above or beside, the box is centred; between, its corner looks at the place
    box = _box_of(
        (
            at[0] + away * x + math.copysign(wide / 2.0, x) * min(1.0, abs(x) * 1.6),
            at[1] + away * y + math.copysign(high / 2.0, y) * min(1.0, abs(y) * 1.6),
        ),
        wide,
        high,
    )
    short = away - distance(box.nearest(at), at)
    yield box.moved(x * short, y * short) if short > 0.0 else box


def _box_of(middle: Spot, wide: float, high: float) -> Box:
    return Box(middle[0] - wide / 2.0, middle[1] - high / 2.0, middle[0] + wide / 2.0, middle[1] + high / 2.0)


def ring_radius(tube_width: float) -> float:
    """Of the ring round a corner that a finding is about, px."""
    return max(1.7 * tube_width, 13.0)


def bar_across(view: View, at: Spot, heading: Vec, half: float) -> tuple[Spot, Spot]:
    """A short line across the conduit, square to it on the sheet; upright where it is seen end on."""
    x, y = view.flat(heading)
    size = math.hypot(x, y)
    if size < 1e-3:
        return ((at[0], at[1] - half), (at[0], at[1] + half))
    return (
        (at[0] - y / size * half, at[1] + x / size * half),
        (at[0] + y / size * half, at[1] - x / size * half),
    )


# ---------------------------------------------------------------------------------------------- painting


@dataclass(frozen=True, slots=True)
class _Chain:
    """Stretches of one tube painted in one go. first, last: it holds that end of its tube.

    breaks: the lines across those ends at which the conduit is broken off.
    """

    tube: int
    spots: tuple[Spot, ...]
    first: bool
    last: bool
    breaks: tuple[tuple[Spot, ...], ...] = ()


def _chains(scene: Scene, scale: float, width: float) -> list[_Chain]:
    """The tubes as chains in the order of painting, as few as show what is in front."""
    stretches = []
    view = scene.view
    for number, tube in enumerate(scene.tubes):
        if tube.dashed:
            continue
        half = width / 2.0 * (GHOST if tube.ghost else 1.0)
        for piece in tube.pieces:
            points = sampled(piece, scale)
            spots = tuple((x * scale, y * scale) for x, y in map(view.flat, points))
            depths = tuple(view.depth(point) for point in points)
            stretches.append(Stretch(number, half, spots, depths, box_round(spots, by=half)))
    runs: list[list[int]] = []
    for index in painting_order(stretches):
        if runs and runs[-1][-1] == index - 1 and stretches[index - 1].tube == stretches[index].tube:
            runs[-1].append(index)
        else:
            runs.append([index])
    chains = []
    for run in runs:
        number = stretches[run[0]].tube
        spots_in = [
            stretches[run[0]].spots[0],
            *(spot for index in run for spot in stretches[index].spots[1:]),
        ]
        first = run[0] == 0 or stretches[run[0] - 1].tube != number
        last = run[-1] == len(stretches) - 1 or stretches[run[-1] + 1].tube != number
        # Where a tube goes on in another chain the two lie over each other a little, so that no seam shows.
        if not first:
            spots_in[0] = toward(spots_in[0], spots_in[1], -_SEAM)
        if not last:
            spots_in[-1] = toward(spots_in[-1], spots_in[-2], -_SEAM)
        broken = scene.tubes[number].broken
        breaks = []
        if first and broken[0]:
            breaks.append(_break_line(spots_in[0], spots_in[1], width))
        if last and broken[1]:
            breaks.append(_break_line(spots_in[-1], spots_in[-2], width))
        chains.append(_Chain(number, tuple(spots_in), first, last, tuple(breaks)))
    return chains


def _break_line(end: Spot, before: Spot, width: float) -> tuple[Spot, ...]:
    """An S across the end of conduit that goes on: the break of a drawing."""
    size = distance(end, before) or 1.0
    ux, uy = (end[0] - before[0]) / size, (end[1] - before[1]) / size
    half, swell = 0.5 * width + 1.0, 0.16 * width
    line = []
    for i in range(_BREAK_PLACES + 1):
        across = half * (2.0 * i / _BREAK_PLACES - 1.0)
        out = swell * math.sin(2.0 * math.pi * i / _BREAK_PLACES)
        line.append((end[0] + ux * out - uy * across, end[1] + uy * out + ux * across))
    return tuple(line)


def paint(layout: Layout, out: Drawing, origin: Spot) -> None:
    """Draws a layout. origin: where the left upper corner of its box comes."""
    dx, dy = origin[0] - layout.box.left, origin[1] - layout.box.top

    def to(spot: Spot) -> Spot:
        return (spot[0] + dx, spot[1] + dy)

    def at(point: Vec) -> Spot:
        x, y = layout.scene.view.flat(point)
        return to((x * layout.scale, y * layout.scale))

    scene, width = layout.scene, layout.tube_width

    def shapes(*, over: bool) -> None:
        for shape in scene.shapes:
            if shape.over == over:
                spots = [at(point) for point in shape.points]
                out.path(shape.classes, spots, closed=shape.closed)
                if shape.arrow:
                    out.path(shape.arrow, arrow_head(spots[-1], spots[-2], size=_ARROW), closed=True)

    def signs(*, clips: bool) -> None:
        for sign in scene.signs:
            if (sign.kind is SignKind.CLIP) == clips:
                for figure in figures(sign, scene.view, layout.scale, width):
                    if figure.radius:
                        out.circle(figure.classes, to(figure.spots[0]), figure.radius)
                    else:
                        out.path(figure.classes, [to(spot) for spot in figure.spots], closed=figure.closed)

    shapes(over=False)
    for dash in layout.dashes:
        out.path("next", [to(spot) for spot in dash])
    for placed in layout.dimensions:
        for line in placed.extensions:
            out.line("ext", to(line[0]), to(line[1]))
        for line in placed.lines:
            out.line("dim", to(line[0]), to(line[1]))
        for head in placed.arrows:
            out.path("arw", [to(spot) for spot in head], closed=True)
    signs(clips=True)
    for chain in layout.chains:
        _paint_chain(out, scene, chain, width, to, at)
    signs(clips=False)
    shapes(over=True)
    if scene.datum is not None:
        a, b = bar_across(scene.view, at(scene.datum[0]), scene.datum[1], 0.9 * width)
        out.line("datum-l", a, b)
    for place, heading in scene.marks:
        a, b = bar_across(scene.view, at(place), heading, 0.9 * width)
        out.line("mark mk", a, b)
    if scene.ring is not None:
        out.circle("ring", at(scene.ring), ring_radius(width))
    if layout.north is not None:
        foot, tip = (to(spot) for spot in layout.north)
        out.line("dim", foot, tip)
        out.path("arw", arrow_head(tip, foot, size=_ARROW), closed=True)
    for words, leader in layout.words:
        if leader is not None:
            out.line("ldr mk" if words.classes.endswith(" mk") else "ldr", to(leader[0]), to(leader[1]))
        out.text(words.classes, to(words.spot), words.text, size=words.size, anchor="middle")
    for placed in layout.dimensions:
        words = placed.text
        out.text(words.classes, to(words.spot), words.text, size=words.size, anchor="middle")


def _paint_chain(
    out: Drawing,
    scene: Scene,
    chain: _Chain,
    width: float,
    to: Callable[[Spot], Spot],
    at: Callable[[Vec], Spot],
) -> None:
    tube = scene.tubes[chain.tube]
    ghost = " ghost" if tube.ghost else ""
    wide = width * (GHOST if tube.ghost else 1.0)
    edge = min(2.4, 0.4 * wide)
    caps = []
    barred = None if scene.datum is None else scene.datum[0]  # a datum end has its bar
    piece = tube.pieces[0]
    if chain.first and not tube.broken[0] and piece.start != barred:
        caps.append((at(piece.start), opposite(piece.direction)))
    piece = tube.pieces[-1]
    end = piece.at(piece.finish)
    if chain.last and not tube.broken[1] and end != barred:
        caps.append((at(end), piece.heading(piece.finish)))
    outline = (wide - edge / 2.0) / 2.0
    for centre, outward in caps:
        if dot(outward, scene.view.toward) < 0.0:  # the far rim shows past the end
            out.path(f"tu-end{ghost}", _rim(scene.view, centre, outward, outline), closed=True)
    spots = [to(spot) for spot in chain.spots]
    out.path(f"tu-e{ghost}", spots, width=wide)
    out.path(f"tu-b{ghost}", spots, width=wide - edge)
    if not ghost:
        for classes, least, share, dx, dy in _LIGHT:
            if wide >= least:
                trim = (0.3 * wide if chain.first else 0.0, 0.3 * wide if chain.last else 0.0)
                line = [(x + dx * wide, y + dy * wide) for x, y in trimmed(spots, *trim)]
                out.path(classes, line, width=share * wide)
    for centre, outward in caps:
        if dot(outward, scene.view.toward) >= 0.0:
            out.path(f"tu-end{ghost}", _rim(scene.view, centre, outward, outline), closed=True)
            out.path(f"tu-bore{ghost}", _rim(scene.view, centre, outward, 0.28 * wide), closed=True)
    for across in chain.breaks:
        out.path("brk", [to(spot) for spot in across])


def _rim(view: View, centre: Spot, axis: Vec, radius: float) -> list[Spot]:
    """A circle round the conduit's axis as it shows on the sheet."""
    first = any_square_to(axis)
    second = cross(axis, first)
    (ax, ay), (bx, by) = view.flat(first), view.flat(second)
    turns = [2.0 * math.pi * i / 24 for i in range(24)]
    return [
        (
            centre[0] + radius * (math.cos(turn) * ax + math.sin(turn) * bx),
            centre[1] + radius * (math.cos(turn) * ay + math.sin(turn) * by),
        )
        for turn in turns
    ]
