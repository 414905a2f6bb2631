"""The scheduled work of this app, by name."""

from __future__ import annotations

from plantcare.jobs.registry import Cron, Every, Job

JOBS = (
    Job(
        name="open_due_orders",
        title="Open work orders for findings that deserve one",
        run="workorders.orders.actions.open_due_orders",
        schedule=Every(seconds=300),
    ),
    Job(
        name="judge_repairs",
        title="Judge repairs by the readings after them, and let orders follow",
        run="workorders.verification.actions.judge_waiting",
        schedule=Every(seconds=120),
    ),
    Job(
        name="escalate_findings",
        title="Tell the next person that a finding is ageing",
        run="workorders.clocks.actions.escalate",
        schedule=Every(seconds=900),
    ),
    Job(
        name="schedule_reinspections",
        title="Ask for the periodic visits of the coming two weeks",
        run="workorders.clocks.actions.schedule_reinspections",
        schedule=Cron(minute="41", hour="2"),
    ),
)
