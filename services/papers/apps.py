"""The app `papers`."""

from django.apps import AppConfig


class PapersConfig(AppConfig):
    """Papers: bend cards, lists, labels; packs of them, drawn in the background."""

    name = "services.papers"
    label = "papers"

    def ready(self) -> None:
        """Names the tasks."""
        from services.papers import tasks  # noqa: F401 - importing registers
