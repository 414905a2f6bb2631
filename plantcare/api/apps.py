"""The app of the web plumbing."""

from django.apps import AppConfig
from django.core.checks import register

from plantcare.api.checks import every_door_declares_its_needs, the_secret_key_is_kept


class ApiConfig(AppConfig):
    """Problems, idempotency, pages, schema: no trade word."""

    name = "plantcare.api"
    label = "api"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the checks that no door is open by oversight and that the key is kept."""
        register(every_door_declares_its_needs)
        register(the_secret_key_is_kept, deploy=True)
