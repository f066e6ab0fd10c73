"""What the test of the walls walks with: every address, what one may send there, and two companies full of
work."""

import hashlib
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.db import models
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone
from factories import THREE_BENDS, House, make_former, make_room, make_run, release

from services.company.models import Company, Membership, User
from services.core.ids import uuid7
from services.core.scoping import Owned, across_companies
from services.costing.models import CostEntry
from services.stock import commands as stock
from services.stock.models import Offcut
from services.tracking import commands as tracking
from services.tracking.models import Tick
from services.tracking.queries import pieces_of_run
from services.tracking.rules import TickIn

VERBS = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE")
SENTINEL = "Zqxjkw"
"""Begins every text of the other company. In no word of ours, and long enough that no random token holds
it."""

Names = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Try:
    """What may be sent to an address. role: somebody who may.  body: with {names} of rows in it.  ok: what it
    answers
    when the rows are one's own.  query: after the question mark."""

    role: str
    body: Mapping[str, Any] | None = None
    ok: int = 200
    query: str = ""


@dataclass(frozen=True, slots=True)
class Address:
    """A route. tries: by verb; other verbs must be refused.  instead: other names for the parts of the
    address."""

    tries: Mapping[str, Try]
    instead: Mapping[str, str] = field(default_factory=dict)
    is_open: bool = False
    """Whether strangers are let in: the door itself."""


def reads(role: str = "foreman", **more: Any) -> Address:
    """An address that is only read."""
    return Address({"GET": Try(role, **more)})


def posts(role: str, body: Mapping[str, Any], ok: int = 302, **more: Any) -> Address:
    """An address that is only posted to."""
    return Address({"POST": Try(role, body, ok)}, **more)


def form(role: str, body: Mapping[str, Any], **more: Any) -> Address:
    """A page with a form, which leads on when all is well."""
    return Address({"GET": Try(role), "POST": Try(role, body, 302)}, **more)


_FORMER = {"conduit": "steel-25-heavy", "centreline_radius_mm": "91.5", "line": "back"}
_ROW = dict.fromkeys(
    ("angle_deg", "toward", "rise_mm", "spread_mm", "spread_toward", "bends", "width_mm"), ""
)
_ROWS = {"length_mm": "1210", "from": "face", "to": "face", "then": "end", **_ROW, "seen": "2"}
_CHANGE = {
    "label": "31",
    "from_place": "Panel",
    "to_place": "",
    "former_id": "{former}",
    "heading": "up",
    "seen": "2",
    "start_kind": "open",
    "finish_kind": "open",
    "standoff_mm": "",
    "start_allowance_mm": "",
    "finish_allowance_mm": "",
}
_TICK = {
    "id": "{fresh}",
    "sequence": 9001,
    "kind": "note",
    "piece": "{piece}",
    "plan": "{plan}",
    "made_at": "2026-11-25T10:00:00+00:00",
    "figures": {"note": "seen"},
}
_DRAFT = {"run_id": "draft"}

