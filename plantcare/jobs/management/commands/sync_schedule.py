"""Write the declared schedules into beat's tables; run it after migrate."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from plantcare.jobs.registry import jobs
from plantcare.jobs.schedule import sync_schedule


class Command(BaseCommand):
    """Make beat's schedule agree with the code."""

    help = "Write the schedules declared in code into beat's tables."

    def handle(self, *_: Any, **__: Any) -> None:
        """Sync and say what changed."""
        counts = sync_schedule(jobs().values())
        self.stdout.write(f"{counts['kept']} scheduled, {counts['removed']} removed")
