"""The scheduled work of this app, by name."""

from __future__ import annotations

from plantcare.jobs.registry import Cron, Every, Job

JOBS = (
    Job(
        name="end_lapsed_deferrals",
        title="End the deferrals whose term is over",
        run="findings.deferrals.actions.end_lapsed",
        schedule=Every(seconds=300),
    ),
    # Asked for at every upload; the schedule finds what was lost on the way. Not to be started by hand: what
    # decodes a stranger's file runs in the worker, never in a web process.
    Job(
        name="analyse_recordings",
        title="Hear recordings that wait",
        run="findings.recordings.actions.analyse_waiting",
        run_for_one="findings.recordings.actions.analyse_recording",
        then=("judge_wear_recordings", "judge_discharge"),
        right=None,
        schedule=Every(seconds=120),
    ),
    Job(
        name="judge_wear_recordings",
        title="Judge the recordings of bearings and gears",
        run="findings.register.actions.judge_wear_recordings",
        schedule=Every(seconds=300),
    ),
    Job(
        name="sweep_recording_files",
        title="Delete stored files that no recording names",
        run="findings.recordings.actions.sweep_files",
        right=None,
        schedule=Cron(minute="47", hour="3"),
        period="day",
    ),
    Job(
        name="judge_discharge",
        title="Judge what was read and recorded at electrical equipment",
        run="findings.panels.actions.judge_discharge",
        schedule=Every(seconds=120),
    ),
)
