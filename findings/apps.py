"""The app of what is there, what was heard and what it means."""

from django.apps import AppConfig


class FindingsConfig(AppConfig):
    """Findings."""

    name = "findings"
    default_auto_field = "django.db.models.BigAutoField"
