"""Operations: what runs by the clock, how each job stands, and what was parked after it failed too often."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import ClassVar

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from findings.plant.rules import Right
from plantcare.jobs.actions import let_go
from plantcare.jobs.queries import age_of_heartbeat, last_runs, seen_from
from plantcare.jobs.registry import jobs
from plantcare.jobs.standing import parked, standings
from workorders.desk.pages.base import DeskPage

MOST_PARKED = 100


class Jobs(DeskPage):
    """Every job with its last run and its standing, and what is parked."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.JOBS}
    template = "desk/jobs.html"
    here = "jobs"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show the table."""
        here = [self.see(code).pk]
        declared = jobs()
        runs = {name: seen_from(run, here) for name, run in last_runs(here).items()}
        known = {one.job.name: one for one in standings(list(declared.values()), self.at, here)}
        rows = [(job, runs.get(job.name), known.get(job.name)) for job in declared.values()]
        left = [(one, declared.get(one.job)) for one in parked(here).order_by("-last_at", "id")[:MOST_PARKED]]
        return self.show(jobs=rows, parked=left, heartbeat=age_of_heartbeat(self.at))


class ParkedTakenUp(DeskPage):
    """Take a parked thing up again with the job's next run."""

    needs: ClassVar[Mapping[str, str]] = {"POST": Right.JOBS}
    http_method_names = ["post", "options"]

    def post(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Let it go and come back to the table."""
        self.seen(parked(self.site_ids()).filter(pk=id).first())
        let_go(stumble_id=id, site_ids=[self.site.pk])
        return redirect("desk_jobs", code=self.site.code)
