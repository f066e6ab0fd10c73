"""The app `core`."""

from django.apps import AppConfig


class CoreConfig(AppConfig):
    """What every app stands on."""

    name = "services.core"
    label = "core"

    def ready(self) -> None:
        """Names the tasks."""
        from services.core import tasks  # noqa: F401 - importing registers
