"""The back office of the register, for superusers only.

What may be edited goes through the same acts as everywhere else, with their checks and their logbook
entry; facts and states can be looked at and not touched; nothing can be deleted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import admin, messages
from django.db.models import ForeignKey, Model, QuerySet
from django.http import HttpRequest, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.utils import timezone

from findings.deferrals.models import Deferral
from findings.detectors import actions as detectors
from findings.detectors.models import Instrument
from findings.logbook.models import Entry
from findings.losses.models import LossSegment
from findings.plant import actions as plant
from findings.plant.models import Area, Asset, MeasuringPoint, Membership, Site
from findings.readings.models import Reading
from findings.register.models import Finding
from findings.routes import actions as routes
from findings.routes.models import Route, VisitRequest
from findings.supply import actions as supply
from findings.supply.models import Compressor, Connection, DatedValue, SupplySystem
from findings.surveys.models import Survey
from plantcare.api.actor import actor_of
from plantcare.api.problems import Refusal

admin.site.site_header = "Plantcare, back office"
admin.site.site_title = "Plantcare"


class SeenForm(forms.ModelForm):  # type: ignore[type-arg]
    """Remembers the version that was on the screen, so that nobody overwrites somebody else's change."""

    seen_version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["seen_version"].initial = getattr(self.instance, "version", None)


class ReadOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Rows to look at. Nobody holds a role at every site, so only superusers see all of them."""

    show_full_result_count = False
    list_per_page = 50

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


class Acted(ReadOnly):
    """Rows that are made, and perhaps changed, by the room's own acts."""

    form = SeenForm
    add: Callable[..., Any] | None = None
    change: Callable[..., Any] | None = None
    subject = ""  # the act's name for the row's id
    new_members: tuple[str, ...] = ()
    members: tuple[str, ...] = ()

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Let superusers add where there is an act for it."""
        return self.add is not None and self.has_module_permission(request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:  # noqa: ARG002
        """Let superusers change where there is an act for it."""
        return self.change is not None and self.has_module_permission(request)

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:  # noqa: ARG002
        """Return what can be said about a new row, or everything about an old one."""
        if obj is None:
            return list(self.new_members)
        shown = [*self.members, *(name for name in self._columns() if name not in self.members)]
        return [*shown, "seen_version"] if self.members else shown

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:  # noqa: ARG002
        """Return what no act changes."""
        return [] if obj is None else [name for name in self._columns() if name not in self.members]

    def save_model(self, request: Any, obj: Any, form: Any, change: Any) -> None:
        """Call the act in place of writing the row."""
        by: dict[str, Any] = {"actor": actor_of(request), "at": timezone.now()}
        if change:
            seen = form.cleaned_data.get("seen_version")
            values = self._values(form, [name for name in self.members if name in form.changed_data])
            row = type(self).change(**by, **{self.subject: obj.pk}, version=seen, **values)  # type: ignore[misc]
        else:
            row = type(self).add(**by, **self._values(form, self.new_members))  # type: ignore[misc]
        obj.__dict__.update(row.__dict__)

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Say why an act was refused, and show the row as it is."""
        try:
            response: HttpResponseBase = super().changeform_view(request, *args, **kwargs)
        except Refusal as refusal:
            why = "; ".join(f"{e.pointer.lstrip('/')}: {e.detail}" for e in refusal.errors)
            self.message_user(request, f"{refusal.detail} {why}".strip(), messages.ERROR)
            return HttpResponseRedirect(request.get_full_path())
        return response

    def _columns(self) -> list[str]:
        return [field.name for field in self.opts.fields if field.name != "id"]

    def _values(self, form: Any, names: Any) -> dict[str, Any]:
        values = {}
        for name in names:
            value = form.cleaned_data.get(name)
            if isinstance(self.opts.get_field(name), ForeignKey):
                values[f"{name}_id"] = value.pk if isinstance(value, Model) else None
            else:
                values[name] = value
        return values


