"""Run the benchmarks and say each ratio beside what is aimed at."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from plantcare.bench.cases import CASES
from plantcare.bench.rounds import compare


class Command(BaseCommand):
    """``manage.py bench [NAME ...]``; without a name it runs all."""

    help = "Compare the service's ways with plain ones in paired rounds; a ratio, never seconds."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the cases and the rounds."""
        parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(CASES)}")
        parser.add_argument("--rounds", type=int, default=25)

    def handle(self, *_: Any, **options: Any) -> None:
        """Run them one after the other."""
        for name in options["names"] or CASES:
            case = CASES[name]
            plain, ours = case.ways()
            found = compare(plain, ours, rounds=options["rounds"])
            verdict = "kept" if found.high <= case.most else "missed"
            self.stdout.write(
                f"{name}: {found.value:.2f} times the plain way "
                f"(95 % {found.low:.2f} to {found.high:.2f}, {found.rounds} rounds), "
                f"aimed at {case.most:g}: {verdict}. {case.about}."
            )
