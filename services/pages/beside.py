"""What stands beside a run on its sheet: its bank, the runs it is linked to at a box, what the room's others
say, and who changed it last."""

import re
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.db.models import Q

from services.company.models import User
from services.core.models import Act
from services.projects.models import Run


@dataclass(frozen=True, slots=True)
class Links:
    """follows: the run that ends where this one begins.  goes_on: the one that begins where this ends.  bank:
    the runs that lie beside it, the nearest first.  measured: the run whose rows it has, where it lies in a
    bank."""

    follows: Run | None
    goes_on: Run | None
    bank: tuple[Run, ...]
    measured: Run | None

    @property
    def has_box(self) -> bool:
        """Whether the run was split from another, or another from it."""
        return self.follows is not None or self.goes_on is not None


def links_of(run: Run) -> Links:
    """What a run is linked to. One query."""
    asked = Q(follows_id=run.pk) | Q(beside_id=run.pk) | Q(pk__in=[run.follows_id, run.beside_id])
    rows = list(Run.objects.filter(asked).order_by("place_in_bank", "label"))
    return Links(
        follows=next((each for each in rows if each.pk == run.follows_id), None),
        goes_on=next((each for each in rows if each.follows_id == run.pk), None),
        bank=tuple(each for each in rows if each.beside_id == run.pk),
        measured=next((each for each in rows if each.pk == run.beside_id), None),
    )


def labels_of(project_id: uuid.UUID) -> list[str]:
    """The labels of a project's runs. One query."""
    return list(Run.objects.filter(room__project_id=project_id).order_by().values_list("label", flat=True))


def facings_of(room_id: uuid.UUID) -> list[str]:
    """The walls that a room's runs are faced to, the most used first. One query."""
    told = list(
        Run.objects.filter(room_id=room_id).exclude(facing="").order_by().values_list("facing", flat=True)
    )
    return sorted(set(told), key=lambda each: (-told.count(each), each))


def changed_last_by(run_id: uuid.UUID) -> str:
    """Who changed a run last, by name; empty where nobody is on record. Two queries."""
    person: uuid.UUID | None = (
        Act.objects.filter(subject_id=run_id).order_by("-at").values_list("person_id", flat=True).first()
    )
    if person is None:
        return ""
    name: str | None = User.objects.filter(pk=person).values_list("name", flat=True).first()
    return name or ""


_FIRST_LABEL: Final = "01"
_LONGEST_NUMBER: Final = 9
_NUMBER: Final = re.compile(r"[0-9]+")


def next_label(labels: Iterable[str]) -> str:
    """The number after the highest of the labels that are one, in as many digits; 01 where none is."""
    numbers = [
        each for each in labels if len(each) <= _LONGEST_NUMBER and each.isascii() and _NUMBER.fullmatch(each)
    ]
    if not numbers:
        return _FIRST_LABEL
    highest = max(numbers, key=lambda each: (int(each), len(each)))
    return str(int(highest) + 1).zfill(len(highest))


def labels_after(label: str, count: int, *, taken: Sequence[str]) -> list[str]:
    """So many labels counting up from one, those that are taken passed over: after 07 come 08 and 09, after
    C7 comes C8; a label without a number gets one, from 2 on."""
    head, number = _counted(label)
    found: list[str] = []
    value = 2 if number is None else int(number) + 1
    while len(found) < count:
        each = f"{head}{str(value).zfill(len(number or ''))}"
        if each not in taken:
            found.append(each)
        value += 1
    return found


def label_of_rest(label: str, *, taken: Sequence[str]) -> str:
    """A label for what goes on after a box: 07B after 07, 07C after 07B; else one counting up."""
    for letter in "BCDEFGHJKLMNPQRSTUVWXYZ":
        stem = label[:-1] if len(label) > 1 and label[-1] in "BCDEFGHJKLMNPQRSTUVWXY" else label
        each = f"{stem}{letter}"
        if each > label and each not in taken:
            return each
    return labels_after(label, 1, taken=taken)[0]


def _counted(label: str) -> tuple[str, str | None]:
    """A label's text and the number that it ends in; None where there is none."""
    match = re.search(rf"[0-9]{{1,{_LONGEST_NUMBER}}}\Z", label, re.ASCII)
    return (label, None) if match is None else (label[: match.start()], match[0])
