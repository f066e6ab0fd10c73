"""What every test of the service stands on: its settings, its database, and two companies that must not meet.

SQLite in a file by default; STICKBOOK_TEST_DATABASE_URL=postgres://user@host:port/name takes PostgreSQL
instead.
"""

import os
import secrets
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

# Helper modules of these tests are imported by name (`from factories import ...`); see tests/conftest.py.
sys.path.insert(0, str(Path(__file__).parent))

# Said, not defaulted: whatever the shell was set up for, tests never touch its database.
_home = tempfile.TemporaryDirectory(prefix="stickbook-tests-")
os.environ["DJANGO_SETTINGS_MODULE"] = "services.config.settings"
os.environ["STICKBOOK_MODE"] = "test"
os.environ["STICKBOOK_SECRET_KEY"] = secrets.token_urlsafe(64)
os.environ["STICKBOOK_DATABASE_URL"] = (
    os.environ.get("STICKBOOK_TEST_DATABASE_URL") or f"sqlite:///{_home.name}/stickbook.sqlite3"
)

# The driver of the browser tests keeps an event loop in its process; when they run in the same one, Django
# would take every query for one of an async view. Nothing of the service is async.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

import django  # noqa: E402 - the environment comes first

django.setup()

from factories import House, another_house, our_house  # noqa: E402

from services.core import faults  # noqa: E402


@pytest.fixture(scope="session", autouse=True)
def _database_only_on_request(django_db_blocker: object) -> Iterator[None]:
    """A test that does not ask for the database cannot reach it, in whatever order this folder was
    collected."""
    with django_db_blocker.block():  # type: ignore[attr-defined]
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings() -> None:
    """Each process has a test database of its own, so that two runs at once do not meet."""
    from django.conf import settings

    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        # A file, not memory: threads of one test then meet each other's locks as two processes would.
        database.setdefault("TEST", {})["NAME"] = f"{_home.name}/test.sqlite3"
    else:
        database.setdefault("TEST", {})["NAME"] = f"test_stickbook_{os.getpid()}"


@pytest.fixture(autouse=True)
def _no_fault_left_armed() -> Iterator[None]:
    yield
    faults.disarm()


@pytest.fixture
def house(db: None) -> House:
    """Our company with a person in each role and a crew; no scope is active."""
    return our_house()


@pytest.fixture
def other_house(db: None) -> House:
    """Another company, built alike: nothing of it may ever be seen or moved from ours."""
    return another_house()


@pytest.fixture
def scoped(house: House) -> Iterator[House]:
    """Our company with its scope active, for tests that call commands and queries themselves."""
    with house.scope():
        yield house
