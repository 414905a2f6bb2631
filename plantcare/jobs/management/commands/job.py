"""Run one job from the command line: python manage.py job NAME [--at 2026-03-01T06:00:00Z]."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job
from plantcare.jobs.models import JobRun
from plantcare.jobs.queries import seen_from
from plantcare.jobs.registry import jobs

HOW = "--at takes a moment with its offset, like 2026-03-01T06:00:00Z"


class Command(BaseCommand):
    """Run a job now, for all sites."""

    help = "Run a job now, for all sites; without a name, list the jobs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the name and the moment."""
        parser.add_argument("name", nargs="?")
        parser.add_argument("--at", help="the moment it acts for, with offset (default: now)")

    def handle(self, *_: Any, name: str | None = None, at: str | None = None, **__: Any) -> None:
        """Run the job and print its record."""
        if name not in jobs():
            if name:
                msg = f"no job is named {name}; known: {', '.join(sorted(jobs()))}"
                raise CommandError(msg)
            for job in jobs().values():
                self.stdout.write(f"{job.name:32} {job.title}")
            return
        run = seen_from(run_job(name=name, actor=Actor.job(name), at=_moment(at)), None)
        self.stdout.write(f"{run.outcome} {json.dumps(run.result)} {run.error}".rstrip())
        if run.outcome == JobRun.Outcome.FAILED:
            msg = f"{name} failed: {run.error}"
            raise CommandError(msg)


def _moment(text: str | None) -> datetime:
    if text is None:
        return timezone.now()
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise CommandError(HOW) from None
    if moment.tzinfo is None:
        raise CommandError(HOW)
    return moment
