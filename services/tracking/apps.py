"""The app `tracking`."""

from django.apps import AppConfig


class TrackingConfig(AppConfig):
    """Pieces, ticks and the state table: the ledger of what was done."""

    name = "services.tracking"
    label = "tracking"

    def ready(self) -> None:
        """Connects what this app follows."""
        from services.tracking import receivers  # noqa: F401
