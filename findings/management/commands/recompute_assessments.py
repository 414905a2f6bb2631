"""Compute the assessments that open findings rest on once more, and tell which differ today."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from findings.kinds.recomputing import Outcome
from findings.plant import queries as plant
from findings.register import queries

QUIET = frozenset({Outcome.SAME, Outcome.NOT_COMPUTABLE})


class Command(BaseCommand):
    """``manage.py recompute_assessments SITE``; nothing is written."""

    help = "Tell which assessments of a site's open findings give another result today."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the site."""
        parser.add_argument("site", metavar="SITE", help="the site's code")

    def handle(self, *_: Any, **options: Any) -> None:
        """Print one line for each that differs, then how many came to what."""
        code = options["site"]
        if not plant.sites().filter(code=code).exists():
            message = f"No site has the code {code[:40]}."
            raise CommandError(message)
        counts: Counter[Outcome] = Counter()
        for assessment in queries.shown_assessments().filter(site__code=code).iterator(chunk_size=500):
            found = queries.recomputed(assessment).comparison
            counts[found.outcome] += 1
            if found.outcome not in QUIET:
                told = " ".join(reason.text for reason in found.differences)
                self.stdout.write(f"{assessment.finding}: {told}")
        told = ", ".join(f"{counts[outcome]} {outcome.replace('_', ' ')}" for outcome in Outcome)
        self.stdout.write(f"{sum(counts.values())} computed again: {told}.")
