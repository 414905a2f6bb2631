"""The two figures of a finding: what its air is worth at full load, and what a repair is expected to save.

They are never mixed, and the second is never taken as equal to the first: only the machine that trims answers
to a repair, by its own part load. A gas that is bought is saved whole.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final, NamedTuple

from findings.kinds.base import Medium
from findings.kinds.pricing import SupplyState
from findings.physics.emissions import Factor
from findings.physics.marginal_saving import DRAWS, Saving
from findings.physics.uncertainty import COVERAGE_95, Uncertain
from findings.register.rules.costing import (
    WARMING,
    CostNow,
    Lost,
    Missing,
    buys_gas,
    cost_now,
    cost_of,
    demand_charge_per_month,
    no_cost,
)
from findings.supply.rules import MONEY, InForce, Known, Quantity, Station, numbers

WITHOUT_INTERVAL: Final = 2
"""Draws where no interval is asked for, so that a long list doesn't wait for spreads that nobody sees."""
NOTABLE_DIFFERENCE: Final = 0.10
MADE_BY_MACHINES: Final = frozenset({Medium.COMPRESSED_AIR, Medium.VACUUM})


@dataclass(frozen=True, slots=True)
class DemandCost:
    """What each figure's power adds to a month's demand charge; shown beside the cost, never in it."""

    charge: InForce
    full_load_per_month: Decimal | None
    expected_per_month: Decimal | None


@dataclass(frozen=True, slots=True)
class FindingCost:
    """Both figures of a finding, and the prices and emission factors they stand on."""

    full_load: CostNow
    expected: CostNow
    prices: tuple[InForce, ...] = field(default=())
    factors: tuple[Factor, ...] = field(default=())
    demand: DemandCost | None = None


def without_cost(code: str, text: str) -> FindingCost:
    """Return the refusal of both figures for one reason."""
    nothing = no_cost(code, text)
    return FindingCost(nothing, nothing)


class LeakRate(NamedTuple):
    """A leak's flow in m3/s at 1 bar, 20 °C, dry, with its 95 % interval where that is known."""

    value: Decimal
    low: Decimal | None = None
    high: Decimal | None = None

    @property
    def bounds(self) -> tuple[Decimal, Decimal] | None:
        """Return the interval, None where half of it is missing."""
        return None if self.low is None or self.high is None else (self.low, self.high)

    def uncertain(self) -> Uncertain:
        """Return the flow with the standard uncertainty behind its interval's upper half."""
        u = 0.0 if self.bounds is None else float(self.bounds[1] - self.value) / COVERAGE_95
        return Uncertain(float(self.value), max(u, 0.0))


def finding_cost(rate: LeakRate, supply: SupplyState, known: Known, station: Station) -> FindingCost:
    """Return what a leak is worth, and what taking it away is expected to save.

    Money has an interval where the rate has one; the prices are taken as known.
    """
    values = numbers(known)
    charge = known.get(Quantity.DEMAND_CHARGE_PER_KW_MONTH)
    used = [one for one in known.values() if one.quantity in MONEY and one is not charge]
    full_load = _full_load(rate, supply, values)
    expected = _expected(rate, supply, values, station)
    figures = (demand_charge_per_month(figure, values) for figure in (full_load, expected))
    return FindingCost(
        full_load=full_load,
        expected=expected,
        prices=tuple(sorted(used, key=lambda one: one.quantity)),
        factors=factors_of(known, supply.medium),
        demand=None if charge is None else DemandCost(charge, *figures),
    )


def _full_load(rate: LeakRate, supply: SupplyState, values: dict[Quantity, Decimal]) -> CostNow:
    found, *ends = (cost_now(one, supply, values) for one in (rate.value, *(rate.bounds or ())))
    return _between(found, ends)


def _between(found: CostNow, ends: list[CostNow]) -> CostNow:
    """Return a figure with the interval between two others."""
    if found.per_hour is None or len(ends) != 2:
        return found
    return replace(found, low_per_hour=ends[0].per_hour, high_per_hour=ends[1].per_hour)


def factors_of(known: Known, medium: Medium) -> tuple[Factor, ...]:
    """Return the emission factors that a figure stands on, with source and year."""
    found = []
    grid = known.get(Quantity.GRID_FACTOR_KG_PER_KWH)
    if grid is not None and (Quantity.SPECIFIC_ENERGY_J_PER_M3 in known or medium in MADE_BY_MACHINES):
        year = grid.source_year or grid.from_at.year
        found.append(Factor(grid.value, "kg CO2e/kWh", grid.source, year))
    if medium in WARMING:
        found.append(WARMING[medium])
    return tuple(found)


def _expected(
    rate: LeakRate, supply: SupplyState, values: dict[Quantity, Decimal], station: Station
) -> CostNow:
    medium = supply.medium
    if Quantity.SPECIFIC_ENERGY_J_PER_M3 not in values and medium not in MADE_BY_MACHINES:
        whole = _full_load(rate, supply, values)
        text = "The gas is bought: what doesn't leak any more is saved whole."
        if not buys_gas(values):
            return whole
        return replace(whole, reasons=(*whole.reasons, Missing("bought_gas_saved_whole", text)))
    if medium is Medium.VACUUM:
        text = "What a vacuum pump saves at part load isn't worked out; only the full-load figure is given."
        return no_cost("vacuum_not_modelled", text)
    demand = values.get(Quantity.MEAN_DEMAND_M3_PER_S)
    saving = station.saving(
        None if demand is None else float(demand),
        rate.uncertain(),
        draws=WITHOUT_INTERVAL if rate.bounds is None else DRAWS,
    )
    told = tuple(Missing(*reason) for reason in saving.reasons if rate.bounds or reason.code != "monte_carlo")
    if saving.marginal_w is None or saving.average_w is None:
        return CostNow(reasons=told)
    found = _saved(rate, saving, Lost(rate.value, None, supply), values)
    remarks = (*(Missing(*reason) for reason in station.remarks), *_bases(rate, saving.average_w, values))
    return replace(found, reasons=(*found.reasons, *told, *remarks))


def _saved(rate: LeakRate, saving: Saving, lost: Lost, values: dict[Quantity, Decimal]) -> CostNow:
    """Return the money of a saving in W and of the flow with it, between its bounds."""
    flows, watts = (rate.value, *(rate.bounds or ())), (saving.marginal_w, saving.low, saving.high)
    found, *ends = (
        cost_of(lost._replace(rate_m3_per_s=flow, power_w=Decimal(repr(power))), values)
        for flow, power in zip(flows, watts, strict=False)
    )
    return _between(found, ends)


def _bases(rate: LeakRate, rated_w: float, values: dict[Quantity, Decimal]) -> tuple[Missing, ...]:
    """Say where the stated specific energy and the machines' ratings tell different things."""
    stated = values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
    rated = rated_w / float(rate.value)
    if stated is None or abs(rated / float(stated) - 1.0) <= NOTABLE_DIFFERENCE:
        return ()
    text = (
        f"The machines' ratings make {rated / 1000.0:.0f} kJ/m³ at full load, the specific energy in force "
        f"says {float(stated) / 1000.0:.0f}: the two figures stand on different ground until one is measured."
    )
    return (Missing("specific_energy_differs", text),)
