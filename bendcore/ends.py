"""How a run starts and finishes: kinds of end, and what each adds to the stick."""

from dataclasses import dataclass

from bendcore import tape
from bendcore.errors import BendError, OutOfRange
from bendcore.route import ONE_POINT, Route
from bendcore.spec import EndAsked, EndKind, EndsAsked
from bendcore.units import Mm, tan_half
from bendcore.words import Finding, Level


@dataclass(frozen=True, slots=True)
class StickEnd:
    """One end of a stick: an end of the run, or a joint.

    kind: an end kind, `coupler` at a joint's earlier stick, `joint` at its later one.
    allowance: mm, at an end of the run; None where nobody told it.  gap: mm, at a joint's earlier stick.
    """

    kind: str
    allowance: Mm | None = None
    gap: Mm | None = None

    def to_dict(self) -> dict[str, object]:
        """The end as the contract writes it: a joint's figures are told once, at the earlier stick."""
        if self.kind == "joint":
            return {"kind": "joint"}
        if self.gap is not None:
            return {"kind": self.kind, "gap": self.gap}
        return {"kind": self.kind, "allowance": self.allowance}


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
    for name, allowance, leg, corner in (
        ("start", start, route.legs[0], corners[0]),
        ("finish", finish, route.legs[-1], corners[-1]),
    ):
        straight = Mm(max(leg.length - corner.radius * tan_half(corner.angle), 0.0))
        if straight + allowance < -ONE_POINT:
            problems.append(
                OutOfRange(
                    f"ends.{name}.allowance",
                    f"takes away {tape.fine(Mm(-allowance))}, but the straight there has only "
                    f"{tape.fine(straight)}",
                    straight_mm=straight,
                )
            )
