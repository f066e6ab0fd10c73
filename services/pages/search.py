"""What a search finds: projects, rooms, runs, and sticks by the label painted on them."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db.models import Case, F, IntegerField, Q, Value, When
from django.db.models.expressions import OrderBy

from services.projects.models import Project, Room, Run
from services.tracking import queries as tracking_queries
from services.tracking.models import Piece, State

LONGEST: Final = 80
"""Of what is looked for, characters."""

MOST: Final = 20
"""Of each kind that are told."""

_PAINTED: Final = re.compile(r"(?P<run>.{1,20}?)\s*/\s*(?P<stick>[0-9]{1,4})")
_NUMBER: Final = re.compile(r"0*(?P<figures>[0-9]{1,6})")


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found, of each kind at most `MOST`; more: the kinds of which there are more."""

    text: str
    projects: Sequence[Project] = ()
    rooms: Sequence[Room] = ()
    runs: Sequence[Run] = ()
    pieces: Sequence[Piece] = ()
    more: frozenset[str] = frozenset()

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing."""
        return not (self.projects or self.rooms or self.runs or self.pieces)


def cleaned(text: str) -> str:
    """What is looked for: one line without blanks around it, no longer than `LONGEST`."""
    return " ".join(text.split())[:LONGEST].strip()


def spellings(label: str) -> list[str]:
    """The labels that somebody may mean who types one: 7 is 07 and 007, as painted."""
    match = _NUMBER.fullmatch(label)
    if match is None:
        return [label]
    return [match["figures"].zfill(width) for width in range(len(match["figures"]), 7)]


def painted(text: str) -> tuple[str, int] | None:
    """Run and number of a label such as 07/2; None for what is none."""
    match = _PAINTED.fullmatch(text)
    return (match["run"].strip(), int(match["stick"])) if match else None


def find(text: str) -> Found:
    """What is called so, or partly so: what is called exactly so stands first, then jobs that are going on.

    A label as painted (07/2, or 7/2) finds its sticks, their latest pieces. Four queries; none for an empty
    text.
    """
    text = cleaned(text)
    if not text:
        return Found("")
    kinds: dict[str, list[Any]] = {
        "projects": _projects(text),
        "rooms": _rooms(text),
        "runs": _runs(text),
        "pieces": _pieces(text),
    }
    kept: Mapping[str, Any] = {kind: rows[:MOST] for kind, rows in kinds.items()}
    return Found(text, **kept, more=frozenset(kind for kind, rows in kinds.items() if len(rows) > MOST))


def _first(**exactly: Any) -> Case:
    return Case(When(**exactly, then=Value(0)), default=Value(1), output_field=IntegerField())


def _open_first(archived_at: str) -> OrderBy:
    """Projects that are not archived before those that are, whatever a database thinks of nulls."""
    return F(archived_at).asc(nulls_first=True)


def _projects(text: str) -> list[Project]:
    rows = Project.objects.filter(
        Q(code__icontains=text)
        | Q(name__icontains=text)
        | Q(client__icontains=text)
        | Q(site__icontains=text)
    )
    return list(rows.order_by(_open_first("archived_at"), _first(code__iexact=text), "code")[: MOST + 1])


def _rooms(text: str) -> list[Room]:
    rows = Room.objects.select_related("project").filter(name__icontains=text)
    return list(
        rows.order_by(
            _open_first("project__archived_at"), _first(name__iexact=text), "project__code", "place"
        )[: MOST + 1]
    )


def _runs(text: str) -> list[Run]:
    """By label, or by a place it goes from or to; a label as painted finds its run as well."""
    label = painted(text)
    labels = spellings(label[0] if label else text)
    rows = (
        Run.objects.select_related("room__project", "former")
        .defer("rows", "cables")
        .filter(
            Q(label__in=labels)
            | Q(label__icontains=text)
            | Q(from_place__icontains=text)
            | Q(to_place__icontains=text)
        )
    )
    return list(
        rows.order_by(
            _first(label__in=labels),
            _open_first("room__project__archived_at"),
            "room__project__code",
            "room__place",
            "label",
        )[: MOST + 1]
    )


def _pieces(text: str) -> list[Piece]:
    """Latest pieces by the label of their stick."""
    label = painted(text)
    named = Q(line__label__icontains=text)
    if label is not None:
        named |= Q(line__number=label[1], line__run__label__in=spellings(label[0]))
    rows = tracking_queries.pieces().filter(named, is_latest=True).exclude(state=State.WAITING)
    return list(
        rows.order_by(
            _first(line__label__iexact=text),
            _open_first("line__run__room__project__archived_at"),
            "line__run__room__project__code",
            "line__run__room__place",
            "line__run__label",
            "line__number",
        )[: MOST + 1]
    )
