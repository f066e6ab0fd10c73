"""Settings of the service: nothing secret has a default, and production starts only when it was told
everything. Settings of a company: typed in its units, judged whole, kept with what stood before."""

import os
import secrets
import subprocess
import sys
from collections.abc import Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone
from factories import PASSWORD, FreshClient, House, make_run, release
from test_pages import judged

from bendcore.spec import CostsAsked
from services.company import commands, queries, rules
from services.company.models import Company, Role
from services.core.errors import Invalid, NotAllowed, StaleVersion
from services.core.models import Act
from services.pages.forms_people import GROUPS, initial_settings
from services.planning.models import Plan

ROOT = Path(__file__).resolve().parents[2]
NEEDED = ("STICKBOOK_SECRET_KEY", "STICKBOOK_HOSTS", "STICKBOOK_DATABASE_URL", "STICKBOOK_STATIC_ROOT")
PATIENCE_S = 120
"""For a child process on a busy machine."""

PREPARE = "from services.config import embedded; embedded.prepare();"

PRODUCTION = {
    "STICKBOOK_MODE": "production",
    "STICKBOOK_SECRET_KEY": secrets.token_urlsafe(64),
    "STICKBOOK_HOSTS": "stickbook.example",
    "STICKBOOK_DATABASE_URL": "postgres://app@db.example:5432/stickbook",
    "STICKBOOK_STATIC_ROOT": "/srv/stickbook/static",
}


def python(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Runs Python at the top of the project with just this environment."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], **environment},
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )


def read(expression: str, environment: Mapping[str, str]) -> str:
    """A setting's value as its repr."""
    code = f"from services.config import settings as s; print(repr({expression}))"
    run = python("-c", code, **environment)
    assert run.returncode == 0, run.stderr
    return run.stdout.strip()


def test_with_nothing_said_it_is_production_and_names_every_variable_that_is_missing() -> None:
    run = python("-c", "import services.config.settings")
    assert run.returncode != 0
    last = run.stderr.strip().splitlines()[-1]
    for name in NEEDED:
        assert name in last


@pytest.mark.parametrize("missing", NEEDED)
def test_production_refuses_to_start_without_any_one_of_them(missing: str) -> None:
    environment = {name: value for name, value in PRODUCTION.items() if name != missing}
    run = python("-c", "import services.config.settings", **environment)
    assert run.returncode != 0
    last = run.stderr.strip().splitlines()[-1]
    assert missing in last
    assert not [name for name in NEEDED if name != missing and name in last]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("STICKBOOK_SECRET_KEY", ""),
        ("STICKBOOK_SECRET_KEY", "x" * 49),
        ("STICKBOOK_HOSTS", ""),
        ("STICKBOOK_HOSTS", "*"),
        ("STICKBOOK_HOSTS", "stickbook.example,*"),
        ("STICKBOOK_DATABASE_URL", ""),
        ("STICKBOOK_DATABASE_URL", "no such thing"),
        ("STICKBOOK_STATIC_ROOT", ""),
        ("STICKBOOK_MODE", "prodution"),
        ("STICKBOOK_MODE", ""),
    ],
)
def test_production_refuses_what_would_leave_a_door_open(name: str, value: str) -> None:
    run = python("-c", "import services.config.settings", **{**PRODUCTION, name: value})
    assert run.returncode != 0
    assert name in run.stderr.strip().splitlines()[-1]


def test_a_mode_misspelt_is_never_a_lenient_one() -> None:
    environment = {**PRODUCTION, "STICKBOOK_MODE": "tset"}
    assert python("-c", "import services.config.settings", **environment).returncode != 0


def test_production_is_strict() -> None:
    for expression, wanted in {
        "s.DEBUG": "False",
        "s.ALLOWED_HOSTS": "['stickbook.example']",
        "s.CSRF_TRUSTED_ORIGINS": "['https://stickbook.example']",
        "s.SECURE_SSL_REDIRECT": "True",
        "s.SECURE_HSTS_SECONDS": "63072000",
        "s.SESSION_COOKIE_SECURE and s.CSRF_COOKIE_SECURE": "True",
        "s.SESSION_COOKIE_HTTPONLY and s.CSRF_COOKIE_HTTPONLY": "True",
        "(s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME)": "('__Host-session', '__Host-csrf')",
        "s.AXES_IPWARE_PROXY_COUNT": "1",
        "s.DATABASES['default']['ATOMIC_REQUESTS']": "False",
        "s.DATABASES['default']['OPTIONS']['connect_timeout']": "2",
    }.items():
        assert read(expression, PRODUCTION) == wanted, expression


