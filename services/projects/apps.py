"""The app `projects`."""

from django.apps import AppConfig


class ProjectsConfig(AppConfig):
    """Projects, rooms and runs as measured."""

    name = "services.projects"
    label = "projects"
