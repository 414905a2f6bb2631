"""The two figures of a finding: what its air is worth at full load, and what a repair is expected to save.

They are never mixed, and the second is never taken as equal to the first: only the machine that trims answers
to a repair, by its own part load. A gas that is bought is saved whole.
"""

from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final

from findings.kinds.base import Medium
from findings.kinds.pricing import SupplyState
from findings.physics.emissions import Factor
from findings.physics.uncertainty import Uncertain
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

DRAWS: Final = 2
"""No interval is shown beside these figures, so the spread isn't worked out."""
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


def finding_cost(rate_m3_per_s: Decimal, supply: SupplyState, known: Known, station: Station) -> FindingCost:
    """Return what a leak rate (1 bar, 20 °C, dry) is worth, and what taking it away is expected to save."""
    values = numbers(known)
    charge = known.get(Quantity.DEMAND_CHARGE_PER_KW_MONTH)
    used = [one for one in known.values() if one.quantity in MONEY and one is not charge]
    full_load = cost_now(rate_m3_per_s, supply, values)
    expected = _expected(rate_m3_per_s, supply, values, station)
    figures = (demand_charge_per_month(figure, values) for figure in (full_load, expected))
    return FindingCost(
        full_load=full_load,
        expected=expected,
        prices=tuple(sorted(used, key=lambda one: one.quantity)),
        factors=factors_of(known, supply.medium),
        demand=None if charge is None else DemandCost(charge, *figures),
    )


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
    rate: Decimal, supply: SupplyState, values: dict[Quantity, Decimal], station: Station
) -> CostNow:
    medium = supply.medium
    if Quantity.SPECIFIC_ENERGY_J_PER_M3 not in values and medium not in MADE_BY_MACHINES:
        if not buys_gas(values):
            return cost_of(Lost(rate, None, supply), values)
        whole = cost_of(Lost(rate, None, supply), values)
        text = "The gas is bought: what doesn't leak any more is saved whole."
        return replace(whole, reasons=(*whole.reasons, Missing("bought_gas_saved_whole", text)))
    if medium is Medium.VACUUM:
        text = "What a vacuum pump saves at part load isn't worked out; only the full-load figure is given."
        return no_cost("vacuum_not_modelled", text)
    demand = values.get(Quantity.MEAN_DEMAND_M3_PER_S)
    saving = station.saving(None if demand is None else float(demand), Uncertain(float(rate)), draws=DRAWS)
    told = tuple(Missing(*reason) for reason in saving.reasons if reason.code != "monte_carlo")
    if saving.marginal_w is None or saving.average_w is None:
        return CostNow(reasons=told)
    power = Decimal(repr(saving.marginal_w))
    found = cost_of(Lost(rate, power, supply), values)
    remarks = (*(Missing(*reason) for reason in station.remarks), *_bases(rate, saving.average_w, values))
    return replace(found, reasons=(*found.reasons, *told, *remarks))


def _bases(rate: Decimal, rated_w: float, values: dict[Quantity, Decimal]) -> tuple[Missing, ...]:
    """Say where the stated specific energy and the machines' ratings tell different things."""
    stated = values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
    rated = rated_w / float(rate)
    if stated is None or abs(rated / float(stated) - 1.0) <= NOTABLE_DIFFERENCE:
        return ()
    text = (
        f"The machines' ratings make {rated / 1000.0:.0f} kJ/m³ at full load, the specific energy in force "
        f"says {float(stated) / 1000.0:.0f}: the two figures stand on different ground until one is measured."
    )
    return (Missing("specific_energy_differs", text),)
