"""Work one thing out from JSON on the standard input."""

from __future__ import annotations

import json
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from findings.kinds.calculations import CALCULATIONS, InvalidInput, calculate


class Command(BaseCommand):
    """``manage.py calculate NAME < input.json``; without a name it lists the calculations."""

    help = "Work out one calculation; its input is a JSON object on the standard input."
    # It touches no table, so it runs without a database.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the calculation."""
        parser.add_argument("name", nargs="?", choices=sorted(CALCULATIONS), metavar="NAME")
        parser.add_argument("--example", action="store_true", help="print an input that works")

    def handle(self, *_: Any, **options: Any) -> None:
        """Print the result as JSON, or say every place where the input doesn't fit."""
        name = options["name"]
        if name is None:
            for calculation in CALCULATIONS.values():
                self.stdout.write(f"{calculation.name}: {calculation.title}")
            return
        if options["example"]:
            self.stdout.write(json.dumps(dict(CALCULATIONS[name].example), indent=2))
            return
        try:
            result = calculate(name, json.load(sys.stdin))
        except (json.JSONDecodeError, UnicodeDecodeError, RecursionError):
            message = "The standard input is no JSON."
            raise CommandError(message) from None
        except InvalidInput as wrong:
            places = "\n".join(f"{place.pointer or '/'} {place.message}" for place in wrong.problems)
            raise CommandError(places) from None
        self.stdout.write(json.dumps(result, indent=2))
