"""How a stick starts and finishes: kinds of end, what each adds to it, and whether it is threaded."""

from dataclasses import dataclass
from typing import Final, Literal

from bendcore import tape
from bendcore.errors import BendError, OutOfRange
from bendcore.route import ONE_POINT, Route
from bendcore.spec import EndAsked, EndKind, EndsAsked
from bendcore.units import Deg, Mm
from bendcore.words import Finding, Level

Thread = Literal["factory", "cut", "long"]
"""What a threaded end is: as bought, cut by hand, or long, for a running coupler to run back on."""

_THREADED_ENDS: Final = frozenset(
    (
        EndKind.SPOUT,
        EndKind.COUPLER_AND_MALE_BUSH,
        EndKind.LOCKNUTS_AND_FEMALE_BUSH,
        EndKind.COUPLER,
        EndKind.FLEXIBLE,
    )
)
"""Ends that screw on. An open end has no thread, and a connector grips the plain end (common practice)."""


@dataclass(frozen=True, slots=True)
class StickEnd:
    """One end of a stick: an end of the run, a joint, or a fitting.

    kind: an end kind; at the earlier stick of a joint what joins it (`coupler`, `running_coupler`, `union`,
    or a fitting's kind), at the later one `joint`.
    allowance: mm, at an end of the run; None where nobody told it.  gap: mm, at a joint's earlier stick.
    thread: None where the end has none.  fitting: at the stick before one.
    """

    kind: str
    allowance: Mm | None = None
    gap: Mm | None = None
    thread: Thread | None = None
    fitting: "FittingEnd | None" = None

    def to_dict(self) -> dict[str, object]:
        """The end as the contract writes it: a joint's figures are told once, at the earlier stick."""
        told: dict[str, object] = {"kind": self.kind}
        if self.fitting is not None:
            told["corner"] = self.fitting.corner
            told["angle"] = self.fitting.angle
            told["clock"] = self.fitting.clock
            told["draw_in"] = self.fitting.draw_in
        if self.gap is not None:
            told["gap"] = self.gap
        elif self.kind != "joint":
            told["allowance"] = self.allowance
        if self.thread is not None:
            told["thread"] = self.thread
        return told


@dataclass(frozen=True, slots=True)
class FittingEnd:
    """What a fitting adds to the end of the stick before it.

    corner: of the route, from 1; None where it stands in a leg.  clock: roll of its turn from the last turn
    before it; None without either.
    """

    corner: int | None
    angle: Deg
    clock: Deg | None
    draw_in: bool


def needs_thread(asked: EndAsked) -> bool:
    """Whether an end of threaded conduit is screwed on there."""
    return asked.kind in _THREADED_ENDS


OPEN_ZERO = StickEnd("open", Mm(0.0))


def end_of(asked: EndAsked) -> StickEnd:
    """The run's end as asked; an open end without an allowance has none, any other one is not known."""
    if asked.kind is EndKind.OPEN and asked.allowance is None:
        return OPEN_ZERO
    return StickEnd(str(asked.kind), asked.allowance)


def untold(asked: EndsAsked) -> list[Finding]:
    """A warning for each end whose allowance nobody told: it counts 0, and the stick may come out short."""
    return [
        Finding(
            "allowance-untold",
            Level.WARN,
            f"ends.{name}",
            {"end": name, "kind": str(end.kind)},
            "common practice: the allowance is measured on the fitting in use",
        )
        for name, end in (("start", asked.start), ("finish", asked.finish))
        if end.kind is not EndKind.OPEN and end.allowance is None
    ]


def check_allowances(route: Route, problems: list[BendError], *, start: Mm, finish: Mm) -> None:
    """Appends a problem for each allowance that takes away more than the straight at its end has."""
    corners = route.corners
    if not corners:
        straight = route.legs[0].length
        if straight + start + finish <= ONE_POINT:
            problems.append(
                OutOfRange(
                    "ends",
                    f"take away {tape.fine(Mm(-start - finish))} of a run of {tape.fine(straight)}; "
                    "some of it must be left",
                )
            )
        return
    for name, allowance, leg, takes in (
        ("start", start, route.legs[0], corners[0].lead_in),
        ("finish", finish, route.legs[-1], corners[-1].lead_out),
    ):
        straight = Mm(max(leg.length - takes, 0.0))
        if straight + allowance < -ONE_POINT:
            problems.append(
                OutOfRange(
                    f"ends.{name}.allowance",
                    f"takes away {tape.fine(Mm(-allowance))}, but the straight there has only "
                    f"{tape.fine(straight)}",
                    straight_mm=straight,
                )
            )


def untold_fittings(route: Route) -> list[Finding]:
    """A warning for each fitting whose legs nobody told: they count as little as can be."""
    return [
        Finding(
            "fitting-legs-untold",
            Level.WARN,
            corner.where,
            {"kind": str(corner.fitting.kind), "counted_mm": corner.lead_in + corner.lead_out},
            "common practice: a fitting is measured from its corner to the ends of the conduit in it",
        )
        for corner in route.corners
        if corner.fitting is not None and (corner.fitting.leg_in is None or corner.fitting.leg_out is None)
    ]
