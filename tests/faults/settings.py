"""The service's own settings, with the same jobs on a quick schedule and no limit of requests."""

from plantcare.settings import *  # noqa: F403
from plantcare.settings import REST_FRAMEWORK

PLANTCARE_JOBS = ("plantcare.jobs.registry.OWN", "tests.faults.quick.JOBS")
REST_FRAMEWORK = REST_FRAMEWORK | {"DEFAULT_THROTTLE_RATES": {"principal": "1000000/min"}}
