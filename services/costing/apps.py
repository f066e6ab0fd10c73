"""The app `costing`."""

from django.apps import AppConfig


class CostingConfig(AppConfig):
    """Prices and cost entries: what material and scrap cost, and why."""

    name = "services.costing"
    label = "costing"

    def ready(self) -> None:
        """Connects what this app follows."""
        from services.costing import receivers  # noqa: F401
