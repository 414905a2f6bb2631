"""Load the demo plant into the present database."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from plantcare.demo.foundation import PASSWORD
from plantcare.demo.load import YEARS, load


class Command(BaseCommand):
    """Load the demo plant unless it is there."""

    help = "Load the invented plant Tarnbeck Biscuit Works with two years of surveys."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the length of the story."""
        parser.add_argument("--days", type=int, default=365 * YEARS, help="how far back the story begins")

    def handle(self, *args: Any, **options: Any) -> None:  # noqa: ARG002 - the framework's signature
        """Load, and say who may log in."""
        loaded = load(now_at=timezone.now(), progress=self._say, days=options["days"])
        if loaded.was_there:
            self._say("the demo plant is there already")
            return
        self._say(f"the demo plant is loaded; every account's password is {PASSWORD}")
        self._say(f"API key for the tour: {loaded.key}")

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()