TABLE: Mapping[str, Address] = {
    # pages
    "wall-chart": reads(),
    "project": reads(),
    "project-new": form("foreman", {"code": "N-1", "name": "New"}),
    "room-new": form("foreman", {"name": "New"}),
    "run-new": form("foreman", {"label": "41", "former_id": "{former}", "heading": "up"}),
    "run": reads(),
    "run-change": form("foreman", _CHANGE, instead=_DRAFT),
    "run-sheet": Address({"GET": Try("foreman")}, instead=_DRAFT),
    "run-rows": posts("foreman", _ROWS, instead=_DRAFT),
    "run-release": posts("foreman", {"crew": "{crew}", "seen": "2"}, instead=_DRAFT),
    "bend-cards": reads("electrician"),
    "work": reads("electrician"),
    "stick": reads("electrician", ok=302),
    "piece": reads("electrician"),
    "piece-tick": posts("electrician", {"kind": "bent"}),
    "tick-back": posts("foreman", {}),
    "scrap": form("electrician", {"cause": "over-bent", "saved": "0"}),
    "benders": form("foreman", {"name": "New bender"}),
    "former-new": form("foreman", _FORMER),
    "former-change": form("foreman", {**_FORMER, "seen": "1"}),
    "stock": form("foreman", {"what": "receive", "conduit": "steel-20-heavy", "lengths": "5"}),
    "review": reads("manager"),
    "review-job": reads("manager"),
    "review-entries": reads("manager", query="kind=material&run={run}"),
    "switch-company": posts("foreman", {"company": "{company}"}),
    "light": Address({"POST": Try("foreman", {"light": "dim"}, 302)}, is_open=True),
    "sign-in": Address(
        {"GET": Try("", ok=200), "POST": Try("", {"email": "", "password": ""}, 422)}, is_open=True
    ),
    "sign-out": Address({"POST": Try("foreman", {}, 302)}, is_open=True),
    # the API
    "api-crews": reads(),
    "api-formers": reads(),
    "api-projects": Address(
        {"GET": Try("foreman"), "POST": Try("foreman", {"code": "N-1", "name": "New"}, 201)}
    ),
    "api-project": reads(),
    "api-rooms": Address({"GET": Try("foreman"), "POST": Try("foreman", {"name": "New"}, 201)}),
    "api-runs-of-project": reads(),
    "api-runs-of-room": posts("foreman", {"label": "41", "former": "{former}"}, 201),
    "api-run": Address(
        {"GET": Try("foreman"), "PATCH": Try("foreman", {"former": "{former}", "to_place": "Tank"})},
        instead=_DRAFT,
    ),
    "api-rows": Address({"PUT": Try("foreman", {"rows": THREE_BENDS})}, instead=_DRAFT),
    "api-draft": Address({"GET": Try("foreman")}, instead=_DRAFT),
    "api-plan": reads(),
    "api-release": posts("foreman", {"crew": "{crew}"}, 201, instead=_DRAFT),
    "api-pieces-of-run": reads(),
    "api-work": reads("electrician"),
    "api-piece": reads("electrician"),
    "api-ticks-of-piece": reads("electrician"),
    "api-ticks": posts("electrician", {"ticks": [_TICK]}, 200),
    "api-scrap": reads("manager"),
    "api-scrap-of-project": reads("manager"),
    "api-scrap-entries": reads("manager", query="kind=material&run={run}"),
}


def routes() -> Iterator[tuple[str, URLPattern]]:
    """Every address of the service by its name. An address without one has the empty name."""
    yield from _below(get_resolver())


def _below(resolver: URLResolver) -> Iterator[tuple[str, URLPattern]]:
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            yield from _below(each)
        else:
            yield each.name or "", each


# ---------------------------------------------------------------- two companies full of work


def furnish(house: House) -> dict[str, Any]:
    """One of everything that can be had, and the names of what addresses speak of."""
    with house.scope():
        former = make_former(house)
        room = make_room(house)
        run = make_run(house, room, label="07", former=former)
        draft = make_run(house, room, label="08", former=former)
        day = timezone.localdate() - timedelta(days=30)
        stock.set_price(
            actor=house.manager,
            conduit=former.conduit,
            full_length_mm=3750.0,
            price=Decimal("11.40"),
            from_day=day,
        )
        stock.receive(actor=house.foreman, conduit=former.conduit, lengths=20)
        plan = release(house, run)
        # a short run of its own, whose offcut is long enough to be kept, and whose piece is lost
        short = make_run(house, room, label="09", former=former, rows=[{"length_mm": 700, "then": "end"}])
        release(house, short)
        lost = pieces_of_run(short.pk)[0]
        _ticks(house, lost.pk, "cut", "bent")
        tracking.tick_from_office(
            actor=house.electrician,
            piece_id=lost.pk,
            kind="scrapped",
            figures={"cause": "over-bent", "saved_mm": 10.0},
        )
        piece = pieces_of_run(run.pk)[0]
        _ticks(house, piece.pk, "cut")
        _beyond_the_office(house, piece.pk, plan.pk)
        tick = Tick.objects.get(piece=piece, kind="cut")
        return {
            "company": house.company.pk,
            "project": room.project_id,
            "room": room.pk,
            "run": run.pk,
            "draft": draft.pk,
            "former": former.pk,
            "bender": former.bender_id,
            "crew": house.crew.pk,
            "plan": plan.pk,
            "stick": piece.stick_id,
            "piece": piece.pk,
            "tick": tick.tick_id,
            "entry": CostEntry.objects.values_list("pk", flat=True)[0],
            "offcut": Offcut.objects.values_list("pk", flat=True)[0],
            "fresh": uuid7(),
        }


