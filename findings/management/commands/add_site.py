"""Make a site and its first manager."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from findings.plant import actions
from plantcare.api.actor import Actor
from plantcare.api.problems import Refusal


class Command(BaseCommand):
    """``manage.py add_site --code TBW --name … --zone Europe/Berlin --currency EUR --manager NAME``."""

    help = "Make a site; the person named becomes its first manager and can name the others."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name what a site needs."""
        parser.add_argument("--code", required=True, help="short and unique, like TBW")
        parser.add_argument("--name", required=True)
        parser.add_argument("--zone", required=True, help="of the tz database, like Europe/Berlin")
        parser.add_argument("--currency", required=True, help="ISO 4217, like EUR; it stays for ever")
        parser.add_argument("--manager", required=True, metavar="USERNAME")
        parser.add_argument("--units", choices=("metric", "us"), default="metric")
        parser.add_argument("--atmosphere-pa", type=float, default=101_325.0)

    def handle(self, *_: Any, **options: Any) -> None:
        """Make it, or say why not."""
        try:
            site = actions.add_site(
                actor=Actor.job("add_site"),
                at=timezone.now(),
                code=options["code"],
                name=options["name"],
                time_zone=options["zone"],
                currency=options["currency"],
                unit_system=options["units"],
                atmosphere_pa=options["atmosphere_pa"],
                manager_user_id=actions.person_named(options["manager"], "--manager"),
            )
        except Refusal as refusal:
            raise CommandError(refusal.detail) from None
        self.stdout.write(f"{site.code} is there; {options['manager']} is its manager. Its id is {site.pk}.")
