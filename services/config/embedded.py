"""The service on one machine with nothing set: where its data lies, and its secret key, made once."""

import os
import secrets
from pathlib import Path
from typing import Final

HOME: Final = Path(__file__).resolve().parents[2] / ".stickbook"


def prepare() -> None:
    """Fills in the environment of the embedded service, where nothing else was said. Safe to call again."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "services.config.settings")
    if os.environ.setdefault("STICKBOOK_MODE", "embedded") != "embedded":
        return
    home = Path(os.environ.setdefault("STICKBOOK_HOME", str(HOME)))
    home.mkdir(mode=0o700, parents=True, exist_ok=True)
    os.environ.setdefault("STICKBOOK_DATABASE_URL", f"sqlite:///{home / 'stickbook.sqlite3'}")
    if "STICKBOOK_SECRET_KEY" not in os.environ:
        os.environ["STICKBOOK_SECRET_KEY"] = _key(home / "secret-key")


def _key(path: Path) -> str:
    try:
        # Made whole or not at all: of two that start at once, one makes it and both read the same.
        fresh = path.with_name(f"{path.name}.{os.getpid()}")
        fresh.write_text(secrets.token_urlsafe(64), encoding="ascii")
        fresh.chmod(0o600)
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        fresh.unlink(missing_ok=True)
    return path.read_text(encoding="ascii").strip()