def _ticks(house: House, piece_id: uuid.UUID, *kinds: str) -> None:
    for kind in kinds:
        tracking.tick_from_office(actor=house.electrician, piece_id=piece_id, kind=kind)


def _beyond_the_office(house: House, piece_id: uuid.UUID, plan_id: uuid.UUID) -> None:
    """A tick that is held and one that is refused, as a device may send them."""
    now = timezone.now()
    tracking.record_ticks(
        actor=house.electrician,
        ticks=[
            TickIn(uuid7(), 1001, "taken down", piece_id, plan_id, now, {"note": "too early"}),
            TickIn(uuid7(), 1002, "pulled", piece_id, plan_id, now, {"note": "without its figures"}),
        ],
    )


def plant(house: House) -> set[str]:
    """Writes the sentinel into every text that can hold it, of every row of the company; gives the ids of its
    rows.

    Straight into the tables: no command would. Texts of a fixed choice stay, for the database would refuse.
    """
    number = 0
    ids: set[str] = set()
    with across_companies(reason="a test plants its sentinels"):
        for model, rows in _rows_of(house):
            columns = [each for each in model._meta.concrete_fields if _is_free_text(each)]
            for row in rows:
                ids.add(str(row.pk))
                values: dict[str, Any] = {}
                for column in columns:
                    number += 1
                    values[column.attname] = _planted(column, getattr(row, column.attname), number)
                if values:
                    model._base_manager.filter(pk=row.pk).update(**values)
    return ids


def _is_free_text(column: Any) -> bool:
    if isinstance(column, models.JSONField):
        return True
    text = isinstance(column, (models.CharField, models.TextField))
    return (
        text
        and not column.choices
        and (column.max_length or 99) >= 10
        and column.name not in ("password", "conduit", "time_zone")
    )


def _planted(column: Any, value: Any, number: int) -> Any:
    if isinstance(column, models.JSONField):
        return _in_json(value)
    if isinstance(column, models.EmailField):
        return f"{SENTINEL}{number}@example.test".lower()
    return f"{SENTINEL}{number}"


def _in_json(value: Any) -> Any:
    """The same shape, so that code that reads it does not stumble; with a text of the other company in it."""
    if isinstance(value, dict):  # a spec knows its keys, and refuses others; its run's name is free text
        return {**value, "run" if "route" in value else "said": SENTINEL}
    return value


def _rows_of(house: House) -> Iterator[tuple[Any, list[Any]]]:
    for model in apps.get_models():
        if issubclass(model, Owned):
            yield model, list(model._base_manager.filter(company_id=house.company.pk))
    yield Company, [Company.objects.get(pk=house.company.pk)]
    people = Membership._base_manager.filter(company_id=house.company.pk).values_list("person_id", flat=True)
    yield User, list(User.objects.filter(pk__in=list(people)))


def state_of(house: House) -> str:
    """A hash of every column of every row of the company."""
    digest = hashlib.sha256()
    with across_companies(reason="a test compares all rows"):
        for model, rows in _rows_of(house):
            for row in sorted(rows, key=lambda each: str(each.pk)):
                told = [
                    model._meta.label,
                    *(repr(getattr(row, each.attname)) for each in model._meta.concrete_fields),
                ]
                digest.update("\x1f".join(told).encode())
    return digest.hexdigest()
