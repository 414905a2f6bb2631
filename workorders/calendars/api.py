"""Doors of working calendars."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.kinds.local_hours import WEEKDAYS
from findings.plant import queries as plant
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, Door, ListDoor
from workorders.calendars import actions, queries
from workorders.calendars.rules import MOST_SHIFTS, DayKind, DayStanding

DAYS_OF_WEEK = [(day, day) for day in WEEKDAYS]
KINDS = [(kind.value, kind.value) for kind in DayKind]
STANDINGS = [(standing.value, standing.value) for standing in DayStanding]


class ShiftShape(shapes.Shape):
    """Hours on the site's wall clock, by the days on which they begin."""

    days = shapes.ListField(child=shapes.ChoiceField(choices=DAYS_OF_WEEK))
    start = shapes.TextField()
    end = shapes.TextField(help_text="At or before the start: on the day after.")


class ShiftInput(shapes.InputShape):
    """A shift; it belongs to the day on which it begins."""

    days = shapes.ListField(child=shapes.ChoiceField(choices=DAYS_OF_WEEK), min_length=1, max_length=7)
    start = shapes.TextField(max_length=5, help_text="22:00")
    end = shapes.TextField(max_length=5, help_text="06:00 of the day after; 24:00 ends a day.")


class WorkingWeekShape(shapes.Shape):
    """A site's week from a local day on, until the next one."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    from_on = shapes.DateField()
    shifts = ShiftShape(many=True)
    country = shapes.TextField()
    subdivision = shapes.TextField()
    known_until_on = shapes.DateField()
    recorded_at = shapes.AwareDateTimeField()
    source = shapes.TextField()  # type: ignore[assignment]
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class WorkingWeekInput(shapes.InputShape):
    """A new week: its shifts, and whose public holidays count."""

    site_id = shapes.UuidField()
    from_on = shapes.DateField()
    shifts = shapes.ListField(child=ShiftInput(), min_length=1, max_length=MOST_SHIFTS)
    country = shapes.TextField(
        max_length=2, required=False, allow_blank=True, help_text="ISO 3166-1; left out: no public holidays."
    )
    subdivision = shapes.TextField(
        max_length=6, required=False, allow_blank=True, help_text="The part of ISO 3166-2: BW."
    )
    known_until_on = shapes.DateField(
        help_text="To which day the site has looked at its own days; after it, answers warn."
    )
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class SiteDayShape(shapes.Shape):
    """What a site says of days: closed, worked though they would not be, or a shutdown."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    kind = shapes.ChoiceField(choices=KINDS)
    first_on = shapes.DateField()
    last_on = shapes.DateField()
    name = shapes.TextField()
    shifts = ShiftShape(many=True)
    recorded_at = shapes.AwareDateTimeField()
    source = shapes.TextField()  # type: ignore[assignment]
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class SiteDayInput(shapes.InputShape):
    """Days and what they are; hours only where they are worked, none meaning those of the weekday."""

    site_id = shapes.UuidField()
    kind = shapes.ChoiceField(choices=KINDS)
    first_on = shapes.DateField()
    last_on = shapes.DateField(required=False)
    name = shapes.TextField(max_length=120)
    shifts = shapes.ListField(child=ShiftInput(), required=False, max_length=MOST_SHIFTS)
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class CalendarVoidInput(shapes.InputShape):
    """Why the row never held."""

    reason = shapes.TextField(max_length=300)


class WorkingWeekFilters(filtering.StrictFilterSet):
    """Filters of weeks."""

    site_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class SiteDayFilters(WorkingWeekFilters):
    """Filters of days."""

    kind = filtering.ChoicesFilter(choices=KINDS)


class WorkingWeeks(CreateDoor, ListDoor):
    """Working weeks."""

    noun, room = "working_week", "calendars"
    needs = {"GET": Right.VIEW, "POST": Right.PLAN}
    shape, input_shape, filterset_class = WorkingWeekShape, WorkingWeekInput, WorkingWeekFilters
    orderings = {"-from_on": ("-from_on", "-id"), "from_on": ("from_on",)}

    def rows(self) -> QuerySet[Any]:
        """Return all weeks."""
        return queries.working_weeks()

    def act(self, data: dict[str, Any]) -> Any:
        """Add the week."""
        return actions.set_working_week(actor=self.actor, at=self.at, **data)


