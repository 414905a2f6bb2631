"""Scheduled work: what runs by the clock, when it last ran and what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from django.http import HttpRequest, HttpResponse

from findings.plant.rules import Right
from plantcare.jobs.queries import age_of_heartbeat, last_runs, seen_from
from plantcare.jobs.registry import jobs
from workorders.desk.pages.base import DeskPage


class Jobs(DeskPage):
    """Every job with its last run."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.JOBS}
    template = "desk/jobs.html"
    here = "jobs"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show the table."""
        here = [self.see(code).pk]
        runs = {name: seen_from(run, here) for name, run in last_runs(here).items()}
        rows = [(job, runs.get(job.name)) for job in jobs().values()]
        return self.show(jobs=rows, heartbeat=age_of_heartbeat(self.at))
