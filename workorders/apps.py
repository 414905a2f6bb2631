"""The app of what is done about it."""

from django.apps import AppConfig


class WorkordersConfig(AppConfig):
    """Work orders."""

    name = "workorders"
    default_auto_field = "django.db.models.BigAutoField"
