"""The rows of the catalogue's files, each read once, when first asked for."""

import csv
from enum import StrEnum
from functools import cache
from os import path


class Basis(StrEnum):
    """How well a figure is known."""

    CONFIRMED = "confirmed"
    MEMORY = "memory"
    COMMON_PRACTICE = "common-practice"


@cache
def records(name: str) -> tuple[dict[str, str], ...]:
    """The rows of a file of this folder, in its order, by its column names.

    name: with its suffix, `conduit_us.csv`. Raises FileNotFoundError when there is none.
    """
    with open(path.join(path.dirname(__file__), name), encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))
