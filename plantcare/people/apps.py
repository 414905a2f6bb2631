"""The app of people and keys."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """People."""

    name = "plantcare.people"
    label = "people"
    default_auto_field = "django.db.models.BigAutoField"
