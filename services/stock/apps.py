"""The app `stock`."""

from django.apps import AppConfig


class StockConfig(AppConfig):
    """Full lengths, offcuts and their movements."""

    name = "services.stock"
    label = "stock"

    def ready(self) -> None:
        """Connects what this app follows."""
        from services.stock import receivers  # noqa: F401
