"""Fills an empty database with companies in every state that pages are looked at in, and writes to standard
output, as JSON, where each page is and the session that opens it. Run as a program of its own."""

import json
import sys
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from typing import Any, Final

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "services"))

from matrix_pages import FILES, LONG, PAGES, PARTS, STATES, Page, route_of

from services.config import embedded

embedded.prepare()

import django  # noqa: E402 - the environment comes first

django.setup()

from django.conf import settings  # noqa: E402
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.urls import reverse  # noqa: E402
from factories import (  # noqa: E402
    PASSWORD,
    House,
    another_house,
    leg,
    make_former,
    make_house,
    make_project,
    make_room,
    make_run,
    our_house,
    person,
    release,
)
from walls import TABLE, furnish, routes  # noqa: E402

from services.bench import commands as bench  # noqa: E402
from services.company import commands as companies  # noqa: E402
from services.company import sessions  # noqa: E402
from services.company.models import Company, Membership, Role, User  # noqa: E402
from services.core.scoping import company_scope  # noqa: E402
from services.demo import season  # noqa: E402
from services.demo.contractors import OSTLEY, TAMBER  # noqa: E402
from services.planning.models import Plan  # noqa: E402
from services.projects import commands as projects  # noqa: E402
from services.projects import survey_files  # noqa: E402
from services.projects.models import Project, Run  # noqa: E402
from services.tracking.models import Piece  # noqa: E402
from services.tracking.queries import pieces_of_run  # noqa: E402

BACKEND: Final = "django.contrib.auth.backends.ModelBackend"
SHEET: Final = b'Room,Run,Conduit,"Length, mm"\nNew room,41,steel-20-heavy,1200\n'
Names = dict[str, Any]


def bare(name: str) -> Mapping[str, User]:
    """The people of a company that has nothing, not even a crew; by role."""
    people = {role: person(f"{name} {role}") for role in Role.values}
    company, administrator = companies.found_company(
        name=name, person=people[Role.ADMINISTRATOR], settings={}
    )
    with company_scope(company.pk):
        for role in (Role.ELECTRICIAN, Role.FOREMAN, Role.MANAGER):
            companies.add_member(actor=administrator, person=people[role], role=role)
    return people


def begun(house: House) -> Names:
    """One of everything, each as bare as it can be."""
    with house.scope():
        member = Membership.objects.filter(role=Role.ELECTRICIAN).get()
        former = make_former(house)
        bare_bender = bench.add_bender(actor=house.foreman, name="Bench bender")
        project = make_project(house)
        room = make_room(house, make_project(house, code="FC-2", name="Fenwater dairy"))
        another = make_room(house, make_project(house, code="FC-3", name="Fenwater yard"))
        draft = make_run(house, another, label="01", former=former, rows=[])
        straight = [leg(700, then="end")]
        run = make_run(house, another, label="02", former=former, rows=straight)
        plan = release(house, run)
        boxed = make_run(
            house, another, label="03", former=former,
            rows=[
                leg(700, then="fitting", fitting="draw_in_box", leg_in_mm=46.0, leg_out_mm=46.0),
                leg(700, then="end"),
            ],
        )  # fmt: skip
        piece = pieces_of_run(run.pk)[0]
        upload = projects.keep_survey(
            actor=house.foreman, project_id=project.pk, file_name="survey.csv", table=survey_files.read(SHEET)
        )
        return {
            "project": project.pk, "room": room.pk, "draft": draft.pk,
            "stopped": draft.pk, "boxed": boxed.pk, "run": run.pk, "plan": plan.pk, "piece": piece.pk,
            "stick": piece.stick_id, "upload": upload.pk, "bender": bare_bender.pk, "former": former.pk,
            "crew": house.crew.pk, "member": member.pk,
        }  # fmt: skip


def with_everything(house: House) -> tuple[Mapping[str, User], Names]:
    """One of everything, and what is long."""
    names = furnish(house)
    with house.scope():
        lost = Piece.objects.filter(state="scrapped").values_list("pk", flat=True)[0]
        _long(house)
        ask = {"actor": house.administrator}
        invited, _token = companies.invite(email="newcomer@example.test", role="foreman", **ask)
        link, _token = companies.make_reset_link(member_id=names["member"], **ask)
        names |= {"lost": lost, "invitation_hash": invited.token_hash, "reset_hash": link.token_hash}
    return house.people, names


