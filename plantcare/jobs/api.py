"""Doors of the jobs: what there is, when it last ran, run it now for the caller's sites."""

from __future__ import annotations

from typing import Any

from rest_framework.response import Response

from plantcare.api import shapes
from plantcare.api.policy import access_policy
from plantcare.api.problems import Forbidden
from plantcare.api.views import Door
from plantcare.jobs import actions, queries
from plantcare.jobs.registry import job_named, jobs


class RunShape(shapes.Shape):
    """A run, with what it did on the caller's sites and why it failed there."""

    id = shapes.UuidField()
    job = shapes.TextField()
    period = shapes.TextField()
    outcome = shapes.ChoiceField(choices=["running", "done", "failed", "skipped"])
    started_at = shapes.AwareDateTimeField()
    ended_at = shapes.AwareDateTimeField(allow_null=True)
    result = shapes.JsonObjectField()
    error = shapes.TextField()


class JobShape(shapes.Shape):
    """A job and its last run."""

    name = shapes.TextField()
    title = shapes.TextField()
    last_run = RunShape(allow_null=True)


class JobListShape(shapes.Shape):
    """All jobs that a caller can start."""

    results = JobShape(many=True)


class RunInput(shapes.InputShape):
    """Where to run; without a site, on every site on which the caller may."""

    site_id = shapes.UuidField(required=False)


class Jobs(Door):
    """GET the jobs that can be started by hand."""

    noun, room = "job", "jobs"
    verbs = {"GET": "list"}
    needs = {"GET": "jobs"}
    site_field = None
    shape = JobListShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer every job with its last run."""
        self.allow(None)
        sites = access_policy().sites(self.actor, self.right)
        last = queries.last_runs(sites)
        offered = [
            {
                "name": job.name,
                "title": job.title,
                "last_run": queries.seen_from(last[job.name], sites) if job.name in last else None,
            }
            for job in jobs().values()
            if job.right is not None
        ]
        return self.answer({"results": offered})


class JobRuns(Door):
    """POST a run: the job acts on the caller's sites only. Running it twice is harmless."""

    operation, room = "job_run", "jobs"
    needs = {"POST": "jobs"}
    site_field = None
    shape, input_shape = RunShape, RunInput
    # The job keeps its own transactions, so its answer can't be kept in one with its effect.
    replayable = False

    def post(self, *_: Any, **__: Any) -> Response:
        """Run it and answer the record."""
        job = job_named(self.kwargs["name"])
        data = self.take()
        self.clear(data)
        if job.right is None:
            raise Forbidden
        allowed = access_policy().sites(self.actor, job.right)
        site_ids = [data["site_id"]] if "site_id" in data else allowed
        if allowed is not None and not set(site_ids or []) <= set(allowed):
            raise Forbidden
        run = actions.run_job(name=job.name, actor=self.actor, at=self.at, site_ids=site_ids)
        return self.answer(queries.seen_from(run, site_ids))
