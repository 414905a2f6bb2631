"""The forms of months on the wire. Money is exact text with its currency; None is never zero."""

from __future__ import annotations

from plantcare.api import shapes
from workorders.statements.rules import FIGURES

STATUSES = [("open", "open"), ("closed", "closed")]


def money() -> shapes.DecimalString:
    """Return an amount in the currency that stands beside it; None where it can't be told."""
    return shapes.DecimalString(max_digits=18, decimal_places=2, allow_null=True)


class MonthRowShape(shapes.Shape):
    """One month of a list; the money is as closed."""

    month = shapes.TextField()
    status = shapes.ChoiceField(choices=STATUSES)
    from_at = shapes.AwareDateTimeField()
    to_at = shapes.AwareDateTimeField()
    closed_at = shapes.AwareDateTimeField(allow_null=True)
    currency = shapes.CurrencyField()
    accrued_cost = money()
    avoided_verified = money()
    avoided_claimed = money()
    corrections = shapes.IntegerField()


class MonthListShape(shapes.Shape):
    """A site's months, the newest first."""

    results = MonthRowShape(many=True)


class MoneyIntervalShape(shapes.Shape):
    """The 95 % interval of an amount."""

    low = money()
    high = money()
    currency = shapes.CurrencyField()


class ShareShape(shapes.Shape):
    """A part of a whole; `value` is None where there is nothing to divide by."""

    part = shapes.DecimalString(max_digits=30, decimal_places=12, allow_null=True)
    whole = shapes.DecimalString(max_digits=30, decimal_places=12, allow_null=True)
    value = shapes.FloatField(allow_null=True)
    low = shapes.FloatField(allow_null=True)
    high = shapes.FloatField(allow_null=True)


class RepairRatesShape(shapes.Shape):
    """The repair rate by each of its definitions."""

    throughput = ShareShape()
    clearance = ShareShape()
    cohort = ShareShape()
    by_flow = ShareShape()
    by_cost = ShareShape()
    ever = ShareShape()


class ChecksShape(shapes.Shape):
    """How far repairs were checked."""

    of_repairs = ShareShape()
    of_known_or_overdue = ShareShape()
    first_time_fix = ShareShape()
    overdue = shapes.IntegerField()


class AgesShape(shapes.Shape):
    """Ages in days."""

    count = shapes.IntegerField()
    median_days = shapes.FloatField(allow_null=True)
    p90_days = shapes.FloatField(allow_null=True)
    highest_days = shapes.FloatField(allow_null=True)


class BacklogAgeShape(shapes.Shape):
    """How old the open findings are."""

    since_found = AgesShape()
    since_reopened = AgesShape()
    less_deferral = AgesShape()
    flow_weighted_mean_days = shapes.FloatField(allow_null=True)


class TimeToRepairShape(shapes.Shape):
    """Days from found to a repair that was proven."""

    cases = shapes.IntegerField()
    repaired = shapes.IntegerField()
    median_days = shapes.FloatField(allow_null=True)
    median_low_days = shapes.FloatField(allow_null=True)
    median_high_days = shapes.FloatField(allow_null=True)
    by_30_days = shapes.FloatField(allow_null=True)
    restricted_mean_days = shapes.FloatField(allow_null=True)
    restricted_to_days = shapes.FloatField()
    biased_mean_of_repaired_days = shapes.FloatField(allow_null=True)


class ReleaksShape(shapes.Shape):
    """How often proven repairs leak again."""

    repairs = shapes.IntegerField()
    releaks = shapes.IntegerField()
    by_90_days = shapes.FloatField(allow_null=True)
    by_180_days = shapes.FloatField(allow_null=True)
    by_365_days = shapes.FloatField(allow_null=True)
    point_years = shapes.FloatField()
    per_100_point_years = shapes.FloatField(allow_null=True)
    low = shapes.FloatField(allow_null=True)
    high = shapes.FloatField(allow_null=True)


class CountsShape(shapes.Shape):
    """The ledger of findings."""

    open_start = shapes.IntegerField()
    found = shapes.IntegerField()
    reopened = shapes.IntegerField()
    closed = shapes.IntegerField()
    closed_by_reason = shapes.IntegerField()
    removed = shapes.IntegerField()
    open_end = shapes.IntegerField()
    repaired = shapes.IntegerField()
    repairs_rejected = shapes.IntegerField()


class AreaFiguresShape(CountsShape):
    """An area's part of a month."""

    area = shapes.TextField()
    accrued_cost = shapes.MoneyShape(allow_null=True)
    avoided_verified = shapes.MoneyShape(allow_null=True)
    avoided_claimed = shapes.MoneyShape(allow_null=True)


class OpenByStateShape(shapes.Shape):
    """The open findings apart."""

    open = shapes.IntegerField()
    deferred = shapes.IntegerField()
    repaired = shapes.IntegerField()


class RefusedFigureShape(shapes.Shape):
    """A figure that is not told, and which price or factor it lacks."""

    figure = shapes.TextField()
    code = shapes.ChoiceField(choices=["price_missing", "factor_missing"])
    detail = shapes.TextField()


