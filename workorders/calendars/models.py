"""When a site works: its week from a day on, and what it says of single days."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from findings.plant.models import Site
from plantcare.api.identifiers import uuid7
from workorders.calendars.rules import DayKind

_VOID = Q(void_at__isnull=True) | ~Q(void_reason="")


class WorkingWeek(models.Model):
    """The shifts of a site's week from a local day on, until the next row, and whose public holidays count.

    Rows are only added; a wrong one is voided once, with a reason.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    from_on = models.DateField()
    # [{"days": ["mon"], "start": "22:00", "end": "06:00"}] on the site's wall clock.
    shifts = models.JSONField()
    # ISO 3166-1 and the part behind the hyphen of ISO 3166-2; empty: no public holidays.
    country = models.CharField(max_length=2, blank=True, default="")
    subdivision = models.CharField(max_length=6, blank=True, default="")
    # To which day somebody has looked at the site's own days and shutdowns.
    known_until_on = models.DateField()
    recorded_at = models.DateTimeField()
    source = models.CharField(max_length=300)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "from_on"],
                condition=Q(void_at__isnull=True),
                name="working_week_once_per_day",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="working_week_names_its_source"),
            models.CheckConstraint(
                condition=Q(known_until_on__gte=F("from_on")), name="working_week_known_for_a_time"
            ),
            models.CheckConstraint(
                condition=Q(subdivision="") | ~Q(country=""), name="working_week_part_of_a_country"
            ),
            models.CheckConstraint(condition=_VOID, name="working_week_void_has_reason"),
        ]

    def __str__(self) -> str:
        return f"week from {self.from_on}"


class SiteDay(models.Model):
    """One or several days of which the site says itself that they are closed, worked, or a shutdown.

    Rows are only added; a wrong one is voided once, with a reason.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=8, choices=[(kind.value, kind.value) for kind in DayKind])
    first_on = models.DateField()
    last_on = models.DateField()
    name = models.CharField(max_length=120)
    # Hours of a worked day; none: those of its weekday.
    shifts = models.JSONField(default=list, blank=True)
    recorded_at = models.DateTimeField()
    source = models.CharField(max_length=300)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "kind", "first_on"],
                condition=Q(void_at__isnull=True),
                name="site_day_once_per_kind",
            ),
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="site_day_ends_after_it_begins"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="site_day_has_a_name"),
            models.CheckConstraint(condition=~Q(source=""), name="site_day_names_its_source"),
            models.CheckConstraint(
                condition=Q(kind=DayKind.WORKED.value) | Q(shifts=[]), name="site_day_hours_where_worked"
            ),
            models.CheckConstraint(condition=_VOID, name="site_day_void_has_reason"),
        ]
        indexes = [models.Index(fields=["site", "first_on"], name="site_day_by_day")]

    def __str__(self) -> str:
        return f"{self.kind} {self.first_on}: {self.name}"
