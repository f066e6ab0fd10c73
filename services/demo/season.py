"""Makes the invented companies and some weeks of their work, by the commands that people's clicks call."""

import random
import uuid
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Final

from django.utils import timezone

from bendcore import catalogue
from services.bench import commands as bench
from services.bench.models import Former
from services.company import commands as companies
from services.company.models import Company, Crew, Membership, Role, User
from services.core.commands import Actor
from services.core.scoping import company_scope
from services.demo.contractors import CONTRACTORS, Contractor, Job, Someone
from services.demo.routes import VARIED, Draw, Rows, still_to_measure, too_tight
from services.planning import commands as planning
from services.planning.queries import draft_of
from services.projects import commands as projects
from services.projects.models import Room, Run
from services.projects.queries import run as run_by_id
from services.stock import commands as stock
from services.tracking import commands as tracking
from services.tracking.models import Piece
from services.tracking.queries import pieces_of_run

SEED: Final = 20_261_125

STEPS: Final = ("cut", "bent", "checked", "installed")
"""How a piece goes up the wall. A room at n has most of its pieces through the first n - 1 of them; at 0 it
is surveyed
only, at 1 released."""

SCRAPS: Final = (
    ("cut", "cut short"),
    ("bent", "over-bent"),
    ("bent", "tape misread"),
    ("bent", "out of true"),
    ("checked", "other trade in the way"),
    ("bent", "seam split"),
    ("bent", "mark on the wrong line"),
)
"""After which step a piece was lost, and to what."""

LOST_EVERY: Final = 5
"""Of so many pieces one is lost."""

VERDICTS: Final = {10: "reject", 16: "shorten", 22: "correct"}
"""Of the pieces that came so far, counted over the company, those that did not pass their check at once."""

NOT_FINISHED: Final = {3: still_to_measure, 7: too_tight, 9: still_to_measure}
"""Of the runs of rooms that are hardly begun, counted over the company, those that cannot be released yet."""


@dataclass(frozen=True, slots=True)
class SignIn:
    """Someone who can sign in to the demo."""

    company: str
    role: str
    name: str
    email: str


def load(password: str, *, seed: int = SEED) -> list[SignIn]:
    """Makes both companies; returns who can sign in, all with that password. The same seed makes the same
    work."""
    return [sign_in for contractor in CONTRACTORS for sign_in in _Season(contractor, password, seed).make()]


