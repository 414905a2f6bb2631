"""Routes of the jobs."""

from __future__ import annotations

from django.urls import path

from plantcare.jobs.api import JobRuns, Jobs, ParkedItemRelease, ParkedItems

urlpatterns = [
    path("jobs", Jobs.as_view(), name="jobs"),
    path("jobs/<slug:name>/runs", JobRuns.as_view(), name="job-runs"),
    path("parked-items", ParkedItems.as_view(), name="parked-items"),
    path("parked-items/<uuid:id>/release", ParkedItemRelease.as_view(), name="parked-item-release"),
]
