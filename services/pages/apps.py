"""The app `pages`."""

from django.apps import AppConfig


class PagesConfig(AppConfig):
    """Office screens."""

    name = "services.pages"
    label = "pages"
