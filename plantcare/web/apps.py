"""The app of the base page, the stylesheet and the icons."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Base page."""

    name = "plantcare.web"
    label = "web"