def test_djangos_own_check_for_deployment_has_nothing_to_say() -> None:
    run = python("manage.py", "check", "--deploy", "--fail-level", "WARNING", **PRODUCTION)
    assert run.returncode == 0, run.stderr
    assert "no issues" in run.stdout


def test_no_secret_has_a_default_in_any_mode(tmp_path: Path) -> None:
    for mode in ("test", "embedded"):
        run = python("-c", "import services.config.settings", STICKBOOK_MODE=mode)
        assert run.returncode != 0
        assert "STICKBOOK_SECRET_KEY" in run.stderr


def test_the_embedded_service_makes_its_key_once_and_for_its_owner_alone(tmp_path: Path) -> None:
    home = tmp_path / "home"
    code = f"{PREPARE} from services.config import settings as s; "
    keys = {
        python("-c", code + "print(s.SECRET_KEY)", STICKBOOK_HOME=str(home)).stdout.strip() for _ in range(2)
    }
    assert len(keys) == 1
    assert len(keys.pop()) >= 64
    assert (home / "secret-key").stat().st_mode & 0o777 == 0o600
    assert home.stat().st_mode & 0o777 == 0o700
    other = python(
        "-c", code + "print(s.SECRET_KEY)", STICKBOOK_HOME=str(tmp_path / "another")
    ).stdout.strip()
    assert other != (home / "secret-key").read_text(encoding="ascii")


