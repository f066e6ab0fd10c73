"""Settings: nothing secret has a default, and production starts only when it was told everything."""

import os
import secrets
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

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
