"""The demand charge: money per kW of a month's highest power, and what part of it a loss touches.

A loss of constant power runs at the month's peak like at any other time, so it raises the peak by all of
its power, but only in months in which it runs at the peak's moment. A month that it fills is certain; a
month it only touches may have had its peak before or after. Shown beside the energy cost, never inside it.
"""

from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple
from zoneinfo import ZoneInfo

from findings.kinds.local_hours import DAY


class DemandCharge(NamedTuple):
    """The least and the most that a loss adds to the demand charge, and the months behind each."""

    least: Fraction
    most: Fraction
    whole_months: int
    touched_months: int


def months_touched(start: datetime, end: datetime, zone: ZoneInfo) -> tuple[int, int]:
    """Return how many of the site's months [start, end) fills, and how many it touches at all."""
    first, last = start.astimezone(UTC), end.astimezone(UTC)
    whole, touched = 0, 0
    month = first.astimezone(zone).date().replace(day=1)
    while first < last and _midnight(month, zone) < last:
        following = (month + 31 * DAY).replace(day=1)
        whole += _midnight(month, zone) >= first and _midnight(following, zone) <= last
        touched += 1
        month = following
    return whole, touched


def demand_charge(
    price_per_kw_month: Decimal, power_w: Decimal, start: datetime, end: datetime, zone: ZoneInfo
) -> DemandCharge:
    """Return what a constant power in W adds to the demand charge over [start, end); exact fractions.

    ``power_w`` is the power that really goes away with the loss: the expected one, not the full-load value.
    """
    whole, touched = months_touched(start, end, zone)
    monthly = Fraction(power_w) / 1000 * Fraction(price_per_kw_month)
    return DemandCharge(monthly * whole, monthly * touched, whole, touched)


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)
