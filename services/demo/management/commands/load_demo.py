"""Loads the invented companies into an empty database, and says who can sign in."""

import os
import secrets
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management import CommandError
from django.core.management.base import BaseCommand, CommandParser
from django.db import transaction

from services.company.models import Company, User
from services.demo import season

WORDS: Final = [
    "amber",
    "anvil",
    "birch",
    "brisk",
    "candle",
    "cedar",
    "copper",
    "delta",
    "ember",
    "fathom",
    "gable",
    "hazel",
    "heron",
    "indigo",
    "juniper",
    "kettle",
    "lantern",
    "lichen",
    "mallow",
    "marble",
    "nettle",
    "ochre",
    "orchard",
    "pebble",
    "quarry",
    "quill",
    "raven",
    "russet",
    "saddle",
    "silver",
    "tallow",
    "timber",
    "umber",
    "velvet",
    "walnut",
    "willow",
    "yarrow",
    "zephyr",
]
"""Four of 38 make two million passwords: enough where guessing is slowed and the machine is one's own."""


class Command(BaseCommand):
    """`manage.py load_demo`."""

    help = "Loads two invented companies into an empty database and prints who can sign in."

    def add_arguments(self, parser: CommandParser) -> None:
        """What a script wants."""
        parser.add_argument("--address", default="http://127.0.0.1:8000/", help="where the service will be")
        parser.add_argument("--password", help="of everybody; made up if not told, at least 12 characters")
        parser.add_argument("--seed", type=int, default=season.SEED, help="another seed, other lengths")
        parser.add_argument(
            "--if-empty", action="store_true", help="do nothing, and succeed, where there is data"
        )

    def handle(self, **options: Any) -> None:
        """All of it or nothing."""
        if settings.PRODUCTION:
            raise CommandError("The demo is not loaded into a service in production.")
        password = options["password"] or "-".join(secrets.choice(WORDS) for _ in range(4))
        if len(password) < 12:
            raise CommandError("A password has at least 12 characters.")
        with transaction.atomic():
            if Company.objects.exists() or User.objects.exists():
                if options["if_empty"]:
                    return
                raise CommandError(
                    "This database holds data already; the demo is loaded only into an empty one."
                )
            sign_ins = season.load(password, seed=options["seed"])
        told = self._told(sign_ins, password, options["address"])
        self.stdout.write(told)
        home = os.environ.get("STICKBOOK_HOME")
        if home:
            kept = Path(home) / "demo-sign-ins.txt"
            kept.touch(mode=0o600)
            kept.write_text(told + "\n", encoding="utf-8")
            self.stdout.write(f"This is kept in {kept}.")

    def _told(self, sign_ins: list[season.SignIn], password: str, address: str) -> str:
        lines = [f"Sign in at {address} with the password {password}"]
        company = ""
        for each in sign_ins:
            if each.company != company:
                company = each.company
                lines.append(company)
            lines.append(f"  {each.role:14} {each.email:28} {each.name}")
        return "\n".join(lines)