@admin.register(Site)
class SiteAdmin(Acted):
    """Sites; whoever adds one becomes its first manager."""

    add, change, subject = plant.add_site, plant.change_site, "site_id"
    new_members = ("code", "name", "time_zone", "currency", "unit_system", "atmosphere_pa")
    members = ("name", "time_zone", "unit_system", "atmosphere_pa")
    list_display = ("code", "name", "time_zone", "currency")
    search_fields = ("code", "name")


@admin.register(Membership)
class MembershipAdmin(Acted):
    """Who works where."""

    add = plant.add_membership
    new_members = ("site", "user", "role")
    list_display = ("site", "user", "role", "since_at", "ended_at")
    list_filter = ("role",)
    list_select_related = ("site", "user")
    search_fields = ("user__username", "site__code")
    autocomplete_fields = ("site",)
    raw_id_fields = ("user",)
    actions = ("end",)

    @admin.action(description="End the chosen memberships", permissions=["view"])
    def end(self, request: HttpRequest, chosen: QuerySet[Membership]) -> None:
        """End memberships one by one; one that cannot end does not keep the others."""
        for membership in chosen:
            try:
                plant.end_membership(actor=actor_of(request), at=timezone.now(), membership_id=membership.pk)
            except Refusal as refusal:
                self.message_user(request, f"{membership}: {refusal.detail}", messages.ERROR)


@admin.register(Area)
class AreaAdmin(Acted):
    """Areas."""

    add, change, subject = plant.add_area, plant.change_area, "area_id"
    new_members = ("site", "code", "name")
    members = ("code", "name")
    list_display = ("code", "name", "site")
    list_select_related = ("site",)
    search_fields = ("code", "name")
    autocomplete_fields = ("site",)


@admin.register(Asset)
class AssetAdmin(Acted):
    """Assets. Taking one out of service has consequences below it and is done at the asset's own page."""

    add, change, subject = plant.add_asset, plant.change_asset, "asset_id"
    members = (
        "code",
        "name",
        "area",
        "parent",
        "asset_class",
        "criticality",
        "running_windows",
        "access_restrictions",
    )
    new_members = ("site", *members)
    list_display = ("code", "name", "site", "area", "criticality", "decommissioned_at")
    list_filter = ("criticality",)
    list_select_related = ("site", "area")
    search_fields = ("code", "name")
    autocomplete_fields = ("site", "area", "parent")


@admin.register(MeasuringPoint)
class PointAdmin(Acted):
    """Measuring points."""

    add, change, subject = plant.add_point, plant.change_point, "point_id"
    new_members = ("site", "asset", "code", "name", "method", "medium")
    members = ("code", "name", "method", "medium")
    list_display = ("code", "name", "asset", "method", "medium", "retired_at")
    list_filter = ("method",)
    list_select_related = ("asset",)
    search_fields = ("code", "name")
    autocomplete_fields = ("site", "asset")


@admin.register(SupplySystem)
class SystemAdmin(Acted):
    """Supply systems."""

    add, change, subject = supply.add_system, supply.change_system, "system_id"
    new_members = (
        "site",
        "code",
        "name",
        "medium",
        "gas_name",
        "pressure_gauge_pa",
        "temperature_k",
        "storage_m3",
    )
    members = ("code", "name", "pressure_gauge_pa", "temperature_k", "storage_m3")
    list_display = ("code", "name", "site", "medium", "pressure_gauge_pa")
    list_filter = ("medium",)
    list_select_related = ("site",)
    search_fields = ("code", "name")
    autocomplete_fields = ("site",)


@admin.register(Compressor)
class CompressorAdmin(Acted):
    """Compressors."""

    add, change, subject = supply.add_compressor, supply.change_compressor, "compressor_id"
    new_members = (
        "site",
        "system",
        "code",
        "control",
        "rated_flow_m3_per_s",
        "rated_power_w",
        "asset",
        "commissioned_on",
    )
    members = (
        "code",
        "control",
        "asset",
        "rated_flow_m3_per_s",
        "rated_power_w",
        "unloaded_share",
        "least_share",
        "load_order",
        "commissioned_on",
        "retired_on",
    )
    list_display = ("code", "site", "system", "control", "retired_on")
    list_select_related = ("site", "system")
    search_fields = ("code",)
    autocomplete_fields = ("site", "system", "asset")


