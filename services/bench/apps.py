"""The app `bench`."""

from django.apps import AppConfig


class BenchConfig(AppConfig):
    """Benders and their formers."""

    name = "services.bench"
    label = "bench"
