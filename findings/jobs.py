"""The scheduled work of this app, by name."""

from __future__ import annotations

from plantcare.jobs.registry import Every, Job

JOBS = (
    Job(
        name="end_lapsed_deferrals",
        title="End the deferrals whose term is over",
        run="findings.deferrals.actions.end_lapsed",
        schedule=Every(seconds=300),
    ),
    Job(
        name="judge_discharge",
        title="Judge what was read and recorded at electrical equipment",
        run="findings.panels.actions.judge_discharge",
        schedule=Every(seconds=120),
    ),
)
