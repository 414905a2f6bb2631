"""Work orders: who repairs what by when, and what the repair was."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import F, Q

from findings.kinds.base import Kind
from findings.plant.models import Area, Asset, Site
from findings.register.models import Finding
from plantcare.api.identifiers import uuid7
from workorders.orders.rules import (
    PAUSABLE,
    CancelReason,
    OrderState,
    PriorityClass,
    RepairOutcome,
    WaitReason,
)

OPEN = Q(state__in=["draft", "ready", "scheduled", "in_progress", "waiting", "repaired"])


class WorkOrder(models.Model):
    """A job for a trade: one or several findings, a priority with its reasons, a due time."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=200)
    instructions = models.TextField(blank=True, default="")
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="+")
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+")
    state = models.CharField(
        max_length=12, choices=[(s.value, s.value) for s in OrderState], default=OrderState.DRAFT
    )
    is_safety = models.BooleanField(default=False)
    priority = models.CharField(max_length=2, choices=[(p.value, p.value) for p in PriorityClass])
    computed_priority = models.CharField(max_length=2, choices=[(p.value, p.value) for p in PriorityClass])
    priority_reasons = models.JSONField(default=list)
    consequence = models.PositiveSmallIntegerField(null=True)
    likelihood = models.PositiveSmallIntegerField(null=True)
    cost_of_delay_per_day = models.DecimalField(max_digits=18, decimal_places=6, null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, default="")
    cautions = models.JSONField(default=list)
    assignee = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    opened_at = models.DateTimeField()
    # When the promised times began to run: at the release, again when a repair did not hold.
    clock_from_at = models.DateTimeField()
    respond_by_at = models.DateTimeField()
    # Holds the waits that have ended; a wait that goes on is in clock_paused_at, a deferral at its finding.
    due_at = models.DateTimeField()
    # What was promised, by clock: {"repair": {"amount": 15, "unit": "days"}}; empty before units were kept.
    promise = models.JSONField(default=dict, blank=True)
    responded_at = models.DateTimeField(null=True, blank=True)
    # Set while a wait holds the clock of the repair; it holds it no longer than until the second.
    clock_paused_at = models.DateTimeField(null=True, blank=True)
    clock_paused_until_at = models.DateTimeField(null=True, blank=True)
    verify_by_at = models.DateTimeField(null=True, blank=True)
    scheduled_for_at = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    repaired_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    waiting_reason = models.CharField(max_length=300, blank=True, default="")
    cancel_reason = models.CharField(
        max_length=24, blank=True, default="", choices=[(r.value, r.value) for r in CancelReason]
    )
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="order_number_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="order_with_site"),
            models.CheckConstraint(
                condition=~Q(state="cancelled") | ~Q(cancel_reason=""), name="order_cancelled_with_reason"
            ),
            models.CheckConstraint(
                condition=~Q(state="scheduled") | Q(scheduled_for_at__isnull=False),
                name="order_scheduled_has_time",
            ),
            models.CheckConstraint(
                condition=~Q(state="waiting") | ~Q(waiting_reason=""), name="order_waiting_has_reason"
            ),
            models.CheckConstraint(
                condition=~Q(state="repaired") | Q(repaired_at__isnull=False), name="order_repaired_has_time"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["closed", "cancelled"]) | Q(ended_at__isnull=False),
                name="order_ended_has_time",
            ),
            models.CheckConstraint(
                condition=Q(clock_from_at__gte=F("opened_at"), due_at__gte=F("clock_from_at")),
                name="order_due_after_opened",
            ),
            models.CheckConstraint(
                condition=Q(clock_paused_at__isnull=True) | Q(state="waiting"),
                name="order_paused_while_waiting",
            ),
            # P1 < P2 < ... as text: a safety order never ranks below what the rule computed.
            models.CheckConstraint(
                condition=Q(is_safety=False) | Q(priority__lte=F("computed_priority")),
                name="order_safety_not_lowered",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "priority", "due_at"], condition=OPEN, name="order_open_by_site"),
            models.Index(fields=["site", "-opened_at", "-id"], name="order_newest"),
            models.Index(fields=["assignee", "due_at"], condition=OPEN, name="order_open_by_person"),
        ]

    def __str__(self) -> str:
        return f"W-{self.number}"


class OrderFinding(models.Model):
    """A finding that an order is to repair. A finding has at most one open order."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    # Follows the order: set when it ends. Kept here so that the database can hold the law.
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["finding"], condition=Q(ended_at__isnull=True), name="finding_one_open_order"
            ),
            models.UniqueConstraint(fields=["order", "finding"], name="order_finding_once"),
        ]

    def __str__(self) -> str:
        return f"{self.order_id} for {self.finding_id}"


class RepairReport(models.Model):
    """What the technician did. Rows are only added."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=16, choices=[(o.value, o.value) for o in RepairOutcome])
    action_taken = models.TextField()
    cause = models.CharField(max_length=200, blank=True, default="")
    parts = ArrayField(models.CharField(max_length=200), default=list, blank=True)
    labour_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    cost = models.DecimalField(max_digits=14, decimal_places=2, null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, default="")
    repaired_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    isolation_confirmed = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | Q(cost__gte=0), name="repair_cost_not_negative"
            ),
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | ~Q(currency=""), name="repair_cost_has_currency"
            ),
            models.CheckConstraint(
                condition=Q(labour_hours__isnull=True) | Q(labour_hours__gte=0),
                name="repair_hours_not_negative",
            ),
        ]
        indexes = [models.Index(fields=["order", "repaired_at"], name="repair_by_order")]

    def __str__(self) -> str:
        return f"{self.outcome} {self.repaired_at:%Y-%m-%d}"


