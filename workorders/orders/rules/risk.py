"""What a finding puts at risk: the tables that turn what is known of it into steps of 1 to 5.

Every number here is our judgement and the starting point for a site's own engineer.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from findings.kinds.base import FUEL_GASES, Kind, Medium
from findings.kinds.base import Hazard as Danger
from findings.kinds.cost import cost_per_hour, volume_cost_per_hour
from findings.plant.rules import Criticality
from workorders.orders.rules.priority import ConsequenceArea, Hazard, Reason

STOPPING: Final[Mapping[Criticality, int]] = MappingProxyType(
    {Criticality.A: 4, Criticality.B: 3, Criticality.C: 2}
)
"""Consequence for production of a fault that may stop its machine: wear, discharge, lost vacuum."""

LOSING: Final[Mapping[Criticality, int]] = MappingProxyType(
    {Criticality.A: 3, Criticality.B: 2, Criticality.C: 1}
)
"""Consequence for production of a fault that wastes a medium but lets the machine run."""

COST_OF_KIND: Final[Mapping[Kind, int]] = MappingProxyType(
    {
        Kind.PRESSURE_LEAK: 2,
        Kind.VACUUM_LEAK: 2,
        Kind.ENCLOSURE_LEAK: 1,
        Kind.MECHANICAL_WEAR: 2,
        Kind.ELECTRICAL_DISCHARGE: 2,
    }
)
SAFETY_STEP: Final = 5
GAS_TO_AIR_STEP: Final = 3
"""Consequence for the environment of a fuel gas or carbon dioxide let into the air."""

RATE_STEPS_L_PER_MIN: Final = (2.0, 10.0, 40.0, 120.0)
LEVEL_STEPS_DB: Final = (20.0, 35.0, 50.0, 65.0)
"""The upper ends of the likelihood steps 1 to 4 by leak rate (at 1 bar, 20 °C) and by level."""

UNKNOWN_STEP: Final = 3
SMALL_COST_PER_DAY: Final = Decimal(5)
"""From this loss a day on a finding gets an order unasked: an hour of a trade pays within weeks."""

SERIOUS_SEVERITY: Final = 3
"""From this severity on a finding gets an order unasked."""

_STOPS: Final = frozenset({Kind.MECHANICAL_WEAR, Kind.ELECTRICAL_DISCHARGE, Kind.VACUUM_LEAK})
_FLOOR_OF_DANGER: Final[Mapping[Danger, Hazard]] = MappingProxyType(
    {
        Danger.OXYGEN: Hazard.OXYGEN,
        Danger.INERT: Hazard.SUFFOCATION,
        Danger.STEAM: Hazard.STEAM,
        Danger.ELECTRICAL: Hazard.DISCHARGE,
    }
)


@dataclass(frozen=True, slots=True)
class Prices:
    """The values in force for a supply system, each per m³ lost at 1 bar, 20 °C. None: not recorded."""

    electricity_per_kwh: Decimal | None = None
    specific_energy_j_per_m3: Decimal | None = None
    pressurised_share: Decimal | None = None
    gas_per_m3: Decimal | None = None


def hazard_of(danger: Danger, medium: Medium | None) -> Hazard | None:
    """Name the hazard that sets a floor under the class; an unnamed gas counts as toxic."""
    if danger is Danger.GAS:
        return Hazard.FUEL_GAS if medium in FUEL_GASES else Hazard.TOXIC
    return _FLOOR_OF_DANGER.get(danger)


def harms_of(
    kind: Kind, medium: Medium | None, criticality: Criticality, *, is_safety: bool
) -> dict[ConsequenceArea, int]:
    """Give the consequence of a finding in each area, 1 to 5."""
    stops = kind in _STOPS
    harms = {
        ConsequenceArea.PRODUCTION: (STOPPING if stops else LOSING)[criticality],
        ConsequenceArea.COST: COST_OF_KIND[kind],
    }
    if medium in FUEL_GASES or medium is Medium.CARBON_DIOXIDE:
        harms[ConsequenceArea.ENVIRONMENT] = GAS_TO_AIR_STEP
    if is_safety:
        harms[ConsequenceArea.SAFETY] = SAFETY_STEP
    return harms


def condition_of(
    *,
    severity: int | None,
    leak_rate_m3_per_s: Decimal | None,
    level_db: float | None,
    condition_severity: int | None = None,
) -> tuple[int, Reason | None]:
    """Give the condition, 1 to 5: the worst of the inspector's word, the computed one and the leak rate.

    Where none is known the level tells; with nothing known the middle is taken. Both are said.
    """
    steps = [min(5, max(1, step)) for step in (severity, condition_severity) if step is not None]
    if leak_rate_m3_per_s is not None:
        steps.append(_step(float(leak_rate_m3_per_s) * 60_000.0, RATE_STEPS_L_PER_MIN))
    if steps:
        return max(steps), None
    if level_db is not None:
        return _step(level_db, LEVEL_STEPS_DB), Reason("by_level", "Only the level tells of the condition.")
    return UNKNOWN_STEP, Reason("condition_unknown", "The condition is not known: the middle is taken.")


def _step(value: float, limits: tuple[float, ...]) -> int:
    return 1 + sum(value > limit for limit in limits)


def daily_cost(rate_m3_per_s: Decimal | None, prices: Prices) -> tuple[Decimal | None, Reason | None]:
    """Give what a loss costs per day at the values in force, in the site's currency.

    Electricity and the gas itself add up where a system has both, as in the monthly statements.
    None, with the reason, when the rate or a price is not known. Without a recorded share of time
    under pressure the loss is taken to run all day, and said.
    """
    if rate_m3_per_s is None:
        return None, Reason("rate_missing", "The leak rate is not known, so that the loss has no cost.")
    if prices.gas_per_m3 is None and prices.specific_energy_j_per_m3 is None:
        return None, Reason("price_missing", "No specific energy or gas price is in force for the system.")
    per_hour = Decimal(0)
    if prices.gas_per_m3 is not None:
        per_hour += volume_cost_per_hour(rate_m3_per_s, prices.gas_per_m3)
    if prices.specific_energy_j_per_m3 is not None:
        if prices.electricity_per_kwh is None:
            return None, Reason("price_missing", "No electricity price is in force.")
        per_hour += cost_per_hour(rate_m3_per_s, prices.specific_energy_j_per_m3, prices.electricity_per_kwh)
    if prices.pressurised_share is None:
        return per_hour * 24, Reason("share_assumed", "Taken as under pressure all day.")
    return per_hour * 24 * prices.pressurised_share, None


def rate_that_costs(limit_per_day: Decimal, prices: Prices) -> Decimal | None:
    """Give the leak rate in m³/s above which a loss costs more than a limit per day; None: no such rate."""
    one, _ = daily_cost(Decimal(1), prices)
    return None if one is None or one <= 0 else limit_per_day / one
