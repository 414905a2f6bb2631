"""The app of the invented plant."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """Demo plant."""

    name = "plantcare.demo"
    label = "demo"
