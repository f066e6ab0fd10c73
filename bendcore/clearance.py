"""Whether conduit stays clear of planes and boxes while a bend is pulled.

Conduit is a chain of lines and arcs with its outside D/2 round it. All stands in the frame of the machine:
origin at the hold-side tangent point of the bend being made, x along the straight stick from the hold side to
the swing side, y toward the former's axis, z = x cross y. The swing side is given as it lies before the pull;
it rolls on the former, so at each moment it turns about the place where it leaves the former. That bounds how
soon a piece can reach an obstacle, and no collision falls between two looks. Source: docs/method/order.md.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, Self

from bendcore.spec import BenderAsked
from bendcore.units import Deg, Mm
from bendcore.vectors import Vec, along, combine, cross, dot, length

TOUCH: Final = Mm(0.5)
"""A clearance below this, mm, counts as touching: no tape on site tells it from contact."""

_UNSEEN: Final = 0.01
"""How far below TOUCH clearance may dip between two looks, and how far an arc may stand out from its chord,
mm."""

_CHORD: Final = 0.1
"""How far an arc may stand out from its chord where depth is measured, mm."""

_LOOKS_A_RADIAN: Final = 24
"""How often depth is looked at while the bend is pulled, before the deepest look is refined."""

_REFINED: Final = 24
"""Steps of golden section round the deepest look: the angle is then known to 1e-5 of the gap between two
looks."""

_ROUNDING: Final = 1e-9
"""mm: a line no farther from a box than this runs into it."""

_GOLDEN: Final = (math.sqrt(5.0) - 1.0) / 2.0

Part = Literal["held side", "arc", "tail"]
"""Of the stick in the bender: what is gripped and lies still, the stretch that the bend takes up, and what
swings past it."""


@dataclass(frozen=True, slots=True)
class LinePiece:
    """A straight of the centreline, from start to end, mm in the frame of the machine."""

    start: Vec
    end: Vec
    part: Part


@dataclass(frozen=True, slots=True)
class ArcPiece:
    """A bend of the centreline, from start to end, mm in the frame of the machine.

    axis: unit; the arc turns about it by the right-hand rule, from start to end, by angle, 0 < angle < 180.
    """

    start: Vec
    end: Vec
    centre: Vec
    axis: Vec
    radius: Mm
    angle: Deg
    part: Part

    def at(self, turned_rad: float) -> Vec:
        """The place on the arc so far round from its start."""
        out = combine(1.0, self.start, -1.0, self.centre)
        return along(
            along(self.centre, math.cos(turned_rad), out), math.sin(turned_rad), cross(self.axis, out)
        )


Piece = LinePiece | ArcPiece


def farthest(place: Vec, pieces: Iterable[Piece]) -> Mm:
    """The greatest distance from a place to a point of the pieces, mm; 0 of none.

    On an arc it lies at an end, or opposite the place across the centre.
    """
    most = 0.0
    for piece in pieces:
        most = max(most, math.dist(place, piece.start), math.dist(place, piece.end))
        if isinstance(piece, ArcPiece):
            out = combine(1.0, piece.start, -1.0, piece.centre)
            away = combine(1.0, piece.centre, -1.0, place)
            turned = math.atan2(dot(away, cross(piece.axis, out)), dot(away, out))
            if 0.0 < turned < math.radians(piece.angle):
                most = max(most, math.dist(place, piece.at(turned)))
    return Mm(most)


@dataclass(frozen=True, slots=True)
class Swing:
    """A bend being pulled: radius of the former at the centreline, mm, and the angle it ends at, radians."""

    radius: Mm
    angle_rad: float


STILL: Final = Swing(Mm(0.0), 0.0)
"""No swing: the held side lies still."""

Box = tuple[float, float, float, float, float, float]
Plane = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Solid:
    """One obstacle: the floor, a further plane or a body, by its index in the spec (None for the floor).

    shape: of a body its box x0, x1, y0, y1, z0, z1; of floor and planes the unit normal toward the free side,
    and the offset.
    """

    kind: Literal["floor", "plane", "body"]
    index: int | None
    shape: Box | Plane


@dataclass(frozen=True, slots=True)
class Touch:
    """The first touch of a stick and a solid: at what angle of the pull, radians, and by which part."""

    angle_rad: float
    solid: Solid
    part: Part


@dataclass(frozen=True, slots=True)
class Room:
    """What stands round a conduit: floor first, then planes, then bodies. half: D/2, mm."""

    solids: tuple[Solid, ...]
    half: Mm

    @classmethod
    def of(cls, bender: BenderAsked, diameter: Mm) -> Self:
        """The obstacles of a bender. diameter: outside, of the conduit, mm."""
        solids: list[Solid] = []
        planes = [] if bender.floor is None else [(None, bender.floor)]
        for index, plane in [*planes, *enumerate(bender.planes)]:
            (x, y, z), size = plane.normal, length(plane.normal)
            kind: Literal["floor", "plane"] = "floor" if index is None else "plane"
            solids.append(Solid(kind, index, (x / size, y / size, z / size, plane.offset)))
        for index, body in enumerate(bender.bodies):
            (x0, y0, z0), (x1, y1, z1) = body.min, body.max
            solids.append(Solid("body", index, (x0, x1, y0, y1, z0, z1)))
        return cls(tuple(solids), Mm(diameter / 2.0))

    def is_clear(self, piece: Piece, swing: Swing, *, leaves_former: bool = False) -> bool:
        """Whether a piece keeps TOUCH from everything, from angle 0 to the end of the swing.

        leaves_former: it is the straight that leaves the former and is laid on it, from its start on, as the
        bend is pulled.
        """
        half = self.half
        return all(_first_touch(piece, solid, half, swing, leaves_former) is None for solid in self.solids)

    def first_touch(self, pieces: Sequence[Piece], swing: Swing) -> Touch | None:
        """What is touched first, of all pieces and solids; on a tie the solid that comes first.

        pieces: outward from the origin, of the held side (with STILL), or of the swing side, the straight
        that leaves the former first.
        """
        found: Touch | None = None
        first = False
        for solid in self.solids:
            for number, piece in enumerate(pieces):
                leaves = swing is not STILL and number == 0
                at = _first_touch(piece, solid, self.half, swing, leaves)
                if at is not None and (found is None or at < found.angle_rad):
                    found, first = Touch(at, solid, piece.part), leaves
        if found is not None and first:
            # Of the straight that leaves the former, what lies past the swing-side tangent point is tail.
            past = (swing.radius * swing.angle_rad, 0.0, 0.0)
            a, b = (_rolled(place, swing.radius, found.angle_rad) for place in (past, pieces[0].end))
            if _depth(a, b, found.solid, self.half) <= -TOUCH:
                return Touch(found.angle_rad, found.solid, "arc")
        return found

    def depth(self, pieces: Sequence[Piece], solid: Solid, swing: Swing, *, after_rad: float = 0.0) -> Mm:
        """How far the conduit goes into a solid at worst in a swing, mm; below 0 by the clearance it keeps.

        pieces: as for `first_touch`.  Of a plane it is the depth below it; of a box the least shift that
        parts it from a piece, arcs taken by chords they stand out from by 0.1 mm at most.
        Looked for from after_rad on, every 2.4 degrees or so, then refined round the deepest look.
        """
        chords = [chord for piece in pieces for chord in _chords(piece, _CHORD)]
        moves, half = swing is not STILL, self.half

        def at(angle_rad: float) -> float:
            if not moves:
                return max(_depth(a, b, solid, half) for a, b in chords)
            radius, deepest = swing.radius, -math.inf
            for number, (a, b) in enumerate(chords):
                here = _rolled(a, radius, angle_rad, on_former=number == 0)
                deepest = max(deepest, _depth(here, _rolled(b, radius, angle_rad), solid, half))
            return deepest

        looks = max(2, math.ceil((swing.angle_rad - after_rad) * _LOOKS_A_RADIAN)) if moves else 0
        step = (swing.angle_rad - after_rad) / max(looks, 1)
        depths = [at(after_rad + look * step) for look in range(looks + 1)]
        deepest = max(depths)
        if not moves:
            return Mm(deepest)
        worst = depths.index(deepest)
        low, high = after_rad + max(worst - 1, 0) * step, after_rad + min(worst + 1, looks) * step
        for _ in range(_REFINED):
            left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
            at_left, at_right = at(left), at(right)
            deepest = max(deepest, at_left, at_right)
            if at_left < at_right:
                low = left
            else:
                high = right
        return Mm(deepest)


# ------------------------------------------------------------------------------------------ first touch


def _first_touch(piece: Piece, solid: Solid, half: float, swing: Swing, leaves_former: bool) -> float | None:
    """The angle, radians, at which a piece first comes nearer to a solid than TOUCH; None: it never does."""
    if isinstance(piece, ArcPiece):
        whole = math.radians(piece.angle)
        return _arc_touch(piece, 0.0, whole, solid.shape, half, swing.radius, 0.0, swing.angle_rad)
    return _chord_touch(
        piece.start, piece.end, solid.shape, half, swing.radius, 0.0, swing.angle_rad, leaves_former
    )


def _arc_touch(
    arc: ArcPiece,
    begin: float,
    finish: float,
    shape: Box | Plane,
    half: float,
    radius: float,
    psi: float,
    end: float,
) -> float | None:
    """As `_first_touch`, of the part of an arc from begin to finish, radians, between two angles of the pull.

    First as a chord with the height of the arc over it; only where that touches, by halves.
    """
    height = arc.radius * (1.0 - math.cos((finish - begin) / 2.0))
    at = _chord_touch(arc.at(begin), arc.at(finish), shape, half + height, radius, psi, end, False)
    if at is None or height <= _UNSEEN:
        return at
    middle = (begin + finish) / 2.0
    first = _arc_touch(arc, begin, middle, shape, half, radius, at, end)
    if first is not None:
        end = first
    second = _arc_touch(arc, middle, finish, shape, half, radius, at, end)
    return first if second is None else second


def _chord_touch(
    a: Vec,
    b: Vec,
    shape: Box | Plane,
    reach: float,
    radius: float,
    psi: float,
    end: float,
    leaves_former: bool,
) -> float | None:
    """The first angle from psi to end, radians, at which a line from a to b, `reach` round it, touches.

    a, b: as they lie before the pull.  leaves_former: the line begins where the conduit leaves the former.

    At each look a plane square to the shortest way parts line and solid. While both ends of the line stay
    TOUCH before it, nothing touches, and each end stays there until `_until` at least.
    """
    ax, ay, az = a
    bx, by, bz = b
    is_box = len(shape) == 6
    if is_box:
        # A place on the stick keeps its z while it rolls.
        x0, x1, y0, y1, z0, z1 = shape  # type: ignore[misc]
        room = reach + TOUCH
        if (az < bz and (az > z1 + room or bz < z0 - room)) or (
            az >= bz and (bz > z1 + room or az < z0 - room)
        ):
            return None
    else:
        nx, ny, nz, offset = shape  # type: ignore[misc]
    rolled = radius * end
    # How far each end is from the place that it turns about, at most: that distance is convex in the angle.
    far_a = radius + max(math.hypot(ax - radius * psi, ay), math.hypot(ax - rolled, ay))
    far_b = radius + max(math.hypot(bx - radius * psi, by), math.hypot(bx - rolled, by))
    if leaves_former:
        far_a = radius
    slack = _UNSEEN - TOUCH
    while True:
        s, c = math.sin(psi), math.cos(psi)
        px, py = radius * s, radius * (1.0 - c)
        ux = bx - radius * psi
        vbx, vby = ux * c - by * s, ux * s + by * c
        if leaves_former:
            vax = vay = 0.0
        else:
            ux = ax - radius * psi
            vax, vay = ux * c - ay * s, ux * s + ay * c
        if is_box:
            t, nx, ny, nz = _way(px + vax, py + vay, az, px + vbx, py + vby, bz, x0, x1, y0, y1, z0, z1)
            apart = math.sqrt(nx * nx + ny * ny + nz * nz)
            if apart < reach + TOUCH:
                return psi
            nx, ny, nz = nx / apart, ny / apart, nz / apart
            lean = nx * (vbx - vax) + ny * (vby - vay) + nz * (bz - az)
            gap_a, gap_b = apart - reach - t * lean, apart - reach + (1.0 - t) * lean
        else:
            gap_a = nx * (px + vax) + ny * (py + vay) + nz * az - offset - reach
            gap_b = nx * (px + vbx) + ny * (py + vby) + nz * bz - offset - reach
            if gap_a < TOUCH or gap_b < TOUCH:
                return psi
        flat = math.sqrt(nx * nx + ny * ny)
        if flat < 1e-15:
            return None  # square to all that moves
        speed_a = radius * (nx * c + ny * s) if leaves_former else ny * vax - nx * vay
        speed_b = ny * vbx - nx * vby
        psi += min(_until(gap_a + slack, speed_a, flat * far_a), _until(gap_b + slack, speed_b, flat * far_b))
        if psi >= end:
            return None


def _until(gap: float, speed: float, most: float) -> float:
    """How long a gap > 0 that opens at a speed, with an acceleration of `most` at most, stays above 0.

    The root of gap + speed t - most t^2 / 2, in the form that loses no figures to cancellation.
    """
    if most <= 0.0:
        return math.inf
    root = math.sqrt(speed * speed + 2.0 * most * gap)
    return (speed + root) / most if speed > 0.0 else 2.0 * gap / (root - speed)


def _way(
    ax: float,
    ay: float,
    az: float,
    bx: float,
    by: float,
    bz: float,
    x0: float,
    x1: float,
    y0: float,
    y1: float,
    z0: float,
    z1: float,
) -> tuple[float, float, float, float]:
    """The shortest way from a box to the line from a to b: where on the line (0 at a, 1 at b), and the way.

    The squared distance is convex along the line, and its slope is straight between the places where the line
    crosses one of the box's six planes: the root lies between two of those.  Exact but for rounding.
    """
    dx, dy, dz = bx - ax, by - ay, bz - az
    ex = ax - x0 if ax < x0 else (ax - x1 if ax > x1 else 0.0)
    ey = ay - y0 if ay < y0 else (ay - y1 if ay > y1 else 0.0)
    ez = az - z0 if az < z0 else (az - z1 if az > z1 else 0.0)
    slope = ex * dx + ey * dy + ez * dz
    if slope >= 0.0:
        return 0.0, ex, ey, ez
    fx = bx - x0 if bx < x0 else (bx - x1 if bx > x1 else 0.0)
    fy = by - y0 if by < y0 else (by - y1 if by > y1 else 0.0)
    fz = bz - z0 if bz < z0 else (bz - z1 if bz > z1 else 0.0)
    slope_b = fx * dx + fy * dy + fz * dz
    if slope_b <= 0.0:
        return 1.0, fx, fy, fz
    crossings = []
    if dx:
        crossings += [(x0 - ax) / dx, (x1 - ax) / dx]
    if dy:
        crossings += [(y0 - ay) / dy, (y1 - ay) / dy]
    if dz:
        crossings += [(z0 - az) / dz, (z1 - az) / dz]
    crossings.sort()
    before = 0.0
    for after in [*crossings, 1.0]:
        if after <= before:
            continue
        after = min(after, 1.0)
        x, y, z = ax + after * dx, ay + after * dy, az + after * dz
        ex = x - x0 if x < x0 else (x - x1 if x > x1 else 0.0)
        ey = y - y0 if y < y0 else (y - y1 if y > y1 else 0.0)
        ez = z - z0 if z < z0 else (z - z1 if z > z1 else 0.0)
        later = ex * dx + ey * dy + ez * dz
        if later >= 0.0:
            t = after if later == slope else before + (after - before) * slope / (slope - later)
            break
        before, slope = after, later
    x, y, z = ax + t * dx, ay + t * dy, az + t * dz
    return (
        t,
        x - x0 if x < x0 else (x - x1 if x > x1 else 0.0),
        y - y0 if y < y0 else (y - y1 if y > y1 else 0.0),
        z - z0 if z < z0 else (z - z1 if z > z1 else 0.0),
    )


# ------------------------------------------------------------------------------------------------ depth


def _chords(piece: Piece, height: float) -> list[tuple[Vec, Vec]]:
    """A piece as lines from which it stands out by a height, mm, at most."""
    if isinstance(piece, LinePiece):
        return [(piece.start, piece.end)]
    whole = math.radians(piece.angle)
    count = math.ceil(whole / (2.0 * math.acos(max(1.0 - height / piece.radius, 0.0))))
    places = [piece.at(whole * number / count) for number in range(count + 1)]
    return list(pairwise(places))


def _rolled(place: Vec, radius: float, psi: float, *, on_former: bool = False) -> Vec:
    """Where a place of the swing side has come to at an angle of the pull, radians.

    on_former: the place where the conduit leaves the former, at that angle.
    """
    x, y, z = place
    s, c = math.sin(psi), math.cos(psi)
    if on_former:
        return (radius * s, radius * (1.0 - c), z)
    x -= radius * psi
    return (radius * s + x * c - y * s, radius * (1.0 - c) + x * s + y * c, z)


def _depth(a: Vec, b: Vec, solid: Solid, half: float) -> float:
    """How deep the line from a to b, `half` round it, goes into a solid, mm; below 0 by the gap it keeps."""
    if len(solid.shape) == 4:
        x, y, z, offset = solid.shape
        return offset + half - min(dot((x, y, z), a), dot((x, y, z), b))
    _, x, y, z = _way(*a, *b, *solid.shape)
    apart = math.sqrt(x * x + y * y + z * z)
    # Of a line that runs through a box the way is nothing but rounding.
    return half - apart if apart > _ROUNDING else half + _overlap(a, b, solid.shape)


def _overlap(a: Vec, b: Vec, box: Box) -> float:
    """The least shift that parts a line from a box it runs into, mm.

    Square to a face of the box, or to an edge and the line: no other direction is a face of what the two
    sweep out (Minkowski sum of box and line).
    """
    sizes = (box[1] - box[0], box[3] - box[2], box[5] - box[4])
    least = math.inf
    for axis in range(3):
        low, high = box[2 * axis], box[2 * axis + 1]
        least = min(least, high - min(a[axis], b[axis]), max(a[axis], b[axis]) - low)
    way = combine(1.0, b, -1.0, a)
    middle = ((box[0] + box[1]) / 2.0, (box[2] + box[3]) / 2.0, (box[4] + box[5]) / 2.0)
    from_middle = combine(1.0, a, -1.0, middle)
    for edge in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)):
        square = cross(edge, way)
        size = length(square)
        if size > 1e-9 * length(way):
            reach = sum(abs(part) * whole for part, whole in zip(square, sizes, strict=True)) / 2.0
            least = min(least, (reach - abs(dot(square, from_middle))) / size)
    return least
