"""Serves the embedded service: one process with its worker thread, over a database brought up to date
first."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand, CommandParser
from django.db import connections
from gunicorn.app.base import BaseApplication


class Command(BaseCommand):
    """`manage.py serve`: until it is told to stop (SIGTERM, or Ctrl-C); then it ends what is running and
    stops."""

    help = "Brings the database up to date and serves on this machine, until stopped."

    def add_arguments(self, parser: CommandParser) -> None:
        """Where, and how many at once."""
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (127.0.0.1)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000)")
        parser.add_argument("--threads", type=int, default=8, help="requests answered at once (8)")

    def handle(self, *, host: str, port: int, threads: int, **options: Any) -> None:
        """Returns when stopped."""
        if settings.PRODUCTION:
            raise CommandError(
                "This serves the embedded service. In production a web server calls services.config.wsgi."
            )
        if not (0 <= port <= 65535 and 1 <= threads <= 100):
            raise CommandError("A port is 0 to 65535, threads are 1 to 100.")
        call_command("migrate", interactive=False, verbosity=0)
        connections.close_all()  # the server forks, and no connection outlives that

        def told(server: Any) -> None:
            for listener in server.LISTENERS:
                name, bound = listener.getsockname()[:2]
                self.stdout.write(f"Stickbook is at http://{name}:{bound}/ (Ctrl-C stops it)")
                self.stdout.flush()

        _Server(f"{host}:{port}", threads, told).run()


class _Server(BaseApplication):  # type: ignore[misc, unused-ignore]
    def __init__(self, bind: str, threads: int, told: Callable[[Any], None]) -> None:
        self._wanted = {
            "bind": bind,
            "workers": 1,  # SQLite has one writer, and the outbox thread of one process is enough
            "worker_class": "gthread",
            "threads": threads,
            "timeout": 60,
            "graceful_timeout": 30,
            "loglevel": "warning",
            "control_socket_disable": True,
            "when_ready": told,
        }
        super().__init__()

    def load_config(self) -> None:
        """Ours alone: no file, no environment."""
        for name, value in self._wanted.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        """Called in the worker, so that its threads are started there."""
        from django.utils.module_loading import import_string

        return import_string(settings.WSGI_APPLICATION)
