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
        name="tell_people",
        title="Tell people what is asked of them",
        run="workorders.inbox.actions.tell",
        schedule=Every(seconds=60),
    ),
    Job(
        name="send_mails",
        title="Send the mails that wait",
        run="workorders.inbox.actions.send_mails",
        schedule=Every(seconds=60),
    ),
    Job(
        name="schedule_reinspections",
        title="Ask for the periodic visits of the coming two weeks",
        run="workorders.clocks.actions.schedule_reinspections",
        schedule=Cron(minute="41", hour="2"),
        period="day",
        by_site=True,
    ),
    Job(
        name="close_months",
        title="Close the months that ended three days ago or more",
        run="workorders.statements.actions.close_due_months",
        schedule=Cron(minute="11", hour="*/6"),
        soft_limit_s=840,
        hard_limit_s=900,
    ),
    # Once a month, after its closing; a run that failed is taken up again the next day.
    Job(
        name="book_corrections",
        title="Book what became known of closed months",
        run="workorders.statements.actions.book_corrections",
        schedule=Cron(minute="31", hour="3", day_of_month="5-28"),
        period="month",
        soft_limit_s=840,
        hard_limit_s=900,
    ),
)
