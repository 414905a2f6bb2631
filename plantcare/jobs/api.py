"""Doors of the jobs: what there is, when it last ran, run it now for the caller's sites."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from plantcare.api import filtering, shapes
from plantcare.api.policy import access_policy
from plantcare.api.problems import Forbidden
from plantcare.api.views import ActDoor, Door, ListDoor
from plantcare.jobs import actions, queries
from plantcare.jobs.registry import job_named, jobs
from plantcare.jobs.standing import parked, standings


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
    """A job, its last run, and how it stands on the caller's sites."""

    name = shapes.TextField()
    title = shapes.TextField()
    last_run = RunShape(allow_null=True)
    last_success_at = shapes.AwareDateTimeField(
        allow_null=True, help_text="When a scheduled run last succeeded."
    )
    next_due_at = shapes.AwareDateTimeField(allow_null=True)
    failures_in_a_row = shapes.IntegerField(help_text="Failed scheduled runs since the last success.")
    lag_s = shapes.FloatField(allow_null=True, help_text="How late the last scheduled run began.")
    duration_s = shapes.FloatField(allow_null=True, help_text="How long the last successful run took.")
    parked = shapes.IntegerField(help_text="Things that it leaves alone after failures.")


STANDING = {
    "last_success_at": None,
    "next_due_at": None,
    "failures_in_a_row": 0,
    "lag_s": None,
    "duration_s": None,
    "parked": 0,
}
"""What is told of how a job stands, and what of one without a schedule."""


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
        known = {one.job.name: one for one in standings(list(jobs().values()), self.at, sites)}
        offered = [
            {
                "name": job.name,
                "title": job.title,
                "last_run": queries.seen_from(last[job.name], sites) if job.name in last else None,
                **{name: getattr(known.get(job.name), name, empty) for name, empty in STANDING.items()},
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


class ParkedItemShape(shapes.Shape):
    """One thing that a job could not do, and why."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    job = shapes.TextField()
    item_id = shapes.UuidField(help_text="The finding, deferral or measuring point that it is about.")
    failures = shapes.IntegerField()
    reason = shapes.TextField()
    first_at = shapes.AwareDateTimeField()
    last_at = shapes.AwareDateTimeField()
    parked_at = shapes.AwareDateTimeField(allow_null=True)


class ParkedItemFilters(filtering.StrictFilterSet):
    """Narrow the list of what is parked."""

    site_id = filtering.UuidFilter()
    job = filtering.CodeFilter()


class ParkedItems(ListDoor):
    """What jobs leave alone because it failed again and again; the rest of their work goes on."""

    noun, room = "parked_item", "jobs"
    refuses_outsiders = True
    needs = {"GET": "jobs"}
    shape, filterset_class = ParkedItemShape, ParkedItemFilters
    orderings = {"-last_at": ("-last_at", "-id"), "last_at": ("last_at", "id")}

    def rows(self) -> QuerySet[Any]:
        """Return all that is parked."""
        return parked()


class ParkedItemRelease(ActDoor):
    """POST to take it up again with the next run."""

    operation, room = "parked_item_release", "jobs"
    needs = {"POST": "jobs"}
    shape = ParkedItemShape
    if_match = "ignored"  # it has no version: letting go twice is harmless

    def rows(self) -> QuerySet[Any]:
        """Return all that is parked."""
        return parked()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:  # noqa: ARG002 - nothing is to be said
        """Let it go."""
        return actions.let_go(stumble_id=obj.pk, site_ids=[obj.site_id])
