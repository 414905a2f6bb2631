"""The back office of work orders, for superusers: for looking; what changes goes through the acts."""

from __future__ import annotations

from django.contrib import admin

from findings.admin import Acted, ReadOnly
from workorders.calendars.models import SiteDay, WorkingWeek
from workorders.clocks.models import Escalation
from workorders.feeds.models import CalendarFeed
from workorders.inbox.models import Mail, News, Notice
from workorders.orders import actions as orders
from workorders.orders.models import (
    ClockSegment,
    OrderFinding,
    PauseRule,
    RepairReport,
    ServiceLevel,
    WorkOrder,
)
from workorders.verification.models import Verification


@admin.register(WorkOrder)
class WorkOrderAdmin(Acted):
    """Work orders. Their state moves by the table of moves, at the order's own page."""

    change, subject = orders.change_order, "order_id"
    members = ("title", "instructions", "assignee")
    raw_id_fields = ("assignee",)
    list_display = ("site", "number", "title", "state", "priority", "due_at", "assignee")
    list_filter = ("state", "priority", "is_safety")
    list_select_related = ("site", "assignee")
    search_fields = ("title", "asset__code")
    date_hierarchy = "opened_at"


@admin.register(OrderFinding)
class OrderFindingAdmin(ReadOnly):
    """Which order repairs which finding."""

    list_display = ("order", "finding", "ended_at")
    list_select_related = ("order", "finding")


@admin.register(RepairReport)
class RepairReportAdmin(ReadOnly):
    """What technicians did."""

    list_display = ("order", "outcome", "repaired_at", "cost", "currency", "user")
    list_filter = ("outcome",)
    list_select_related = ("order", "user")


@admin.register(ServiceLevel)
class ServiceLevelAdmin(Acted):
    """The times promised; hazard classes are only shortened."""

    change, subject = orders.change_level, "level_id"
    members = (
        "respond_hours", "respond_working_hours", "respond_days", "repair_hours", "repair_working_hours",
        "repair_days", "verify_hours", "verify_working_hours", "verify_days", "source",
    )  # fmt: skip
    list_display = ("site", "priority", "kind", "repair_hours", "repair_working_hours", "repair_days")
    list_filter = ("priority",)
    list_select_related = ("site",)


@admin.register(PauseRule)
class PauseRuleAdmin(Acted):
    """What stops which clock."""

    change, subject = orders.change_pauses, "rule_id"
    members = ("pauses", "source")
    list_display = ("site", "wait_reason", "for_safety", "pauses")
    list_select_related = ("site",)


@admin.register(ClockSegment)
class ClockSegmentAdmin(ReadOnly):
    """How orders ran and waited."""

    list_display = ("order", "began_at", "ended_at", "wait_reason", "pauses", "by_name")
    list_select_related = ("order",)


@admin.register(Verification)
class VerificationAdmin(ReadOnly):
    """Whether repairs held."""

    list_display = ("finding", "verdict", "at", "actor_name")
    list_filter = ("verdict",)
    list_select_related = ("finding",)


@admin.register(Escalation)
class EscalationAdmin(ReadOnly):
    """Who was told of what."""

    list_display = ("finding", "episode", "step", "to_role", "at", "taken_by", "taken_at")
    list_filter = ("to_role",)
    list_select_related = ("finding", "taken_by")


@admin.register(WorkingWeek)
class WorkingWeekAdmin(ReadOnly):
    """When sites work."""

    list_display = ("site", "from_on", "country", "subdivision", "known_until_on", "void_at")
    list_select_related = ("site",)


@admin.register(SiteDay)
class SiteDayAdmin(ReadOnly):
    """What sites say of single days."""

    list_display = ("site", "kind", "first_on", "last_on", "name", "void_at")
    list_filter = ("kind",)
    list_select_related = ("site",)


@admin.register(News)
class NewsAdmin(ReadOnly):
    """What people were told of, and who sees to it."""

    list_display = ("site", "kind", "headline", "at", "taken_by", "taken_at")
    list_filter = ("kind", "is_safety")
    list_select_related = ("site", "taken_by")


@admin.register(Notice)
class NoticeAdmin(ReadOnly):
    """Who was told, and who has seen it."""

    list_display = ("news", "user", "at", "seen_at", "mail")
    list_select_related = ("news", "user", "mail")


@admin.register(Mail)
class MailAdmin(ReadOnly):
    """Mails on their way, and why some were given up."""

    list_display = ("site", "user", "subject", "state", "attempts", "next_try_at", "last_error")
    list_filter = ("state",)
    list_select_related = ("site", "user")


@admin.register(CalendarFeed)
class CalendarFeedAdmin(ReadOnly):
    """Calendar addresses, of which only the beginning is known."""

    list_display = ("site", "user", "name", "scope", "prefix", "created_at", "revoked_at")
    list_select_related = ("site", "user")
    exclude = ("digest",)