@admin.register(Connection)
class ConnectionAdmin(Acted):
    """Which system feeds which asset."""

    add = supply.connect
    new_members = ("site", "asset", "system")
    list_display = ("asset", "system", "site")
    list_select_related = ("asset", "system", "site")
    search_fields = ("asset__code", "system__code")
    autocomplete_fields = ("site", "asset", "system")


@admin.register(DatedValue)
class ValueAdmin(Acted):
    """Prices and factors: rows are added, never rewritten."""

    add = supply.set_value
    new_members = ("site", "system", "quantity", "value", "currency", "from_at", "source", "source_year")
    list_display = ("site", "system", "quantity", "value", "currency", "from_at", "void_at")
    list_filter = ("quantity",)
    list_select_related = ("site", "system")
    autocomplete_fields = ("site", "system")


@admin.register(Instrument)
class InstrumentAdmin(Acted):
    """Instruments."""

    add, change, subject = detectors.add_instrument, detectors.change_instrument, "instrument_id"
    new_members = (
        "site",
        "code",
        "name",
        "serial",
        "scale",
        "calibration_due_on",
        "calibration_certificate",
    )
    members = ("code", "name", "serial", "scale", "retired_on")
    list_display = ("code", "name", "site", "calibration_due_on", "retired_on")
    list_select_related = ("site",)
    search_fields = ("code", "name", "serial")
    autocomplete_fields = ("site",)


@admin.register(Route)
class RouteAdmin(Acted):
    """Routes; their stops are set at the route's own page."""

    add, change, subject = routes.add_route, routes.change_route, "route_id"
    new_members = ("site", "code", "name", "interval_days")
    members = ("code", "name", "interval_days")
    list_display = ("code", "name", "site", "interval_days", "retired_at")
    list_select_related = ("site",)
    search_fields = ("code", "name")
    autocomplete_fields = ("site",)


@admin.register(VisitRequest)
class VisitAdmin(ReadOnly):
    """Visits that are wanted, were made or were dropped."""

    list_display = ("point", "site", "reason", "due_on", "state")
    list_filter = ("state", "reason")
    list_select_related = ("point", "site")


@admin.register(Survey)
class SurveyAdmin(ReadOnly):
    """Walks."""

    list_display = ("code", "site", "inspector_name", "started_at", "ended_at")
    list_select_related = ("site",)
    search_fields = ("code",)


@admin.register(Reading)
class ReadingAdmin(ReadOnly):
    """Readings, as they were sent."""

    list_display = ("point", "site", "taken_at", "kind", "medium", "level_db")
    list_filter = ("kind",)
    list_select_related = ("point", "site")


@admin.register(Finding)
class FindingAdmin(ReadOnly):
    """Findings."""

    list_display = ("number", "site", "asset", "kind", "status", "found_at")
    list_filter = ("status", "kind")
    list_select_related = ("site", "asset")


@admin.register(LossSegment)
class SegmentAdmin(ReadOnly):
    """Loss segments, the only source of money."""

    list_display = ("finding", "site", "started_at", "ended_at")
    list_select_related = ("finding", "site")


@admin.register(Deferral)
class DeferralAdmin(ReadOnly):
    """Deferrals."""

    list_display = ("finding", "site", "until_at")
    list_select_related = ("finding", "site")


@admin.register(Entry)
class EntryAdmin(ReadOnly):
    """The logbook."""

    list_display = ("sequence", "site", "act", "actor_name", "at", "reason")
    list_select_related = ("site",)
    search_fields = ("=subject_id",)
    ordering = ("-id",)
