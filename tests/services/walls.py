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
from factories import (
    PASSWORD,
    THREE_BENDS,
    House,
    make_former,
    make_project,
    make_room,
    make_run,
    person,
    release,
)

from services.bench import commands as bench
from services.bench.models import Former
from services.company import commands as companies
from services.company.models import Company, Membership, User
from services.core.ids import uuid7
from services.core.scoping import Owned, across_companies
from services.costing.models import CostEntry
from services.papers import commands as papers
from services.papers.models import Pack
from services.papers.rules import Asked
from services.planning import commands as planning
from services.planning.models import Override, Plan
from services.planning.queries import draft_of
from services.projects import commands as projects
from services.projects import survey_files
from services.projects.models import Room
from services.projects.queries import run as run_of
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
    when the rows are one's own.  query: after the question mark.  file: sent with the body, as a form."""

    role: str
    body: Mapping[str, Any] | None = None
    ok: int = 200
    query: str = ""
    file: bytes | None = None


@dataclass(frozen=True, slots=True)
class Address:
    """A route. tries: by verb; other verbs must be refused.  instead: other names for the parts of the
    address."""

    tries: Mapping[str, Try]
    instead: Mapping[str, str] = field(default_factory=dict)
    is_open: bool = False
    """Whether strangers are let in: the door itself."""


def reads(role: str = "foreman", *, instead: Mapping[str, str] | None = None, **more: Any) -> Address:
    """An address that is only read."""
    return Address({"GET": Try(role, **more)}, instead=instead or {})


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
    "facing": "the north wall",
    "fit_from": "both",
    "cable_1_size": "12 AWG",
    "cable_1_insulation": "THHN",
    "cable_1_count": "3",
    "opened": "{{}}",
    "choices": "whose-label",
    "whose-label": "mine",
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
_JOB, _SPARE = {"project_id": "job"}, {"room_id": "spare"}
_SEEN_RUN = {"run": "{draft}", "version": 2}
_CABLES = [{"size": "12 AWG", "insulation": "THHN", "count": 3}]
_BANK = {"labels": ["71"], "spacing_mm": 60, "toward": "right", "corners": "equal"}
_STOP = {"rule": "{stop_rule}", "where": "{stop_where}", "said": "{stop_said}", "reason": "Seen on site"}
_SURVEY = b'Room,Run,Conduit,"Length, mm"\nNew room,41,steel-20-heavy,1200\n'
_SETTINGS = {
    "seen": "2",
    "name": "Ostley",
    "words": "uk",
    "units": "mm",
    "paper": "A4",
    "time_zone": "Europe/London",
    "currency": "GBP",
    "rules": "uk",
    "tolerance_deg": "1",
    "risk": "0.05",
    "tolerance_mm": "2",
    "clearance_mm": "90",
    "min_piece_mm": "150",
    "kerf_mm": "2",
    "least_offcut_mm": "300",
    "long_thread_mm": "60",
    "union_gap_mm": "",
    "joint_costs.coupler": "1.5",
}

