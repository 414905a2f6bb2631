"""A time-of-use tariff: which price of electricity holds at which hour of the site's wall clock.

Bands name their months, kinds of day and windows of the day; together they cover every hour of every day
exactly once. Prices are exact decimals per kWh in one currency. Integrals are exact fractions.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from findings.kinds.cost import EXACT
from findings.kinds.local_hours import (
    DAY_KINDS,
    HOUR_US,
    MINUTE_US,
    LocalStretch,
    Window,
    a_year_from,
    day_kind,
    local_stretches,
)
from findings.kinds.operating_calendar import Hours

PRICE_STEP: Final = Decimal("1e-10")
ALL_MONTHS: Final = frozenset(range(1, 13))
ALL_DAYS: Final = frozenset(DAY_KINDS)


@dataclass(frozen=True)
class Band:
    """One price: its name, months 1 to 12, kinds of day ("mon" to "sun", "holiday"), windows of the day."""

    name: str
    price_per_kwh: Decimal
    windows: tuple[Window, ...]
    months: frozenset[int] = ALL_MONTHS
    days: frozenset[str] = ALL_DAYS


class _Piece(NamedTuple):
    """A window of a day in microseconds with the place of its band in the table."""

    start_us: int
    end_us: int
    band: int


@dataclass(frozen=True)
class TariffTable:
    """Bands that cover every hour once, and the days that count as holidays.

    ``tariff_reading.table_of`` builds a checked one from data; a table built here is taken as checked.
    """

    bands: tuple[Band, ...]
    holidays: frozenset[date] = frozenset()
    _plans: Mapping[tuple[int, str], tuple[_Piece, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay out each kind of day of each month once."""
        plans = {(month, kind): tuple(self._plan(month, kind)) for month in ALL_MONTHS for kind in DAY_KINDS}
        object.__setattr__(self, "_plans", plans)

    def _plan(self, month: int, kind: str) -> list[_Piece]:
        return sorted(
            _Piece(window.start * MINUTE_US, window.end * MINUTE_US, place)
            for place, band in enumerate(self.bands)
            if month in band.months and kind in band.days
            for window in band.windows
        )

    def band_at(self, moment: datetime, zone: ZoneInfo) -> Band:
        """Return the band in force at an aware moment."""
        local = moment.astimezone(zone)
        since = ((local.hour * 60 + local.minute) * 60 + local.second) * 1_000_000 + local.microsecond
        for piece in self.pieces(local.date()):
            if piece.start_us <= since < piece.end_us:
                return self.bands[piece.band]
        msg = f"No band covers {local:%Y-%m-%d %H:%M}."
        raise LookupError(msg)

    def pieces(self, day: date) -> tuple[_Piece, ...]:
        """Return a local day's windows in order, each with the place of its band."""
        return self._plans[day.month, day_kind(day, self.holidays)]


class Part(NamedTuple):
    """What one band has of a stretch of time: hours, and its share of all the hours."""

    band: Band
    hours: Fraction
    share: Fraction


class MeanPrice(NamedTuple):
    """The mean price of a kWh at constant power over some hours, and the bands that make it up."""

    price_per_kwh: Fraction
    hours: Fraction
    parts: tuple[Part, ...]

    @property
    def rounded_per_kwh(self) -> Decimal:
        """Return the price with the ten places of a stated one: the figure shown is the one used."""
        exact = EXACT.divide(Decimal(self.price_per_kwh.numerator), Decimal(self.price_per_kwh.denominator))
        return exact.quantize(PRICE_STEP, rounding=ROUND_HALF_UP, context=EXACT)


def parts_of(
    table: TariffTable, start: datetime, end: datetime, zone: ZoneInfo, hours: Hours | None = None
) -> tuple[Part, ...]:
    """Return the bands of [start, end) with their true hours, in the table's order, none without hours.

    ``hours`` narrows the time to an operating calendar, or to what lies outside one.
    """
    spent = [0] * len(table.bands)
    for stretch in local_stretches(start, end, zone):
        for piece in table.pieces(stretch.day):
            spent[piece.band] += _overlap(stretch, piece, hours)
    whole = sum(spent)
    return tuple(
        Part(band, Fraction(micro, HOUR_US), Fraction(micro, whole))
        for band, micro in zip(table.bands, spent, strict=True)
        if micro
    )


def _overlap(stretch: LocalStretch, piece: _Piece, hours: Hours | None) -> int:
    first, last = max(stretch.start_us, piece.start_us), min(stretch.end_us, piece.end_us)
    if first >= last or hours is None:
        return max(last - first, 0)
    return sum(
        max(min(last, window.end * MINUTE_US) - max(first, window.start * MINUTE_US), 0)
        for window in hours.windows(stretch.day)
    )


def mean_of(parts: Sequence[Part]) -> MeanPrice | None:
    """Return the mean price of parts weighted by their hours; None where there are no hours."""
    if not parts:
        return None
    price = sum((Fraction(part.band.price_per_kwh) * part.share for part in parts), Fraction(0))
    return MeanPrice(price, sum((part.hours for part in parts), Fraction(0)), tuple(parts))


def mean_price(
    table: TariffTable, start: datetime, end: datetime, zone: ZoneInfo, hours: Hours | None = None
) -> MeanPrice | None:
    """Return the mean price over [start, end) at constant power; None where no hour is left."""
    return mean_of(parts_of(table, start, end, zone, hours))


@lru_cache(maxsize=256)
def coming_year(table: TariffTable, day: date, zone: ZoneInfo) -> MeanPrice:
    """Return the mean price of the year that begins with a local day, at constant power."""
    start = datetime(day.year, day.month, day.day, tzinfo=zone)
    found = mean_price(table, start, a_year_from(start, zone), zone)
    if found is None:
        msg = "A table covers every hour."
        raise LookupError(msg)
    return found


class PartCost(NamedTuple):
    """What one band has of a cost."""

    part: Part
    energy_kwh: Fraction
    money: Fraction


def cost_parts(power_w: Decimal, parts: Sequence[Part]) -> tuple[PartCost, ...]:
    """Return energy and money of a constant power in W by band; exact, the caller rounds once."""
    kilowatts = Fraction(power_w) / 1000
    return tuple(
        PartCost(
            part,
            kilowatts * part.hours,
            kilowatts * part.hours * Fraction(part.band.price_per_kwh),
        )
        for part in parts
    )


def money(
    table: TariffTable,
    power_w: Decimal,
    start: datetime,
    end: datetime,
    zone: ZoneInfo,
    hours: Hours | None = None,
) -> Fraction:
    """Return what a constant power in W costs over [start, end), exactly."""
    costs = cost_parts(power_w, parts_of(table, start, end, zone, hours))
    return sum((cost.money for cost in costs), Fraction(0))
