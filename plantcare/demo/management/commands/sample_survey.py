"""Write a sample survey sheet to the standard output."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand
from django.utils import timezone

from plantcare.demo.sample import sample_survey


class Command(BaseCommand):
    """Write the sheet."""

    help = "Write a survey sheet of yesterday at the demo plant, as a technician keeps it (CSV)."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:  # noqa: ARG002 - the framework's signature
        """Write it with the date of yesterday at the plant, so that no time lies ahead."""
        today = timezone.now().astimezone(ZoneInfo("Europe/Berlin")).date()
        self.stdout.write(sample_survey(today - timedelta(days=1)), ending="")