TABLE: Mapping[str, Address] = {
    # pages
    "wall-chart": reads(),
    "project": reads(query="crew={crew}&state=cut&open={room}"),
    "chart-live": reads(query="seen=0&sort=due"),
    "chart-give": posts(
        "foreman",
        {
            "do": "give",
            "stage": "both",
            "crew": "{crew}",
            "run": ["{draft}:2"],
            "piece": ["{piece}"],
            "at": "late=1",
        },
    ),
    "search": reads("electrician", query="q=0"),
    "projects": reads("electrician"),
    "project-change": form("foreman", {"code": "J-2", "name": "Job", "seen": "2"}, instead=_JOB),
    "project-archive": posts("foreman", {"seen": "2"}, instead=_JOB),
    "project-back": posts("foreman", {"seen": "2"}, instead={"project_id": "shelved"}),
    "room-rename": posts("foreman", {"name": "New name", "seen": "2"}, instead=_SPARE),
    "room-move": posts("foreman", {"way": "up", "seen": "2"}, instead=_SPARE),
    "room-delete": posts("foreman", {"seen": "2"}, instead=_SPARE),
    "run-delete": form("foreman", {"seen": "2"}, instead=_DRAFT),
    "project-new": form("foreman", {"code": "N-1", "name": "New"}),
    "room-new": form("foreman", {"name": "New"}),
    "survey-import": Address({"GET": Try("foreman"), "POST": Try("foreman", {}, 302, file=_SURVEY)}),
    "survey-file": reads(query="kind=csv&what=runs"),
    "survey-preview": form("foreman", {}),
    "run-new": form("foreman", {"label": "41", "former_id": "{former}", "heading": "up"}),
    "run": reads(),
    "run-change": form("foreman", _CHANGE, instead=_DRAFT),
    "run-sheet": Address({"GET": Try("foreman")}, instead=_DRAFT),
    "run-rows": posts("foreman", _ROWS, instead=_DRAFT),
    "run-release": posts("foreman", {"crew": "{crew}", "seen": "2"}, instead=_DRAFT),
    "run-drawn": Address({"GET": Try("foreman", query="width=narrow")}, instead=_DRAFT),
    "run-bank": form(
        "foreman",
        {
            "count": "1",
            "label_1": "71",
            "spacing_mm": "60",
            "toward": "right",
            "corners": "equal",
            "seen": "2",
        },
        instead=_DRAFT,
    ),
    "run-leave-bank": posts("foreman", {"seen": "2"}, instead={"run_id": "beside"}),
    "run-split": Address(
        {
            "GET": Try("foreman", query="row=1"),
            "POST": Try("foreman", {"label": "72", "seen": "2", "row": "1"}, 302),
        },
        instead={"run_id": "boxed"},
    ),
    "run-judge": Address({"GET": Try("manager")}, instead={"run_id": "stopped"}),
    "run-let-pass": posts("manager", {**_STOP, "seen": "2"}, instead={"run_id": "stopped"}),
    "run-stand-by": posts("manager", {"seen": "2"}, instead={"run_id": "stopped"}),
    "run-release-more": posts(
        "foreman", {"revision": "1", "choose": "1", "stick": "1"}, instead={"run_id": "parted"}
    ),
    "run-compare": reads(query="before=1&after=draft"),
    "bender-change": form(
        "foreman",
        {"name": "Bench 9", "shape": "bench machine", "hold_min_mm": "95", "swing_min_mm": "", "seen": "2"},
    ),
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
    "people": Address(
        {
            "GET": Try("administrator"),
            "POST": Try("administrator", {"email": "new@ostley.example", "role": "foreman"}),
        }
    ),
    "person": form("administrator", {"what": "role", "role": "foreman", "seen": "2"}),
    "invitation-withdraw": posts("administrator", {}),
    "crews": form("administrator", {"name": "Night", "member_ids": ["{member}"]}),
    "crew": form(
        "administrator",
        {"what": "change", "name": "Night", "member_ids": ["{member}"], "seen": "2"},
        instead={"crew_id": "idle"},
    ),
    "settings": form("administrator", _SETTINGS),
    "rights": reads("electrician"),
    "account": form("electrician", {"what": "password", "old": PASSWORD, "new": "quarry-lantern-7-otter"}),
    "join": Address({"GET": Try(""), "POST": Try("", {"token": "none"}, 422)}, is_open=True),
    "reset": Address({"GET": Try(""), "POST": Try("", {"token": "none"}, 422)}, is_open=True),
    "papers": form(
        "foreman",
        {
            "what": "kit-list",
            "subject": "run:{run}",
            "paper": "A4",
            "labels": "a4-70x37",
            "start": "1",
            "day": "",
        },
    ),
    "paper-drawn": reads(query="what=kit-list&of=run&id={run}"),
    "pack": reads(),
    "pack-pdf": reads(instead={"pack_id": "made_pack"}),
    "pack-cancel": posts("foreman", {}),
    "pack-again": posts("foreman", {}, instead={"pack_id": "failed_pack"}),
    "switch-company": posts("foreman", {"company": "{company}"}),
    "light": Address({"POST": Try("foreman", {"light": "dim"}, 302)}, is_open=True),
    "sign-in": Address(
        {"GET": Try("", ok=200), "POST": Try("", {"email": "", "password": ""}, 422)}, is_open=True
    ),
    "sign-out": Address({"POST": Try("foreman", {}, 302)}, is_open=True),
    # the API
    "api-reference": reads("electrician"),
    "api-openapi": reads("electrician"),
    "api-crews": Address(
        {
            "GET": Try("foreman"),
            "POST": Try("administrator", {"name": "Night", "members": ["{member}"]}, 201),
        }
    ),
    "api-crew": Address(
        {
            "GET": Try("administrator"),
            "PATCH": Try("administrator", {"name": "Night", "members": ["{member}"]}),
            "DELETE": Try("administrator", ok=204),
        },
        instead={"crew_id": "idle"},
    ),
    "api-people": reads("administrator"),
    "api-person": Address({"GET": Try("administrator"), "PATCH": Try("administrator", {"role": "foreman"})}),
    "api-resets": posts("administrator", {}, 201),
    "api-invitations": Address(
        {
            "GET": Try("administrator"),
            "POST": Try(
                "administrator",
                {"email": "new@ostley.example", "role": "foreman", "crews": ["{crew}"]},
                201,
            ),
        }
    ),
    "api-invitation": Address({"DELETE": Try("administrator", ok=204)}),
    "api-settings": Address(
        {
            "GET": Try("administrator"),
            "PATCH": Try(
                "administrator", {"clearance_mm": 90, "rules": "uk", "joint_costs": {"coupler": 1.5}}
            ),
        }
    ),
    "api-rights": reads("electrician"),
    "api-account": Address({"GET": Try("electrician"), "PATCH": Try("electrician", {"name": "New name"})}),
    "api-own-mail": posts("electrician", {"email": "new@ostley.example", "password": PASSWORD}, 200),
    "api-own-password": posts("electrician", {"old": PASSWORD, "new": "quarry-lantern-7-otter"}, 204),
    "api-leave": posts("electrician", {}, 204),
    "api-formers": reads(),
    "api-projects": Address(
        {"GET": Try("foreman"), "POST": Try("foreman", {"code": "N-1", "name": "New"}, 201)}
    ),
    "api-project": Address(
        {"GET": Try("foreman"), "PATCH": Try("foreman", {"name": "New name"})}, instead=_JOB
    ),
    "api-projects-archived": reads(),
    "api-project-archive": posts("foreman", {}, 200, instead=_JOB),
    "api-project-back": posts("foreman", {}, 200, instead={"project_id": "shelved"}),
    "api-room-order": Address({"PUT": Try("foreman", {"rooms": ["{spare}", "{hall}"]})}, instead=_JOB),
    "api-chart": reads(query="crew={crew}&sort=priority"),
    "api-search": reads("electrician", query="q=0"),
    "api-room": Address(
        {
            "GET": Try("foreman"),
            "PATCH": Try("foreman", {"name": "New name"}),
            "DELETE": Try("foreman", ok=204),
        },
        instead=_SPARE,
    ),
    "api-due": posts("foreman", {"runs": [_SEEN_RUN], "due_on": "2026-12-24"}, 200),
    "api-priority": posts("foreman", {"runs": [_SEEN_RUN], "priority": 1}, 200),
    "api-assign": posts(
        "foreman", {"stage": "both", "crew": "{crew}", "runs": [_SEEN_RUN], "pieces": ["{piece}"]}, 200
    ),
    "api-rooms": Address({"GET": Try("foreman"), "POST": Try("foreman", {"name": "New"}, 201)}),
    "api-runs-of-project": reads(),
    "api-survey": Address(
        {
            "GET": Try("foreman", query="kind=csv&what=runs"),
            "POST": Try("foreman", {}, 201, file=_SURVEY),
        }
    ),
    "api-runs-of-room": posts("foreman", {"label": "41", "former": "{former}"}, 201),
    "api-run": Address(
        {
            "GET": Try("foreman"),
            "PATCH": Try(
                "foreman",
                {"former": "{former}", "to_place": "Tank", "fit_from": "both", "cables": _CABLES},
            ),
            "DELETE": Try("foreman", ok=204),
        },
        instead=_DRAFT,
    ),
    "api-rows": Address({"PUT": Try("foreman", {"rows": THREE_BENDS})}, instead=_DRAFT),
    "api-bank": Address(
        {
            "GET": Try("foreman"),
            "POST": Try("foreman", _BANK, 201),
        },
        instead=_DRAFT,
    ),
    "api-bank-leave": posts("foreman", {}, 200, instead={"run_id": "beside"}),
    "api-split": posts("foreman", {"row": 0, "label": "72"}, 201, instead={"run_id": "boxed"}),
    "api-plans": reads(),
    "api-compare": reads(query="before=1&after=draft"),
    "api-more-sticks": posts("foreman", {"revision": 1, "sticks": [1]}, 200, instead={"run_id": "parted"}),
    "api-overrides": Address(
        {"GET": Try("manager"), "POST": Try("manager", _STOP, 201)}, instead={"run_id": "stopped"}
    ),
    "api-override": Address({"DELETE": Try("manager", ok=204)}, instead={"run_id": "stopped"}),
    "api-benders": reads(),
    "api-bender": Address({"GET": Try("foreman"), "PATCH": Try("foreman", {"shape": "bench machine"})}),
    "api-draft": Address({"GET": Try("foreman")}, instead=_DRAFT),
    "api-plan": reads(),
    "api-release": posts("foreman", {"crew": "{crew}"}, 201, instead=_DRAFT),
    "api-pieces-of-run": reads(),
    "api-work": reads("electrician"),
    "api-piece": reads("electrician"),
    "api-ticks-of-piece": reads("electrician"),
    "api-paper": reads(query="what=kit-list&of=run&id={run}"),
    "api-sheets": reads(),
    "api-packs": Address(
        {
            "GET": Try("foreman"),
            "POST": Try(
                "foreman",
                {
                    "what": "labels",
                    "of": "run",
                    "id": "{run}",
                    "paper": "A4",
                    "labels": "a4-70x37",
                    "start": 2,
                    "day": None,
                    "only_open": False,
                },
                201,
            ),
        }
    ),
    "api-pack": reads(),
    "api-pack-pdf": reads(instead={"pack_id": "made_pack"}),
    "api-pack-cancel": posts("foreman", {}, 200),
    "api-pack-again": posts("foreman", {}, 200, instead={"pack_id": "failed_pack"}),
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
        ask = {"actor": house.administrator}
        companies.change_settings(seen=1, least_offcut_mm=320.0, rules="us", **ask)
        member = companies.add_member(person=person("Spare"), role="electrician", **ask)
        companies.change_role(member_id=member.pk, role="foreman", seen=1, **ask)
        idle = companies.form_crew(name="Idle", member_ids=[member.pk], **ask)
        companies.change_crew(crew_id=idle.pk, seen=1, name="At rest", **ask)
        invitation, _token = companies.invite(
            email="guest@example.test", role="manager", crew_ids=[idle.pk], **ask
        )
        companies.make_reset_link(member_id=member.pk, **ask)
        return {
            "member": member.pk,
            "idle": idle.pk,
            "invitation": invitation.pk,
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
            "upload": projects.keep_survey(
                actor=house.foreman,
                project_id=room.project_id,
                file_name="survey.csv",
                table=survey_files.read(_SURVEY),
            ).pk,
            "fresh": uuid7(),
            **_packs(house, plan),
            **_jobs(house),
            **_runs(house, room, former),
        }


def _jobs(house: House) -> dict[str, Any]:
    """A job with two empty rooms, and one that is archived; all that is changed was changed once before."""
    ask = {"actor": house.foreman}
    job = make_project(house, code="FC-2", name="Fenwater dairy")
    hall, spare = (make_room(house, job, name=name) for name in ("Hall", "Spare"))
    projects.rename_room(room_id=spare.pk, seen=1, name="Store", **ask)
    projects.change_project(project_id=job.pk, seen=1, name="Fenwater dairy, store", **ask)
    shelved = make_project(house, code="FC-0", name="Fenwater, the old line")
    projects.archive_project(project_id=shelved.pk, seen=1, **ask)
    return {"job": job.pk, "hall": hall.pk, "spare": spare.pk, "shelved": shelved.pk}


_BOXED: list[dict[str, Any]] = [
    {
        "length_mm": 1000.0, "then": "fitting", "fitting": "draw_in_box", "leg_in_mm": 46.0,
        "leg_out_mm": 46.0,
    },
    {"length_mm": 900.0, "then": "end"},
]  # fmt: skip


_FIVE_BENDS: list[dict[str, Any]] = [
    *(
        {"length_mm": 900.0, "then": "bend", "angle_deg": 90.0, "toward": toward}
        for toward in ("right", "in", "up", "left", "out")
    ),
    {"length_mm": 600.0, "then": "end"},
]


def _runs(house: House, room: Room, former: Former) -> dict[str, Any]:
    """A run beside another, one with a box, one of which some sticks wait, and one that the rule pack stops;
    all that is changed was changed once before. And a bender that was."""
    bench.change_bender(actor=house.foreman, bender_id=former.bender_id, seen=1, hold_min_mm=60.0)
    leads = make_run(house, room, label="50", former=former)
    (beside,) = projects.lay_bank(
        actor=house.foreman, run_id=leads.pk, seen=2, labels=["51"], spacing_mm=60.0, toward="right"
    )
    boxed = make_run(house, room, label="52", former=former, rows=_BOXED)
    parted = make_run(house, room, label="53", former=former, rows=_BOXED)
    planning.release_run(
        actor=house.foreman, run_id=parted.pk, seen=2, crew_id=house.crew.pk, stick_numbers=[2]
    )
    stopped = make_run(house, room, label="54", former=former, rows=_FIVE_BENDS)
    company = Company.objects.get(pk=house.company.pk)
    stop = next(each for each in draft_of(run_of(stopped.pk), company).stops if each.may_pass)
    override = Override.objects.create(
        run=stopped, rule="total-bend", where="route", finding="As it was", reason="Seen on site",
        by=house.people["manager"],
    )  # fmt: skip
    return {
        "beside": beside.pk,
        "boxed": boxed.pk,
        "parted": parted.pk,
        "stopped": stopped.pk,
        "override": override.pk,
        "stop_rule": stop.rule,
        "stop_where": stop.where,
        "stop_said": stop.said,
    }


def _packs(house: House, plan: Plan) -> dict[str, Any]:
    """A pack that waits, one that is made and one that failed."""
    waits = papers.order_pack(
        actor=house.foreman,
        asked=Asked(what="bend-cards", of="run", of_id=plan.run_id, paper="A4"),
    )
    others = {
        state: Pack.objects.create(
            what=waits.what,
            of=waits.of,
            of_id=waits.of_id,
            title=waits.title,
            parameters=waits.parameters,
            contents=waits.contents,
            plans=waits.plans,
            look=waits.look,
            key=state,
            state=state,
            sticks=1,
            error="no paper" if state == "failed" else "",
            pdf=b"%PDF-1.7" if state == "made" else None,
            by=house.people["foreman"],
        )
        for state in ("made", "failed")
    }
    return {"pack": waits.pk, "made_pack": others["made"].pk, "failed_pack": others["failed"].pk}


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