def with_work(company: Company) -> tuple[Mapping[str, User], Names]:
    """Weeks of work, as the demo has them."""
    with company_scope(company.pk):
        people = {
            each.role: each.person
            for each in Membership.objects.select_related("person").order_by("-person__email")
        }
        plan = Plan.objects.filter(is_current=True).order_by("run__label")[0]
        piece = Piece.objects.filter(state="checked")[0]
        return people, {
            "project": Project.objects.order_by("code")[0].pk,
            "run": plan.run_id,
            "crew": Run.objects.values_list("crew_id", flat=True).get(pk=plan.run_id),
            "plan": plan.pk,
            "piece": piece.pk,
            "stick": piece.stick_id,
        }


def _long(house: House) -> None:
    """Names as long as they may be: where a page is too narrow for what people type, it shows here."""
    bender = bench.add_bender(actor=house.foreman, name=LONG[:80])
    former = bench.add_former(
        actor=house.foreman,
        bender_id=bender.pk,
        conduit="steel-25-heavy",
        centreline_radius_mm=91.5,
        line="back",
    )
    project = make_project(house, code="A-0000-LONG-CODE-OF-30-LETTERS", name=LONG)
    room = make_room(house, project, name=LONG)
    run = projects.create_run(
        actor=house.foreman, room_id=room.pk, label="EVAP-2-CIP-PUMP-0007", former_id=former.pk,
        from_place=LONG[:80], to_place=LONG[:80],
    )  # fmt: skip
    projects.set_rows(actor=house.foreman, run_id=run.pk, seen=run.version, rows=[leg(700, then="end")])
    companies.form_crew(actor=house.administrator, name=LONG[:80], member_ids=[])


# ---------------------------------------------------------------- where each page is, and who opens it


def address_of(route: str, parts: Mapping[str, str], names: Names) -> str:
    """The address with these rows in it."""
    converters = ROUTES[route].pattern.converters
    return reverse(
        route, kwargs={each: names[parts.get(each, each.removesuffix("_id"))] for each in converters}
    )


def session_of(page: Page, people: Mapping[str, User], names: Names) -> str:
    """A session of its own for a page, so that none remembers what was looked at on another."""
    store = import_module(settings.SESSION_ENGINE).SessionStore()
    if page.role:
        user = people[page.role]
        store[SESSION_KEY], store[BACKEND_SESSION_KEY] = str(user.pk), BACKEND
        store[HASH_SESSION_KEY] = user.get_session_auth_hash()
        sessions.begin(store)
    if page.session:
        store[page.session[0]] = names[page.session[1]]
    store.create()
    return str(store.session_key)


def told(state: str, name: str) -> dict[str, str]:
    """Where the page is in that state, and its session."""
    page = PAGES[name]
    people, names = HOUSES[state][page.at_work]
    route = route_of(name)
    if state == "empty" and route and not ROUTES[route].pattern.converters and not page.query.count("{"):
        people = BARE
    query = page.empty_query if state == "empty" and page.empty_query is not None else page.query
    path = page.path or address_of(route, page.parts, names)
    return {
        "path": path + (f"?{query.format(**names)}" if query else ""),
        "session": session_of(page, people, names),
    }


def told_of_table(name: str) -> dict[str, str]:
    """As `told`, of an address that is no page, by the table of the walls."""
    people, names = HOUSES["full"][False]
    tried = TABLE[name].tries["GET"]
    query = tried.query.format(**names)
    return {
        "path": address_of(name, TABLE[name].instead, names) + (f"?{query}" if query else ""),
        "session": session_of(Page(tried.role), people, names),
    }


call_command("migrate", verbosity=0)
ROUTES = dict(routes())
season.load(PASSWORD)
BARE = bare("Bare Electrical")
BEGUN = make_house("Begun Electrical")
HOUSES = {
    "empty": ((BEGUN.people, begun(BEGUN)),) * 2,
    **{
        state: (with_everything(house), with_work(Company.objects.get(name=contractor.name)))
        for state, house, contractor in (
            ("full", our_house(), OSTLEY),
            ("inches", another_house(), TAMBER),
        )
    },
}

json.dump(
    {
        "pages": {
            state: {name: told(state, name) for name, page in PAGES.items() if state in page.states}
            for state in STATES
        },
        "rest": {name: told_of_table(name) for name in (*PARTS, *FILES)},
        "get": sorted(
            name for name, address in TABLE.items() if "GET" in address.tries and not name.startswith("api-")
        ),
    },
    sys.stdout,
)
