"""A site's time-of-use table: what is taken as one, and which single price it comes to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from findings.kinds.local_hours import DAY_KINDS, clock
from findings.kinds.tariff import Band, TariffTable, coming_year
from findings.kinds.tariff_reading import table_of
from findings.plant.rules import local_day
from findings.supply.rules.in_force import InForce
from findings.supply.rules.stated import Quantity


def plain_bands(table: TariffTable) -> list[dict[str, Any]]:
    """Return the bands as they are stored: months, days and windows in order, nothing left open."""
    return [_plain(band) for band in table.bands]


def _plain(band: Band) -> dict[str, Any]:
    return {
        "name": band.name,
        "price_per_kwh": format(band.price_per_kwh, "f"),
        "months": sorted(band.months),
        "days": [kind for kind in DAY_KINDS if kind in band.days],
        "windows": [{"start": clock(start), "end": clock(end)} for start, end in sorted(band.windows)],
    }


def stored_table(bands: Sequence[Mapping[str, Any]], holidays: Sequence[str]) -> TariffTable:
    """Return the table of stored data, which was checked when it was written."""
    return table_of(list(bands), list(holidays))


def price_of_table(
    table: TariffTable, at: datetime, *, time_zone: str, currency: str, from_at: datetime, source: str
) -> InForce:
    """Return the table as one price: its mean over the year from the site's day on, with its parts."""
    mean = coming_year(table, local_day(at, time_zone), ZoneInfo(time_zone))
    return InForce(
        Quantity.ELECTRICITY_PRICE_PER_KWH, mean.rounded_per_kwh, currency, from_at, source, None, mean.parts
    )
