"""The app `planning`."""

from django.apps import AppConfig


class PlanningConfig(AppConfig):
    """Plans, sticks and stick lines; the only app that calls the engine's planner."""

    name = "services.planning"
    label = "planning"

    def ready(self) -> None:
        """Connects what this app follows."""
        from services.planning import receivers  # noqa: F401