def test_two_services_started_at_once_read_the_same_key(tmp_path: Path) -> None:
    code = f"{PREPARE} import os; print(os.environ['STICKBOOK_SECRET_KEY'])"
    running = [
        subprocess.Popen(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={"PATH": os.environ["PATH"], "STICKBOOK_HOME": str(tmp_path)},
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(6)
    ]
    keys = {process.communicate(timeout=PATIENCE_S)[0].strip() for process in running}
    assert len(keys) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["secret-key"]


def test_reading_the_settings_touches_no_disk(tmp_path: Path) -> None:
    database = tmp_path / "never" / "made.sqlite3"
    environment = {"STICKBOOK_MODE": "test", "STICKBOOK_SECRET_KEY": "x"}
    read("s.DATABASES", {**environment, "STICKBOOK_DATABASE_URL": f"sqlite:///{database}"})
    assert not database.parent.exists()


def test_migrations_are_what_the_models_say() -> None:
    environment = {
        "STICKBOOK_MODE": "test",
        "STICKBOOK_SECRET_KEY": "x",
        "STICKBOOK_DATABASE_URL": "sqlite:///:memory:",
    }
    run = python("manage.py", "makemigrations", "--check", "--dry-run", **environment)
    assert run.returncode == 0, run.stdout + run.stderr


@pytest.mark.parametrize(("path", "status"), [("/api/v1/projects", 403), ("/anything", 301)])
def test_in_production_a_page_is_redirected_to_https_and_the_api_refuses_plain_http(
    path: str, status: int
) -> None:
    code = f"""
import django
django.setup()
from django.test import Client
plain = Client(raise_request_exception=False).get({path!r}, HTTP_HOST="stickbook.example")
print(plain.status_code, plain.get("Content-Type", ""), plain.get("Content-Security-Policy", "none")[:18])
"""
    run = python("-c", code, DJANGO_SETTINGS_MODULE="services.config.settings", **PRODUCTION)
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith(str(status)), run.stdout
    if status == 403:
        assert "application/problem+json" in run.stdout


# ---------------------------------------------------------------- a session's age

HOUR = timedelta(hours=1)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Moves the clock of the service on, by so much from the beginning."""
    real, by = timezone.now, [timedelta()]
    monkeypatch.setattr(timezone, "now", lambda: real() + by[0])

    def move(so_much: timedelta) -> None:
        by[0] = so_much

    return move


def is_in(client: FreshClient) -> bool:
    """Whether the client is signed in."""
    return client.get("/account/").status_code == 200


def test_a_session_ends_12_hours_after_its_last_request(house: House, clock: Any) -> None:
    used, left = house.client(Role.FOREMAN), house.client(Role.MANAGER)
    for hours in (6, 12, 18, 24):
        clock(hours * HOUR)
        assert is_in(used), hours
    assert not is_in(left)


def test_a_session_ends_7_days_after_the_sign_in_however_much_it_is_used(house: House, clock: Any) -> None:
    client = house.client(Role.FOREMAN)
    for hours in range(6, 7 * 24, 6):
        clock(hours * HOUR)
        assert is_in(client), hours
    key = client.session.session_key
    clock(7 * 24 * HOUR + timedelta(seconds=5))
    assert not is_in(client)
    assert not Session.objects.filter(session_key=key).exists()
    signed = client.post("/sign-in/", {"email": house.people[Role.FOREMAN].email, "password": PASSWORD})
    assert signed.status_code == 302
    clock((7 * 24 + 11) * HOUR)
    assert is_in(client)  # counted anew


def test_a_session_signed_in_before_its_age_was_counted_is_counted_from_now(house: House) -> None:
    client = house.client(Role.FOREMAN)
    session = client.session
    del session["since"]
    session.save()
    assert is_in(client)
    assert client.session["since"] == pytest.approx(timezone.now().timestamp(), abs=60)


# ---------------------------------------------------------------- a company's settings


def kept(house: House) -> Company:
    """The settings as they are kept."""
    return Company.objects.get(pk=house.company.pk)


def typed(house: House, **fields: str) -> dict[str, str]:
    """The form as it stands, with some fields typed over."""
    company = kept(house)
    given = {name: str(value) for name, value in initial_settings(company).items() if value is not False}
    return {**given, "seen": str(company.version), **fields}


def keep(house: House, **fields: str) -> Any:
    """The administrator keeps the form with some fields typed over."""
    return house.client(Role.ADMINISTRATOR).post("/settings/", typed(house, **fields))


def test_every_setting_stands_on_the_page_once_with_what_a_change_of_it_changes(house: House) -> None:
    shown = [name for group in GROUPS for name in group[3]]
    wanted = {*rules.SETTINGS, *(f"joint_costs.{name}" for name in rules.COSTS)} - {"joint_costs"}
    assert sorted(shown) == sorted(wanted)
    assert set(rules.COSTS) == {
        "stick", "metre", "cut", "thread", "coupler", "running_coupler", "union", "handling",
    }  # fmt: skip
    page = house.client(Role.ADMINISTRATOR).get("/settings/").content.decode()
    assert "Released plans, and what was made to them, stay as they are" in page
    for _name, title, said, fields in GROUPS:
        assert str(title) in page
        assert str(said) in page
        for name in fields:
            assert page.count(f'name="{name}"') == 1, name
    assert judged(page) == []


def test_settings_are_kept_as_typed_and_recorded_with_what_stood_before(house: House) -> None:
    answer = keep(
        house, clearance_mm="4 3/4 in", rules="uk", long_thread_mm="62", currency="eur",
        foreman_sees_money="on", time_zone="Europe/Dublin", **{"joint_costs.coupler": "1.5"},
    )  # fmt: skip
    assert answer.status_code == 302
    company = kept(house)
    assert company.clearance_mm == pytest.approx(120.65)  # 4.75 x 25.4
    assert (company.rules, company.long_thread_mm, company.currency) == ("uk", 62.0, "EUR")
    assert (company.foreman_sees_money, company.time_zone) == (True, "Europe/Dublin")
    assert company.joint_costs == {"coupler": 1.5}
    assert (company.kerf_mm, company.union_gap_mm, company.version) == (2.0, None, 2)
    with house.scope():
        figures = Act.objects.get(act="settings changed").figures
    assert figures["before"] == {
        "clearance_mm": 120.0, "rules": "", "long_thread_mm": None, "currency": "GBP",
        "foreman_sees_money": False, "time_zone": "Europe/London", "joint_costs": {},
    }  # fmt: skip
    assert set(figures["after"]) == set(figures["before"])
    assert keep(house, long_thread_mm="").status_code == 302
    assert kept(house).long_thread_mm is None
    no_box = {name: text for name, text in typed(house).items() if name != "foreman_sees_money"}
    assert house.client(Role.ADMINISTRATOR).post("/settings/", no_box).status_code == 302
    assert kept(house).foreman_sees_money is False


def test_a_length_left_as_it_reads_keeps_its_exact_figure(other_house: House) -> None:
    """120 mm reads 4.7244 in; typed back it would be 119.99976 mm."""
    before = kept(other_house)
    assert keep(other_house, tolerance_deg="1.5").status_code == 302
    after = kept(other_house)
    assert after.tolerance_deg == 1.5
    for name in rules.LENGTHS:
        assert getattr(after, name) == getattr(before, name)
    with other_house.scope():
        assert Act.objects.get(act="settings changed").figures["after"] == {"tolerance_deg": 1.5}


def test_conduit_is_priced_by_the_foot_where_lengths_are_read_in_inches(other_house: House) -> None:
    assert keep(other_house, **{"joint_costs.metre": "0.9144"}).status_code == 302
    assert kept(other_house).joint_costs == {"metre": pytest.approx(3.0)}  # 0.9144 / 0.3048
    page = other_house.client(Role.ADMINISTRATOR).get("/settings/").content.decode()
    assert 'name="joint_costs.metre" value="0.9144"' in page
    assert "each foot of conduit" in page


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("name", " ", "required"),
        ("words", "scots", "not one of the available choices"),
        ("units", "cubit", "not one of the available choices"),
        ("paper", "A0", "not one of the available choices"),
        ("rules", "mars", "not one of the available choices"),
        ("time_zone", "Mars/Olympus", "not one of the available choices"),
        ("currency", "G1P", "three letters are wanted"),
        ("tolerance_deg", "0", "at least 0.1 and at most 10"),
        ("tolerance_deg", "nan", "number"),
        ("risk", "0.9", "at most 0.5"),
        ("tolerance_mm", "51", "is 51 mm; allowed are 0.1 mm to 50 mm"),
        ("clearance_mm", "2.5 m", "is 2500 mm; allowed are 0 mm to 2000 mm"),
        ("clearance_mm", "-1", "is -1 mm; allowed are 0 mm to 2000 mm"),
        ("min_piece_mm", "3001", "allowed are 0 mm to 3000 mm"),
        ("kerf_mm", "21", "allowed are 0 mm to 20 mm"),
        ("least_offcut_mm", "", "required"),
        ("long_thread_mm", "501", "allowed are 0 mm to 500 mm"),
        ("union_gap_mm", "wide", "which is no length"),
        ("joint_costs.union", "-2", "at least 0"),
        ("joint_costs.metre", "1e8", "at most 10000000"),
    ],
)
def test_a_bad_setting_is_told_at_its_field_and_nothing_is_kept(
    house: House, field: str, text: str, said: str
) -> None:
    answer = keep(house, **{"min_piece_mm": "160", field: text})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f'id="id_{field}_error"' in page
    assert said in page
    assert "Nothing is kept yet" in page
    if field != "min_piece_mm":
        assert 'name="min_piece_mm" value="160"' in page  # what was typed stays
    company = kept(house)
    assert (company.min_piece_mm, company.version) == (150.0, 1)
    with house.scope():
        assert not Act.objects.filter(act="settings changed").exists()


def test_bounds_are_told_in_the_units_typed_and_are_themselves_allowed(other_house: House) -> None:
    page = keep(other_house, kerf_mm="1", clearance_mm="80").content.decode()
    assert "is 1 in; allowed are 0 in to 3/4 in" in page  # 20 mm is 0.787 in
    assert "is 80 in; allowed are 0 in to 78 11/16 in" in page  # 2000 mm is 78.74 in
    assert keep(other_house, kerf_mm="3/4", clearance_mm="78 11/16").status_code == 302


def test_the_second_of_two_who_change_settings_is_told_and_overwrites_nothing(house: House) -> None:
    mine = typed(house, clearance_mm="90")
    assert keep(house, clearance_mm="100").status_code == 302
    answer = house.client(Role.ADMINISTRATOR).post("/settings/", mine)
    assert answer.status_code == 422
    assert "Somebody else changed this" in answer.content.decode()
    assert kept(house).clearance_mm == 100.0


def test_released_plans_stay_when_settings_change_and_drafts_follow(scoped: House) -> None:
    plan = release(scoped)
    spec, result = plan.spec, plan.result
    commands.change_settings(
        actor=scoped.administrator, seen=1, clearance_mm=90.0, tolerance_mm=4.0, name="Ostley & Co"
    )
    again = Plan.objects.get(pk=plan.pk)
    assert (again.spec, again.result) == (spec, result)
    run = make_run(scoped, plan.run.room, label="08", former=plan.run.former)
    assert release(scoped, run).spec["joints"]["clearance"] == 90.0


@pytest.mark.parametrize("role", [Role.ELECTRICIAN, Role.FOREMAN, Role.MANAGER])
def test_only_an_administrator_changes_settings(scoped: House, role: str) -> None:
    with pytest.raises(NotAllowed):
        commands.change_settings(actor=scoped.actors[role], seen=1, name="Mine")
    assert kept(scoped).name == "Ostley"


def test_settings_over_the_api_are_in_mm_with_a_version(other_house: House) -> None:
    client = other_house.client(Role.ADMINISTRATOR)
    got = client.get("/api/v1/settings")
    assert got["ETag"] == '"1"'
    assert set(got.json()) == set(rules.SETTINGS)
    assert got.json()["clearance_mm"] == 120.0

    def patch(body: Any, version: str | None = '"1"') -> Any:
        headers = {} if version is None else {"If-Match": version}
        return client.patch("/api/v1/settings", body, content_type="application/json", headers=headers)

    assert patch({"clearance_mm": 90}, None).status_code == 428
    assert patch({"clearance": 90}).status_code == 400
    for body, where in (
        ({"clearance_mm": True}, "clearance_mm"),
        ({"clearance_mm": None}, "clearance_mm"),
        ({"clearance_mm": "90"}, "clearance_mm"),
        ({"foreman_sees_money": 1}, "foreman_sees_money"),
        ({"joint_costs": {"glue": 1}}, "joint_costs.glue"),
        ({"joint_costs": {"cut": "1"}}, "joint_costs.cut"),
        ({"rules": "mars"}, "rules"),
        ({"time_zone": "../etc/passwd"}, "time_zone"),
    ):
        refused = patch(body)
        assert refused.status_code == 422, body
        assert [each["where"] for each in refused.json()["problems"]] == [where]
    done = patch({"clearance_mm": 90, "rules": "", "long_thread_mm": None, "joint_costs": {"cut": 2}})
    assert (done.status_code, done["ETag"]) == (200, '"2"')
    assert patch({"clearance_mm": 95}).status_code == 412
    company = kept(other_house)
    assert (company.clearance_mm, company.joint_costs) == (90.0, {"cut": 2.0})


def test_the_command_names_every_problem_at_once_and_refuses_what_is_no_setting(scoped: House) -> None:
    with pytest.raises(Invalid) as refused:
        commands.change_settings(
            actor=scoped.administrator, seen=1, kerf_mm=-1, units="cubit", next_ledger_number=7
        )
    assert {each.where for each in refused.value.problems} == {"kerf_mm", "units", "next_ledger_number"}
    with pytest.raises(StaleVersion):
        commands.change_settings(actor=scoped.administrator, seen=7, kerf_mm=1)
    assert queries.company_settings(scoped.company.pk).version == 1


def test_the_costs_that_a_company_keeps_are_those_that_the_engine_reads(scoped: House) -> None:
    costs = {name: float(place) for place, name in enumerate(rules.COSTS, 1)}
    company = commands.change_settings(actor=scoped.administrator, seen=1, joint_costs=costs)
    asked = CostsAsked(**company.joint_costs)
    assert [getattr(asked, name) for name in rules.COSTS] == list(costs.values())
