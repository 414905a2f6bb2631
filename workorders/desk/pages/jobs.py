"""Scheduled work: what runs by the clock, when it last ran and what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from django.http import HttpRequest, HttpResponse

from findings.plant.access import POLICY
from findings.plant.rules import Right
from plantcare.jobs.queries import age_of_heartbeat, last_runs
from plantcare.jobs.registry import jobs
from workorders.desk.pages.base import DeskPage


class Jobs(DeskPage):
    """Every job with its last run."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.JOBS}
    template = "desk/jobs.html"
    here = "jobs"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show the table."""
        last = last_runs([self.see(code).pk])
        everywhere = POLICY.everywhere(self.actor, Right.JOBS)
        rows = []
        for job in jobs().values():
            run = last.get(job.name)
            rows.append((job, run, run is not None and (run.site_id is not None or everywhere)))
        return self.show(jobs=rows, heartbeat=age_of_heartbeat(self.at))
