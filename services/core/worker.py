"""The thread that does queued work in the same process, where no Redis or Celery is."""

import logging
import threading
from typing import Final

from django.db import Error, close_old_connections

from services.core.commands import when_queued
from services.core.outbox import relay

log = logging.getLogger("stickbook.worker")

IDLE_SECONDS: Final = 5.0
_wake = threading.Event()
_started = threading.Lock()


def start() -> None:
    """Starts the thread, once a process. It outlives any failure: a database that is away is tried again."""
    if not _started.acquire(blocking=False):
        return
    when_queued(_wake.set)
    threading.Thread(target=_run, name="outbox", daemon=True).start()


def _run() -> None:
    while True:
        _wake.wait(IDLE_SECONDS)
        _wake.clear()
        try:
            while relay():
                pass
        except Error:
            log.warning("the database is away; the outbox waits")
        except Exception:
            log.exception("the outbox thread goes on after an error")
        finally:
            close_old_connections()
