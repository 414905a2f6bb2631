"""What every test stands on. Things come from tests/makers.py, people from tests/people.py."""

import shutil

from django.conf import settings as django_settings
from hypothesis import HealthCheck, settings

# How long an example takes says what else the machine is doing, nothing about the code: no test asks it.
settings.register_profile("plantcare", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("plantcare")


def pytest_unconfigure() -> None:
    """Take the folder of recordings away that the settings made for this run."""
    shutil.rmtree(django_settings.RECORDINGS_DIR, ignore_errors=True)
