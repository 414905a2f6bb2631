"""Load the demo plant into the present database."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from plantcare.demo.foundation import PASSWORD
from plantcare.demo.layout import MILL_PEOPLE, PEOPLE
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
        self._say("the demo plant is there already" if loaded.was_there else "the demo plant is loaded")
        self._say("")  # the launcher shows what follows last, beside the address
        for line in _who_and_what(loaded.key):
            self._say(line)

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _who_and_what(key: str) -> Iterator[str]:
    """Yield who may log in and what to try first."""
    yield f"Log in as one of these; the password of all is {PASSWORD}"
    for site, people in (("Tarnbeck Biscuit Works", PEOPLE), ("Corran Mill", MILL_PEOPLE)):
        for username, _, _, role in people:
            yield f"  {username:<16}{role:<12}{site}"
    if key:
        yield f"API key of the manager (told once): {key}"
    yield "Try first: as marta.lindner what the plant loses and saved; as petra.kern which repair comes next;"
    yield "as tomas.weiss today's orders; as ines.falk the next walk. The API to try out is at /api/docs/."
