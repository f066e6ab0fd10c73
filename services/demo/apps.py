"""The app `demo`."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """Invented companies, made through the real commands."""

    name = "services.demo"
    label = "demo"