class FiguresShape(CountsShape):
    """Every figure of a month, as known at a moment."""

    as_of = shapes.AwareDateTimeField()
    hours = shapes.FloatField()
    currency = shapes.CurrencyField()
    accrued_cost = shapes.MoneyShape(allow_null=True)
    accrued_cost_interval = MoneyIntervalShape(allow_null=True)
    accrued_cost_deferred = shapes.MoneyShape(allow_null=True)
    avoided_verified = shapes.MoneyShape(allow_null=True)
    avoided_claimed = shapes.MoneyShape(allow_null=True)
    cost_past_due = shapes.MoneyShape(allow_null=True)
    cost_past_extended_due = shapes.MoneyShape(allow_null=True)
    energy_kwh = shapes.DecimalString(max_digits=24, decimal_places=3, allow_null=True)
    volume_m3 = shapes.FloatField(allow_null=True)
    co2e_kg = shapes.FloatField(allow_null=True)
    ledger_balances = shapes.BooleanField()
    open_end_by_state = OpenByStateShape()
    without_loss = shapes.IntegerField()
    repair_rates = RepairRatesShape()
    verified_share = ShareShape()
    checks = ChecksShape()
    backlog_age = BacklogAgeShape()
    time_to_repair = TimeToRepairShape()
    releaks = ReleaksShape()
    areas = AreaFiguresShape(many=True)
    refused = RefusedFigureShape(many=True)
    credit_days = shapes.FloatField()


class CorrectionShape(shapes.Shape):
    """What was booked for a closed month in a later one."""

    id = shapes.UuidField()
    booked_in = shapes.TextField()
    at = shapes.AwareDateTimeField()
    currency = shapes.CurrencyField()
    accrued_cost = money()
    avoided_verified = money()
    avoided_claimed = money()
    counts = shapes.JsonObjectField()
    findings = shapes.ListField(child=shapes.UuidField())
    findings_changed = shapes.IntegerField()


class MonthShape(shapes.Shape):
    """A site's month: as it was closed, as it is known now, and what was booked since."""

    site_id = shapes.UuidField()
    month = shapes.TextField()
    status = shapes.ChoiceField(choices=STATUSES)
    from_at = shapes.AwareDateTimeField()
    to_at = shapes.AwareDateTimeField()
    closed_at = shapes.AwareDateTimeField(allow_null=True)
    closed_by = shapes.TextField(allow_null=True)
    inputs_digest = shapes.TextField(allow_null=True)
    as_closed = FiguresShape(allow_null=True)
    as_known_now = FiguresShape()
    corrections = CorrectionShape(many=True)
    definitions = shapes.JsonObjectField()


class LinesQuery(shapes.InputShape):
    """Which figure to open, as it is known now or as it was closed, and which part of the lines."""

    figure = shapes.ChoiceField(choices=list(FIGURES))
    known = shapes.ChoiceField(choices=["now", "at_closing"], required=False, default="now")
    format = shapes.ChoiceField(choices=["json", "csv"], required=False, default="json")
    limit = shapes.IntegerField(min_value=1, max_value=1000, required=False, default=200)
    offset = shapes.IntegerField(min_value=0, max_value=1_000_000, required=False, default=0)


class LineShape(shapes.Shape):
    """What one finding adds to a figure; a dangerous one with what it lets out, null for every other one."""

    finding_id = shapes.UuidField()
    release = shapes.JsonObjectField(allow_null=True)
    finding = shapes.TextField(source="label")
    area = shapes.TextField()
    value = shapes.DecimalString(max_digits=24, decimal_places=3, allow_null=True)


class LinesShape(shapes.Shape):
    """The findings behind a figure, the largest share first; all of them add up to the total."""

    month = shapes.TextField()
    figure = shapes.TextField()
    definition = shapes.TextField()
    unit = shapes.TextField()
    total = shapes.DecimalString(max_digits=24, decimal_places=3, allow_null=True)
    count = shapes.IntegerField()
    lines = LineShape(many=True)


class SitesQuery(shapes.InputShape):
    """Which month, like 2026-03."""

    month = shapes.TextField(max_length=7)


class SumsShape(shapes.Shape):
    """Money in one currency, and counts."""

    currency = shapes.CurrencyField()
    accrued_cost = money()
    avoided_verified = money()
    avoided_claimed = money()
    found = shapes.IntegerField()
    repaired = shapes.IntegerField()
    closed = shapes.IntegerField()
    reopened = shapes.IntegerField()
    open_end = shapes.IntegerField()


class SiteMonthShape(SumsShape):
    """A site's month in short, as known now."""

    site_id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    status = shapes.ChoiceField(choices=STATUSES)
    refused = RefusedFigureShape(many=True)


class CurrencyTotalShape(SumsShape):
    """The sites of one currency together."""

    sites = shapes.IntegerField()


class SitesMonthShape(shapes.Shape):
    """One month of all sites that the caller sees. Currencies are never added to each other."""

    month = shapes.TextField()
    sites = SiteMonthShape(many=True)
    totals = CurrencyTotalShape(many=True)
