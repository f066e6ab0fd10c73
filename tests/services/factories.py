"""Coherent data for tests, made by the service's own commands: one company down the whole tree."""

import contextvars
import uuid
from collections.abc import Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.contrib.auth.hashers import make_password
from django.test import Client

from services.bench import commands as bench_commands
from services.bench.models import Former
from services.company import commands as company_commands
from services.company.models import Company, Crew, Role, User
from services.core.commands import Actor
from services.core.scoping import company_scope
from services.planning import commands as planning_commands
from services.planning.models import Plan
from services.projects import commands as project_commands
from services.projects.models import Project, Room, Run

PASSWORD = "copper-kettle-adrift-9"
"""Of everybody here."""


@lru_cache(maxsize=1)
def _kept_password() -> str:
    """Hashing takes a tenth of a second by design, so it is done once a run."""
    return make_password(PASSWORD)


class FreshClient(Client):
    """A client whose requests know nothing of the scope that the test itself is in, as over the network."""

    def request(self, **request: Any) -> Any:
        """Runs the request in an empty context."""
        return contextvars.Context().run(super().request, **request)


@dataclass(frozen=True, slots=True)
class House:
    """A company with a person in each role and a crew of its electrician and foreman."""

    company: Company
    people: Mapping[str, User]
    actors: Mapping[str, Actor]
    crew: Crew

    @property
    def electrician(self) -> Actor:
        """Works in the crew."""
        return self.actors[Role.ELECTRICIAN]

    @property
    def foreman(self) -> Actor:
        """Surveys, plans, releases."""
        return self.actors[Role.FOREMAN]

    @property
    def manager(self) -> Actor:
        """Sees money."""
        return self.actors[Role.MANAGER]

    @property
    def administrator(self) -> Actor:
        """Keeps people and settings."""
        return self.actors[Role.ADMINISTRATOR]

    def scope(self) -> AbstractContextManager[None]:
        """The company's scope."""
        return company_scope(self.company.pk)

    def client(self, role: str) -> FreshClient:
        """A browser or program signed in as the person of that role."""
        client = FreshClient()
        client.force_login(self.people[role], backend="django.contrib.auth.backends.ModelBackend")
        return client


def person(name: str, *, email: str | None = None) -> User:
    """A person who can sign in with PASSWORD."""
    return User.objects.create(
        name=name, email=email or f"{uuid.uuid4().hex}@example.test", password=_kept_password()
    )


def make_house(name: str, **settings: Any) -> House:
    """A company with a person in each role and one crew, made by commands."""
    people = {role: person(f"{name} {role}") for role in Role.values}
    company, administrator = company_commands.found_company(
        name=name, person=people[Role.ADMINISTRATOR], settings=settings
    )
    with company_scope(company.pk):
        members = {
            role: company_commands.add_member(actor=administrator, person=people[role], role=role)
            for role in (Role.ELECTRICIAN, Role.FOREMAN, Role.MANAGER)
        }
        crew = company_commands.form_crew(
            actor=administrator,
            name=f"{name} crew",
            member_ids=[members[Role.ELECTRICIAN].pk, members[Role.FOREMAN].pk],
        )
    actors = {
        role: Actor(each.pk, company.pk, role, administrator.device_id) for role, each in people.items()
    }
    return House(company, people, actors, crew)


def our_house() -> House:
    """Words of the trade in Britain, millimetres, pounds."""
    return make_house("Ostley")


def another_house() -> House:
    """Words of the trade in the United States, inches, dollars."""
    return make_house(
        "Quillback", words="us", units="in", currency="USD", paper="Letter", time_zone="America/Chicago"
    )


# ---------------------------------------------------------------- work
# Each needs the house's scope to be active.

Row = dict[str, Any]


def leg(length_mm: float | None, **what_follows: Any) -> Row:
    """A row: a straight as the tape read it, and what follows; `to` and `from` as on the run sheet."""
    return {"length_mm": length_mm, **what_follows}


THREE_BENDS: list[Row] = [
    leg(877, **{"from": "face", "to": "back", "then": "bend", "angle_deg": 90, "toward": "right"}),
    leg(1640, **{"from": "back", "to": "back", "then": "bend", "angle_deg": 90, "toward": "in"}),
    leg(640, **{"from": "back", "to": "back", "then": "bend", "angle_deg": 90, "toward": "down"}),
    leg(450, **{"from": "back", "to": "face", "then": "end"}),
]
"""Up the wall, along it, in through an opening, down."""


def make_former(house: House, **figures: Any) -> Former:
    """A former of 73 mm for 20 mm conduit on a bender of its own, unless told otherwise."""
    bender = bench_commands.add_bender(actor=house.foreman, name=f"Bender {uuid.uuid4().hex[:8]}")
    told = {"conduit": "steel-20-heavy", "centreline_radius_mm": 73.0, "line": "back", **figures}
    return bench_commands.add_former(actor=house.foreman, bender_id=bender.pk, **told)


def make_project(house: House, code: str = "FC-1", name: str = "Fenwater Creamery") -> Project:
    """A job."""
    return project_commands.create_project(actor=house.foreman, code=code, name=name)


def make_room(house: House, project: Project | None = None, name: str = "Plate room") -> Room:
    """A room."""
    at = project or make_project(house)
    return project_commands.create_room(actor=house.foreman, project_id=at.pk, name=name)


def make_run(
    house: House,
    room: Room | None = None,
    *,
    label: str = "07",
    rows: list[Row] | None = None,
    former: Former | None = None,
) -> Run:
    """A run with its rows, THREE_BENDS unless told otherwise, not released."""
    run = project_commands.create_run(
        actor=house.foreman,
        room_id=(room or make_room(house)).pk,
        label=label,
        former_id=(former or make_former(house)).pk,
    )
    return project_commands.set_rows(
        actor=house.foreman, run_id=run.pk, seen=run.version, rows=THREE_BENDS if rows is None else rows
    )


def release(house: House, run: Run | None = None) -> Plan:
    """Releases a run, a new one unless told, to the house's crew."""
    at = run or make_run(house)
    return planning_commands.release_run(
        actor=house.foreman, run_id=at.pk, seen=at.version, crew_id=house.crew.pk
    )
