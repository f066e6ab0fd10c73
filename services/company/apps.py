"""The app `company`."""

from django.apps import AppConfig


class CompanyConfig(AppConfig):
    """Who works, for whom, with which rights."""

    name = "services.company"
    label = "company"

    def ready(self) -> None:
        """Connects what this app follows."""
        from services.company import receivers  # noqa: F401