class _Season:
    """One company on its way from its founding to some weeks of work."""

    def __init__(self, contractor: Contractor, password: str, seed: int) -> None:
        self.contractor = contractor
        self.password = password
        self.chance = random.Random(f"{seed} {contractor.name}")  # noqa: S311 - draws lengths of pipes
        self.draw = Draw(self.chance, inches=contractor.settings["units"] == "in")
        self.scraps = list(SCRAPS)
        self.shapes = 0
        self.hardly_begun = 0
        self.pieces = 0
        self.checks = 0
        self.actors: dict[str, Actor] = {}
        self.gang_of: dict[uuid.UUID, Actor] = {}

    def make(self) -> list[SignIn]:
        """Everything."""
        people = self._people()
        company, administrator = companies.found_company(
            name=self.contractor.name, person=people[0][1], settings=self.contractor.settings
        )
        self.actors[Role.ADMINISTRATOR] = administrator
        with company_scope(company.pk):
            crews = self._crews(company, administrator, people)
            formers = self._bench()
            self._store()
            for job in self.contractor.jobs:
                self._job(job, company, crews, formers)
        return [SignIn(company.name, each.role, each.name, each.email) for each, _user in people]

    @property
    def foreman(self) -> Actor:
        return self.actors[Role.FOREMAN]

    def _people(self) -> list[tuple[Someone, User]]:
        return [
            (each, User.objects.create_user(each.email, each.name, self.password))
            for each in self.contractor.people
        ]

    def _crews(
        self, company: Company, administrator: Actor, people: list[tuple[Someone, User]]
    ) -> list[Crew]:
        gangs: dict[str, list[uuid.UUID]] = {}
        ticking: dict[str, Actor] = {}
        for each, user in people[1:]:
            member: Membership = companies.add_member(actor=administrator, person=user, role=each.role)
            actor = Actor(user.pk, company.pk, each.role, administrator.device_id)
            self.actors.setdefault(each.role, actor)
            if each.gang:
                gangs.setdefault(each.gang, []).append(member.pk)
                if each.role == Role.ELECTRICIAN:
                    ticking[each.gang] = actor
        crews = [
            companies.form_crew(actor=administrator, name=name, member_ids=members)
            for name, members in gangs.items()
        ]
        self.gang_of = {crew.pk: ticking[crew.name] for crew in crews}
        return crews

    def _bench(self) -> list[Former]:
        formers = []
        for name, figures in self.contractor.benders:
            bender = bench.add_bender(actor=self.foreman, name=name)
            formers += [bench.add_former(actor=self.foreman, bender_id=bender.pk, **each) for each in figures]
        return formers

    def _store(self) -> None:
        since = timezone.localdate() - timedelta(days=90)
        for conduit, lengths, price in self.contractor.stock:
            stock.set_price(
                actor=self.actors[Role.MANAGER],
                conduit=conduit,
                full_length_mm=catalogue.conduit(conduit).stock_length,
                price=price,
                from_day=since,
            )
            stock.receive(actor=self.foreman, conduit=conduit, lengths=lengths)

    def _job(self, job: Job, company: Company, crews: list[Crew], formers: list[Former]) -> None:
        project = projects.create_project(
            actor=self.foreman, code=job.code, name=job.name, client=job.client, site=job.site
        )
        number = 0
        for name, done in job.rooms:
            room = projects.create_room(actor=self.foreman, project_id=project.pk, name=name)
            for _each in range(self.contractor.runs_a_room):
                number += 1
                # most of a job is its smallest conduit
                former = formers[0] if self.chance.random() < 0.7 else self.chance.choice(formers[1:])
                run, unfinished = self._run(room, f"{number:02d}", former, company, done)
                if done and not unfinished:
                    crew = crews[number % len(crews)]
                    planning.release_run(actor=self.foreman, run_id=run.pk, seen=run.version, crew_id=crew.pk)
                    self._work(run, crew, done)

    def _run(self, room: Room, label: str, former: Former, company: Company, done: int) -> tuple[Run, bool]:
        run = projects.create_run(
            actor=self.foreman,
            room_id=room.pk,
            label=label,
            former_id=former.pk,
            from_place="Distribution board" if company.words == "uk" else "Panel LP-1",
            to_place=f"{room.name}, point {label}",
        )
        unfinished = None
        if done <= 1:
            self.hardly_begun += 1
            unfinished = NOT_FINISHED.get(self.hardly_begun)
        if unfinished is not None:
            return self._with_rows(run, unfinished(self.draw)), True
        run = self._with_rows(run, self._shape())
        for _again in range(20):  # a drawn length may happen to be too tight for a large former
            if draft_of(run_by_id(run.pk), company).is_releasable:
                return run, False
            run = self._with_rows(run, VARIED[(self.shapes - 1) % len(VARIED)](self.draw))
        raise RuntimeError(
            f"the demo's shape {VARIED[(self.shapes - 1) % len(VARIED)].__name__} cannot be planned"
        )

    def _shape(self) -> Rows:
        self.shapes += 1
        return VARIED[(self.shapes - 1) % len(VARIED)](self.draw)

    def _with_rows(self, run: Run, rows: Rows) -> Run:
        return projects.set_rows(actor=self.foreman, run_id=run.pk, seen=run.version, rows=rows)

    def _work(self, run: Run, crew: Crew, done: int) -> None:
        who = self.gang_of[crew.pk]
        for piece in pieces_of_run(run.pk):
            self.pieces += 1
            # some are a step behind the rest of the room
            steps = STEPS[: max(0, done - 1 - (self.chance.random() < 0.25))]
            lost_after, cause = self._lost(steps)
            for step in steps:
                if not self._step(who, piece, step):
                    break
                if step == lost_after:
                    saved = round(piece.stick.cut_length_mm * self.chance.choice((0.0, 0.35, 0.5)))
                    self._tick(who, piece, "scrapped", {"cause": cause, "saved_mm": float(saved)})
                    self._again(who, run, piece, steps)
                    break

    def _lost(self, steps: tuple[str, ...]) -> tuple[str, str]:
        if self.pieces % LOST_EVERY == 0:
            for index, (step, _cause) in enumerate(self.scraps):
                if step in steps:
                    return self.scraps.pop(index)
        return "", ""

    def _again(self, who: Actor, run: Run, lost: Piece, steps: tuple[str, ...]) -> None:
        """The next attempt at the stick that was lost."""
        for piece in pieces_of_run(run.pk):
            if piece.line_id == lost.line_id:
                for step in steps:
                    if not self._step(who, piece, step):
                        break

    def _step(self, who: Actor, piece: Piece, step: str) -> bool:
        """One step of a piece; False when it did not pass, and goes no further for now."""
        if step != "checked":
            self._tick(who, piece, step)
            return True
        self.checks += 1
        verdict = VERDICTS.get(self.checks, "pass")
        marks = {"angle": verdict != "correct", "length": verdict not in ("reject", "shorten"), "bore": True}
        self._tick(who, piece, step, {"verdict": verdict, **marks})
        return verdict == "pass"

    def _tick(self, who: Actor, piece: Piece, kind: str, figures: dict[str, Any] | None = None) -> None:
        tracking.tick_from_office(actor=who, piece_id=piece.pk, kind=kind, figures=figures)
