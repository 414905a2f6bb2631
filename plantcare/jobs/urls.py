"""Routes of the jobs."""

from __future__ import annotations

from django.urls import path

from plantcare.jobs.api import JobRuns, Jobs

urlpatterns = [
    path("jobs", Jobs.as_view(), name="jobs"),
    path("jobs/<slug:name>/runs", JobRuns.as_view(), name="job-runs"),
]
