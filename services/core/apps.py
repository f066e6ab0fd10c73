"""The app `core`."""

from django.apps import AppConfig


class CoreConfig(AppConfig):
    """What every app stands on."""

    name = "services.core"
    label = "core"
