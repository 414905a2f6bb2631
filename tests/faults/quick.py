"""The service's own jobs, so often that a fault lands in them."""

from plantcare.jobs.registry import Cron, Every, Job

LIMITS = {"soft_limit_s": 30, "hard_limit_s": 40}
EVERY_MINUTE = "schedule_reinspections"
CATCH_UP = 3

JOBS = (
    Job(
        name="open_due_orders",
        title="Open work orders",
        run="workorders.orders.actions.open_due_orders",
        schedule=Every(seconds=1),
        **LIMITS,
    ),
    Job(
        name="judge_repairs",
        title="Judge repairs",
        run="workorders.verification.actions.judge_waiting",
        schedule=Every(seconds=1),
        **LIMITS,
    ),
    Job(
        name="escalate_findings",
        title="Escalate",
        run="workorders.clocks.actions.escalate",
        schedule=Every(seconds=2),
        **LIMITS,
    ),
    Job(
        name=EVERY_MINUTE,
        title="Ask for visits",
        run="workorders.clocks.actions.schedule_reinspections",
        schedule=Cron(),
        period="minute",
        by_site=True,
        catch_up=CATCH_UP,
        **LIMITS,
    ),
)
