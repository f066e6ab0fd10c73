"""Writes the drawing of a piece's life, made from the table, to the given file."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from services.tracking.rules import states_page


class Command(BaseCommand):
    """`python manage.py states_page docs/states.md`."""

    help = "Writes the drawing of a piece's life, made from the table."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file to write."""
        parser.add_argument("path", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        """Writes it."""
        options["path"].write_text(states_page(), encoding="utf-8")