class WorkingWeek(DetailDoor):
    """One working week."""

    noun, room = "working_week", "calendars"
    needs = {"GET": Right.VIEW}
    shape = WorkingWeekShape

    def rows(self) -> QuerySet[Any]:
        """Return all weeks."""
        return queries.working_weeks()


class WorkingWeekVoid(ActDoor):
    """Say that a week never held."""

    operation, room = "working_week_void", "calendars"
    needs = {"POST": Right.PLAN}
    shape, input_shape = WorkingWeekShape, CalendarVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all weeks."""
        return queries.working_weeks()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_working_week(actor=self.actor, at=self.at, week_id=obj.pk, **data)


class SiteDays(CreateDoor, ListDoor):
    """What sites say of single days."""

    noun, room = "site_day", "calendars"
    needs = {"GET": Right.VIEW, "POST": Right.PLAN}
    shape, input_shape, filterset_class = SiteDayShape, SiteDayInput, SiteDayFilters
    orderings = {"-first_on": ("-first_on", "-id"), "first_on": ("first_on",)}

    def rows(self) -> QuerySet[Any]:
        """Return all rows."""
        return queries.site_days()

    def act(self, data: dict[str, Any]) -> Any:
        """Say it."""
        kind = DayKind(data.pop("kind"))
        return actions.say_of_days(actor=self.actor, at=self.at, kind=kind, **data)


class SiteDay(DetailDoor):
    """What a site says of some days."""

    noun, room = "site_day", "calendars"
    needs = {"GET": Right.VIEW}
    shape = SiteDayShape

    def rows(self) -> QuerySet[Any]:
        """Return all rows."""
        return queries.site_days()


class SiteDayVoid(ActDoor):
    """Say that it was never so."""

    operation, room = "site_day_void", "calendars"
    needs = {"POST": Right.PLAN}
    shape, input_shape = SiteDayShape, CalendarVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all rows."""
        return queries.site_days()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_site_day(actor=self.actor, at=self.at, day_id=obj.pk, **data)


class CalendarWindowShape(shapes.Shape):
    """Worked hours of a local day, a night shift of the day before included."""

    start = shapes.TextField()
    end = shapes.TextField()


class CalendarDayShape(shapes.Shape):
    """A day unlike others of its weekday: what it is, where that comes from, and what is worked."""

    on = shapes.DateField()
    weekday = shapes.ChoiceField(choices=DAYS_OF_WEEK)
    standing = shapes.ChoiceField(choices=STANDINGS)
    name = shapes.TextField()
    source = shapes.TextField()  # type: ignore[assignment]
    estimated = shapes.BooleanField(help_text="The day follows the moon and may be another one.")
    windows = CalendarWindowShape(many=True)


class CalendarWarningShape(shapes.Shape):
    """What is not known of the year."""

    code = shapes.TextField()
    text = shapes.TextField()


class CalendarYearShape(shapes.Shape):
    """A year of a site's working calendar; the week is the one in force on its last day."""

    site_id = shapes.UuidField()
    year = shapes.IntegerField()
    time_zone = shapes.TextField()
    country = shapes.TextField()
    subdivision = shapes.TextField()
    shifts = ShiftShape(many=True)
    known_until_on = shapes.DateField(allow_null=True)
    days = CalendarDayShape(many=True)
    warnings = CalendarWarningShape(many=True)


class CalendarYearQuery(shapes.InputShape):
    """Which year; left out: the present one."""

    year = shapes.IntegerField(required=False, min_value=1990, max_value=2150)


class CalendarYear(Door):
    """The days of a year that are not ordinary at a site, and where each comes from."""

    operation, room = "working_calendar_read", "calendars"
    needs = {"GET": Right.VIEW}
    site_field = "id"
    shape, query_shape = CalendarYearShape, CalendarYearQuery

    def rows(self) -> QuerySet[Any]:
        """Return all sites."""
        return plant.sites()

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the year."""
        site = self.get_object()
        return self.answer(queries.year_of(site, self.ask().get("year") or self.at.year))
