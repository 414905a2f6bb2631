"""The jobs' machinery with jobs that act on nothing."""

from __future__ import annotations

from typing import Any

import pytest

from tests.jobs import declared


@pytest.fixture(autouse=True)
def declared_jobs(settings: Any) -> list[dict[str, Any]]:
    settings.PLANTCARE_JOBS = ("tests.jobs.declared.JOBS", "plantcare.jobs.registry.OWN")
    settings.PLANTCARE_ACCESS_POLICY = "tests.jobs.declared.POLICY"
    declared.MADE.clear()
    return declared.MADE
