"""Dated prices and factors as step functions, each known since some moment."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from findings.kinds.tariff import TariffTable, coming_year, mean_price
from workorders.statements.rules.time import put_on_utc, utc

J_PER_KWH: Final = 3_600_000


class PriceGapError(ValueError):
    """Something has no value in force during some time; no figure is made from a missing one."""

    def __init__(self, name: str, start: datetime, end: datetime | None) -> None:
        until = "" if end is None else f" until {end.astimezone(UTC):%Y-%m-%dT%H:%MZ}"
        super().__init__(f"No {name} is in force from {start.astimezone(UTC):%Y-%m-%dT%H:%MZ}{until}.")
        self.name = name
        self.start = start
        self.end = end


@dataclass(frozen=True, slots=True)
class DatedValue:
    """A value in force from a moment until the next one; void from `void_at` on."""

    value: Decimal
    from_at: datetime
    recorded_at: datetime
    void_at: datetime | None = None

    def __post_init__(self) -> None:
        """Put every moment on UTC; refuse a value below zero or no number."""
        put_on_utc(self, "from_at", "recorded_at", "void_at")
        if not (self.value.is_finite() and self.value >= 0):
            msg = f"A price or factor is a number not below zero, not {self.value}."
            raise ValueError(msg)

    def mean(self, start: datetime, end: datetime) -> Fraction:  # noqa: ARG002 - it holds all the time
        """Give the mean over a stretch of time in which it holds."""
        return Fraction(self.value)

    def now(self, moment: datetime) -> Decimal:  # noqa: ARG002 - it holds all the time
        """Give what it counts with at a moment."""
        return self.value


@dataclass(frozen=True, slots=True)
class DatedTable:
    """A time-of-use table of electricity in force from a moment until the next price; void from `void_at` on.

    Over a stretch of time it counts exactly with the hours of each price; as one price, where a rate is told,
    with its mean of the coming year.
    """

    table: TariffTable
    time_zone: str
    from_at: datetime
    recorded_at: datetime
    void_at: datetime | None = None
    _means: dict[tuple[datetime, datetime], Fraction] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        """Put every moment on UTC."""
        put_on_utc(self, "from_at", "recorded_at", "void_at")

    def mean(self, start: datetime, end: datetime) -> Fraction:
        """Give the mean price of a stretch of time; kept, since many findings run through the same one."""
        known = self._means.get((start, end))
        if known is None:
            found = mean_price(self.table, start, end, ZoneInfo(self.time_zone))
            known = Fraction(0) if found is None else found.price_per_kwh
            self._means[start, end] = known
        return known

    def now(self, moment: datetime) -> Decimal:
        """Give the mean of the year that begins with the site's day, as a finding's cost counts it."""
        zone = ZoneInfo(self.time_zone)
        return coming_year(self.table, moment.astimezone(zone).date(), zone).rounded_per_kwh


Dated = DatedValue | DatedTable


@dataclass(frozen=True, slots=True)
class StepFunction:
    """A named quantity that holds from one moment to the next."""

    name: str
    values: tuple[Dated, ...]
    _froms: tuple[datetime, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Put the values in order of time; of two for one moment the one recorded later holds."""
        last = {
            item.from_at: item
            for item in sorted(self.values, key=lambda item: (item.from_at, item.recorded_at))
        }
        object.__setattr__(self, "values", tuple(last.values()))
        object.__setattr__(self, "_froms", tuple(last))

    def at(self, moment: datetime) -> Decimal:
        """Give the value in force, or raise PriceGapError naming the gap."""
        return self.item_at(moment).now(moment)

    def item_at(self, moment: datetime) -> Dated:
        """Give the step in force, or raise PriceGapError naming the gap."""
        moment = utc(moment)
        index = bisect_right(self._froms, moment)
        if index == 0:
            raise PriceGapError(self.name, moment, self._froms[0] if self._froms else None)
        return self.values[index - 1]

    def changes(self, start: datetime, end: datetime) -> tuple[datetime, ...]:
        """List the moments strictly inside a stretch of time at which the value changes."""
        start, end = utc(start), utc(end)
        return self._froms[bisect_right(self._froms, start) : _before(self._froms, end)]


def _before(moments: tuple[datetime, ...], end: datetime) -> int:
    index = bisect_right(moments, end)
    return index - 1 if index and moments[index - 1] == end else index


def known_steps(name: str, values: tuple[Dated, ...], as_of: datetime) -> StepFunction:
    """Build the function as it was known at a moment: later entries and voided ones left out."""
    return StepFunction(
        name,
        tuple(
            item
            for item in values
            if item.recorded_at <= as_of and (item.void_at is None or item.void_at > as_of)
        ),
    )


def _steps(name: str, values: tuple[DatedValue, ...] | None, as_of: datetime) -> StepFunction | None:
    return None if values is None else known_steps(name, values, as_of)


@dataclass(frozen=True, slots=True)
class SystemSeries:
    """What a cubic metre of one supply system costs: energy, or the gas itself, or both.

    Specific energy in J per m³ at 1 bar, 20 °C, dry; the gas price per m³ at the same state;
    `pressurised_share` 0 to 1, taken as 1 where the site keeps none. None: not part of the cost.
    """

    name: str
    specific_energy_j_per_m3: tuple[DatedValue, ...] | None = None
    gas_price_per_m3: tuple[DatedValue, ...] | None = None
    pressurised_share: tuple[DatedValue, ...] | None = None


