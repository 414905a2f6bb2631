"""The back office of people: names and log-ins. Roles are given per site, keys are only looked at."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest

from plantcare.people.models import ApiKey, User


@admin.register(User)
class PersonAdmin(UserAdmin):  # type: ignore[type-arg]
    """People; one who leaves is made inactive, never deleted, because the logbook names them."""

    list_display = ("username", "first_name", "last_name", "is_active", "is_service", "is_superuser")
    list_filter = ("is_active", "is_service", "is_superuser")
    search_fields = ("username", "first_name", "last_name", "email")
    fieldsets = (
        (None, {"fields": ("username", "password")}),
        ("Person", {"fields": ("first_name", "last_name", "email", "unit_system", "is_service")}),
        ("Log-in", {"fields": ("is_active", "is_staff", "is_superuser", "last_login", "date_joined")}),
    )
    readonly_fields = ("last_login", "date_joined")

    def has_module_permission(self, request: HttpRequest) -> bool:
        """Let superusers in: who may write people may make a superuser."""
        return bool(request.user.is_active and request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Let superusers look."""
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Let superusers add people."""
        return self.has_module_permission(request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Let superusers change people."""
        return self.has_module_permission(request)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Refuse: rows are kept."""
        return False


@admin.register(ApiKey)
class KeyAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """Keys: whose, what for, until when. Their owners make and end them."""

    list_display = ("name", "user", "prefix", "expires_at", "revoked_at", "last_used_at")
    list_select_related = ("user",)
    search_fields = ("name", "prefix", "user__username")
    exclude = ("digest",)
    show_full_result_count = False

    def has_module_permission(self, request: HttpRequest) -> bool:
        """Let superusers in."""
        return bool(request.user.is_active and request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Let superusers look."""
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002 - the framework's signature
        """Refuse."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Refuse."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Refuse: rows are kept."""
        return False
