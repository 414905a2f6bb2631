"""Jobs for the tests of the jobs' machinery; they act on nothing."""

from __future__ import annotations

import uuid
from typing import Any

from plantcare.jobs.registry import Cron, Every, Job

MADE: list[dict[str, Any]] = []
SITE = uuid.UUID(int=7 << 76 | 1)
OVERSEAS = uuid.UUID(int=7 << 76 | 9)


class OneSite:
    """The part of a policy that jobs ask when nobody named a site."""

    def time_zones(self) -> dict[uuid.UUID, str]:
        return {SITE: "Europe/Berlin", OVERSEAS: "America/Chicago"}

    def all_sites(self) -> list[uuid.UUID]:
        return [SITE]


POLICY = OneSite()

JOBS = (
    Job(name="count", title="Count", run="tests.jobs.declared.count", schedule=Every(seconds=60)),
    Job(
        name="daily",
        title="Once a day",
        run="tests.jobs.declared.count",
        schedule=Cron(minute="5", hour="4"),
        period="day",
    ),
    Job(
        name="nightly",
        title="Each site's night",
        run="tests.jobs.declared.count",
        schedule=Cron(minute="30", hour="2"),
        period="day",
        by_site=True,
        catch_up=3,
    ),
    Job(name="fails", title="Fails", run="tests.jobs.declared.fails"),
    Job(name="inner", title="Housekeeping", run="tests.jobs.declared.count", right=None),
)


def count(**values: Any) -> dict[str, Any]:
    MADE.append(values)
    return {"made": len(MADE)}


def fails(**_: Any) -> None:
    msg = "SELECT secret FROM somewhere"
    raise RuntimeError(msg)