def _one_way(name: str) -> Q:
    """Say that a time is given in one way: elapsed hours, working hours, or days of the site's calendar."""
    ways = [f"{name}_hours", f"{name}_working_hours", f"{name}_days"]
    any_way = Q()
    for way in ways:
        any_way |= Q(**{f"{other}__isnull": other != way for other in ways})
    return any_way


def _no_longer(priority: str, respond_hours: str, repair_hours: int, verify_days: int) -> Q:
    """Say that a hazard class runs day and night and no longer than the default."""
    return ~Q(priority=priority) | (
        Q(respond_hours__isnull=False, respond_hours__lte=Decimal(respond_hours))
        & (
            Q(repair_hours__isnull=False, repair_hours__lte=repair_hours)
            | Q(repair_days__isnull=False, repair_days__lte=repair_hours // 24)
        )
        & (
            Q(verify_days__isnull=False, verify_days__lte=verify_days)
            | Q(verify_hours__isnull=False, verify_hours__lte=verify_days * 24)
        )
    )


class ServiceLevel(models.Model):
    """How long each step may take for a priority at a site, for one kind of finding where it names one.

    The row that names a kind goes before the one that names none. Hours elapse, day and night; working hours
    pass while the site works; days count in the site's calendar, same local time of day.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    priority = models.CharField(max_length=2, choices=[(p.value, p.value) for p in PriorityClass])
    kind = models.CharField(max_length=24, blank=True, default="", choices=[(k.value, k.value) for k in Kind])
    respond_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    respond_working_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    respond_days = models.PositiveSmallIntegerField(null=True, blank=True)
    repair_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    repair_working_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    repair_days = models.PositiveSmallIntegerField(null=True, blank=True)
    verify_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    verify_working_hours = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    verify_days = models.PositiveSmallIntegerField(null=True, blank=True)
    source = models.CharField(max_length=300)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "priority", "kind"], name="service_level_once_per_priority_and_kind"
            ),
            models.CheckConstraint(condition=_one_way("respond"), name="service_level_one_respond_time"),
            models.CheckConstraint(condition=_one_way("repair"), name="service_level_one_repair_time"),
            models.CheckConstraint(condition=_one_way("verify"), name="service_level_one_verify_time"),
            # The classes that hazards set: a site tightens them, it never loosens them.
            models.CheckConstraint(condition=_no_longer("P1", "0.25", 24, 1), name="service_level_p1_limit"),
            models.CheckConstraint(condition=_no_longer("P2", "4", 360, 7), name="service_level_p2_limit"),
        ]

    def __str__(self) -> str:
        return f"{self.priority} {self.kind or 'any kind'} at {self.site_id}"


class PauseRule(models.Model):
    """Which clocks stand still while an order of a site waits for something."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    wait_reason = models.CharField(max_length=16, choices=[(r.value, r.value) for r in WaitReason])
    for_safety = models.BooleanField()
    pauses = ArrayField(models.CharField(max_length=16), default=list, blank=True)
    source = models.CharField(max_length=300)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "wait_reason", "for_safety"], name="pause_rule_once_per_reason"
            ),
            models.CheckConstraint(
                condition=Q(pauses__contained_by=[clock.value for clock in PAUSABLE]),
                name="pause_rule_of_clocks_that_may",
            ),
            models.CheckConstraint(
                condition=Q(for_safety=False)
                | Q(pauses=[])
                | Q(wait_reason="shutdown", pauses__contained_by=["repair"]),
                name="pause_rule_safety_for_a_shutdown",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.wait_reason}: {', '.join(self.pauses) or 'nothing'} stands still"


class ClockSegment(models.Model):
    """A stretch of an order's life in which it ran or waited: who said so, why, and which clocks it held.

    Rows are only added; their end is set once.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="+")
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    wait_reason = models.CharField(
        max_length=16, blank=True, default="", choices=[(r.value, r.value) for r in WaitReason]
    )
    text = models.CharField(max_length=300, blank=True, default="")
    # Decided when the wait began, so that a later change of the site's table moves no promise.
    pauses = ArrayField(models.CharField(max_length=16), default=list, blank=True)
    pauses_until_at = models.DateTimeField(null=True, blank=True)
    for_safety = models.BooleanField()
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["order"], condition=Q(ended_at__isnull=True), name="clock_segment_one_goes_on"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("began_at")),
                name="clock_segment_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(pauses=[]) | ~Q(wait_reason=""), name="clock_segment_pauses_for_a_reason"
            ),
            models.CheckConstraint(
                condition=Q(for_safety=False)
                | Q(pauses=[])
                | Q(wait_reason="shutdown", pauses_until_at__isnull=False),
                name="clock_segment_safety_to_a_shutdown",
            ),
        ]
        indexes = [models.Index(fields=["order", "began_at"], name="clock_segment_by_order")]

    def __str__(self) -> str:
        return f"{self.wait_reason or 'running'} from {self.began_at:%Y-%m-%d %H:%M}"


class OrderCounter(models.Model):
    """The last order number given at a site."""

    site = models.OneToOneField(Site, primary_key=True, on_delete=models.PROTECT, related_name="+")
    last_number = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return str(self.last_number)
