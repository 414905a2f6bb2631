"""The app of scheduled work."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    """What runs by the clock, and what became of it."""

    name = "plantcare.jobs"
    label = "jobs"
    default_auto_field = "django.db.models.BigAutoField"