@dataclass(frozen=True, slots=True)
class PriceSeries:
    """A site's prices: one for electricity per kWh, and what each of its systems needs. One currency.

    A flat price of electricity and a time-of-use table end each other.

    The grid factor (kg CO2e per kWh) is no price: without one only the CO2e is not told.
    """

    currency: str
    electricity_price_per_kwh: tuple[DatedValue, ...]
    systems: Mapping[str, SystemSeries]
    grid_factor_kg_per_kwh: tuple[DatedValue, ...] = ()
    electricity_tables: tuple[DatedTable, ...] = ()

    def known(self, as_of: datetime) -> "KnownPrices":
        """Freeze the series as they were known at a moment."""
        return KnownPrices(self, as_of)


@dataclass(frozen=True, slots=True)
class CostPiece:
    """A stretch of time with one cost and energy per m³ lost, both already times the pressurised share.

    `co2e_kg_per_m3` is of the electricity; None where no grid factor is in force.
    """

    start: datetime
    end: datetime
    cost_per_m3: Fraction
    kwh_per_m3: Fraction
    pressurised_share: Fraction
    co2e_kg_per_m3: Fraction | None = Fraction(0)


Functions = tuple[StepFunction | None, StepFunction | None, StepFunction | None]
"""Specific energy, gas price and pressurised share of a system; None: not part of the cost."""


class KnownPrices:
    """Prices as known at one moment, ready to integrate over."""

    def __init__(self, series: PriceSeries, as_of: datetime) -> None:
        self.currency = series.currency
        electricity: tuple[Dated, ...] = (*series.electricity_price_per_kwh, *series.electricity_tables)
        self._electricity = known_steps("electricity price per kWh", electricity, as_of)
        self._grid = known_steps("grid factor", series.grid_factor_kg_per_kwh, as_of)
        self._systems = {
            key: (
                _steps(f"specific energy of {system.name}", system.specific_energy_j_per_m3, as_of),
                _steps(f"gas price of {system.name}", system.gas_price_per_m3, as_of),
                _steps(f"pressurised share of {system.name}", system.pressurised_share, as_of),
            )
            for key, system in series.systems.items()
        }

    def pieces(self, system: str, start: datetime, end: datetime) -> Iterator[CostPiece]:
        """Cut a stretch of time at every change of a price or factor of a system.

        A time-of-use table is one step: its piece costs the mean of its own hours, so that cost times time is
        exact. Raises PriceGapError when the system is unknown, has neither energy nor gas price, or lacks a
        value at any moment of the stretch.
        """
        start, end = utc(start), utc(end)
        energy, gas, share = self._functions(system, start, end)
        functions = [item for item in (energy, gas, share) if item is not None]
        if energy is not None:
            functions += [self._electricity, self._grid]
        marks = {start, end}.union(*(item.changes(start, end) for item in functions))
        for first, last in pairwise(sorted(marks)):
            price = None if energy is None else self._electricity.item_at(first).mean(first, last)
            yield self._piece((energy, gas, share), first, last, price)

    def _piece(
        self, functions: Functions, start: datetime, end: datetime, per_kwh: Fraction | None
    ) -> CostPiece:
        """Price a stretch in which nothing changes; `per_kwh` is None where no energy is part of the cost."""
        energy, gas, share = functions
        running = Fraction(1) if share is None else Fraction(share.at(start))
        kwh = running * Fraction(energy.at(start)) / J_PER_KWH if energy is not None else Fraction(0)
        cost = kwh * per_kwh if per_kwh is not None else Fraction(0)
        if gas is not None:
            cost += running * Fraction(gas.at(start))
        return CostPiece(start, end, cost, kwh, running, self._co2e(kwh, start))

    def has_table(self, start: datetime, end: datetime) -> bool:
        """Tell whether electricity is priced by the hour anywhere in a stretch of time."""
        start, end = utc(start), utc(end)
        steps = self._electricity.values
        ends = [*(step.from_at for step in steps[1:]), end][: len(steps)]
        return any(
            isinstance(step, DatedTable) and step.from_at < end and until > start
            for step, until in zip(steps, ends, strict=True)
        )

    def missing_grid_factor(self, start: datetime) -> PriceGapError | None:
        """Name the gap where no grid factor is in force at a moment."""
        try:
            self._grid.at(start)
        except PriceGapError as gap:
            return gap
        return None

    def _co2e(self, kwh: Fraction, moment: datetime) -> Fraction | None:
        if kwh == 0:
            return Fraction(0)
        return None if self.missing_grid_factor(moment) else kwh * Fraction(self._grid.at(moment))

    def cost_per_m3_at(self, system: str, moment: datetime) -> Fraction:
        """Give the cost of a cubic metre at one moment, times the pressurised share.

        A time-of-use table counts with its mean of the coming year: a rate told at night holds by day too.
        """
        start, end = utc(moment), utc(moment) + timedelta(seconds=1)
        functions = self._functions(system, start, end)
        price = None if functions[0] is None else Fraction(self._electricity.at(start))
        return self._piece(functions, start, end, price).cost_per_m3

    def _functions(self, system: str, start: datetime, end: datetime) -> Functions:
        energy, gas, share = self._systems.get(system, (None, None, None))
        if energy is None and gas is None:
            name = f"specific energy or gas price of system {system}"
            raise PriceGapError(name, start, end)
        return energy, gas, share
