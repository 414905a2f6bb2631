"""Steam lost through a hole and air let into a vacuum: flow, and what it costs where the price is known."""

import math
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from findings.kinds import cost
from findings.kinds.calculations import schemas, warnings
from findings.kinds.calculations.answers import (
    STANDARD_ATMOSPHERE_PA,
    exact,
    flow_answer,
    provenance,
    rounded,
    uncertain,
    value_answer,
)
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.vacuum_leak import pump_inlet_flow_m3_per_s
from findings.physics import steam
from findings.physics.estimate import Estimate
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.safety import CautionKey
from findings.physics.uncertainty import Uncertain, interval

HOLE = {
    "diameter_m": schemas.positive(1e3, "Hole diameter, m."),
    "diameter_u_m": {**schemas.at_least_zero(1.0, "Its standard uncertainty, m."), "default": 0.0},
    "edge": schemas.choice([edge.value for edge in Edge], "Shape of the hole's inlet.", Edge.UNKNOWN.value),
    "discharge_coefficient": schemas.positive(1.0, "Its own coefficient, where known."),
    "discharge_coefficient_u": schemas.at_least_zero(1.0, "Its standard uncertainty."),
}
CURRENCY = {"type": "string", "minLength": 3, "maxLength": 3, "description": "ISO 4217 code of the price."}
HOURS = schemas.exact(8784, "Hours a year under pressure.")

STEAM_LEAK = schemas.inputs(
    ["diameter_m", "pressure_gauge_pa"],
    {
        **HOLE,
        "pressure_gauge_pa": schemas.at_least_zero(1e8, "Pressure of the dry saturated steam, Pa gauge."),
        "pressure_u_pa": schemas.PRESSURE_U,
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "price_per_kg": schemas.exact(10**6, "Price of steam per kg."),
        "currency": CURRENCY,
        "hours_per_year": HOURS,
    },
)
COST_ANSWER = {
    "cost_per_hour": schemas.money("Cost per hour."),
    "currency": {"type": "string", "description": "ISO 4217 code of every figure of money."},
    "cost_per_year": schemas.money("Cost of the hours given."),
}
STEAM_LEAK_ANSWER = schemas.answer(
    {
        **schemas.value_answer("mass_flow", "kg_per_s", "Steam lost, kg/s."),
        **schemas.PROVENANCE,
        "cautions": warnings.CAUTIONS_ANSWER,
    },
    COST_ANSWER,
)

VACUUM_LEAK = schemas.inputs(
    ["diameter_m", "line_absolute_pa"],
    {
        **HOLE,
        "line_absolute_pa": {
            "type": "number",
            "minimum": 1,
            "maximum": 1e9,
            "description": "Pressure in the line, Pa absolute.",
        },
        "line_u_pa": schemas.PRESSURE_U,
        "line_temperature_k": {**schemas.TEMPERATURE, "description": "Temperature at the pump's inlet, K."},
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "atmosphere_u_pa": schemas.PRESSURE_U,
        "temperature_k": {**schemas.TEMPERATURE, "description": "Temperature of the room, K."},
        "temperature_u_k": schemas.TEMPERATURE_U,
        "pump_specific_energy_j_per_m3": schemas.exact(
            10**9,
            "The pump's own energy per m3 of inlet flow at this pressure, J/m3; no compressor's figure.",
        ),
        "price_per_kwh": schemas.exact(10**9, "Price of electricity per kWh."),
        "currency": CURRENCY,
        "hours_per_year": HOURS,
    },
)
VACUUM_LEAK_ANSWER = schemas.answer(
    {
        **schemas.FLOW_ANSWER,
        **schemas.value_answer("pump_inlet_flow", "m3_per_s", "What the pump must take, m3/s at its inlet."),
        "regime": schemas.result("choked: a deeper vacuum lets no more in. Null where refused.", "string"),
        "cautions": warnings.CAUTIONS_ANSWER,
    },
    {"pump_power_w": schemas.money("Power that the pump takes for it, W."), **COST_ANSWER},
)


def _opening(data: Mapping[str, Any]) -> Opening:
    """Return the hole of the input."""
    own = None
    if "discharge_coefficient" in data:
        own = uncertain(data, "discharge_coefficient", "discharge_coefficient_u")
    return Opening(uncertain(data, "diameter_m", "diameter_u_m"), Edge(data.get("edge", Edge.UNKNOWN)), own)


def _price(data: Mapping[str, Any], name: str) -> Decimal | None:
    """Return the price of the input; raises InvalidInput where only price or currency is given."""
    if (name in data) != ("currency" in data):
        missing = "currency" if name in data else name
        raise InvalidInput(
            Problem(f"/{missing}", f"is required beside {name if name in data else 'currency'}")
        )
    return exact(data, name)


def _costs(hourly: Decimal | None, data: Mapping[str, Any]) -> Json:
    """Return what a loss costs; null where there is no figure to cost."""
    hours = exact(data, "hours_per_year")
    result: Json = {
        "cost_per_hour": None if hourly is None else rounded(hourly, "0.000001"),
        "currency": data["currency"],
    }
    if hours is not None:
        result["cost_per_year"] = None if hourly is None else rounded(cost.product(hourly, hours), "0.01")
    return result


def steam_leak(data: Mapping[str, Any]) -> Json:
    """Return the steam lost through a hole, and its cost where a price is given."""
    price = _price(data, "price_per_kg")
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    gauge = uncertain(data, "pressure_gauge_pa", "pressure_u_pa")
    estimate = steam.steam_flow(_opening(data), gauge._replace(value=gauge.value + atmosphere), atmosphere)
    result = {
        **value_answer(estimate, "mass_flow", "kg_per_s"),
        **provenance(estimate),
        "cautions": warnings.of_keys(CautionKey.STEAM, CautionKey.ISOLATE, CautionKey.HEARING),
    }
    if price is not None:
        lost = None if estimate.value is None else Decimal(repr(estimate.value))
        result |= _costs(None if lost is None else cost.mass_cost_per_hour(lost, price), data)
    return result


def vacuum_leak(data: Mapping[str, Any]) -> Json:
    """Return the air let in, what the pump must take of it, and its power and cost where they can be told."""
    price, energy = _price(data, "price_per_kwh"), exact(data, "pump_specific_energy_j_per_m3")
    if price is not None and energy is None:
        text = "is required for a cost: the pump's own figure, not a compressor's"
        raise InvalidInput(Problem("/pump_specific_energy_j_per_m3", text))
    line = uncertain(data, "line_absolute_pa", "line_u_pa")
    conditions = Conditions(
        uncertain(data, "atmosphere_absolute_pa", "atmosphere_u_pa", STANDARD_ATMOSPHERE_PA),
        line.value,
        uncertain(data, "temperature_k", "temperature_u_k", 293.15),
    )
    estimate = leak_flow(_opening(data), conditions, GASES["air"])
    inlet = _at_pump(estimate, line, float(data.get("line_temperature_k", 293.15)))
    result = {
        **flow_answer(estimate),
        **value_answer(inlet, "pump_inlet_flow", "m3_per_s"),
        "regime": estimate.inputs.get("regime"),
        "cautions": warnings.of_keys(CautionKey.VACUUM, CautionKey.ISOLATE),
    }
    if energy is not None:
        taken = None if inlet.value is None else Decimal(repr(inlet.value))
        power = None if taken is None else rounded(cost.power_w(taken, energy), "0.001")
        result["pump_power_w"] = power
        if price is not None:
            result |= _costs(None if taken is None else cost.cost_per_hour(taken, energy, price), data)
    return result


def _at_pump(estimate: Estimate, line: Uncertain, temperature_k: float) -> Estimate:
    """Return the inflow as the pump sees it, unsure by the line's pressure too; a refusal stays one."""
    if estimate.value is None or estimate.u is None:
        return estimate
    taken, u = (
        pump_inlet_flow_m3_per_s(flow, line.value, temperature_k) for flow in (estimate.value, estimate.u)
    )
    u = math.hypot(u, taken * line.relative)
    bounds = interval(taken, u, floor=0.0)
    return replace(estimate, value=taken, u=u, low=bounds.low, high=bounds.high)


ROWS = (
    Calculation(
        "steam-leak",
        "Steam lost through a hole",
        steam_leak,
        STEAM_LEAK,
        STEAM_LEAK_ANSWER,
        {
            "diameter_m": 0.003,
            "diameter_u_m": 0.0003,
            "pressure_gauge_pa": 800000.0,
            "pressure_u_pa": 20000.0,
            "price_per_kg": "0.032",
            "currency": "EUR",
            "hours_per_year": "8000",
        },
        "Napier's formula (API 520 part 1), dry saturated steam: an upper bound.",
    ),
    Calculation(
        "vacuum-leak",
        "Air let into a vacuum, and what the pump takes for it",
        vacuum_leak,
        VACUUM_LEAK,
        VACUUM_LEAK_ANSWER,
        {
            "diameter_m": 0.002,
            "diameter_u_m": 0.0002,
            "line_absolute_pa": 20000.0,
            "line_u_pa": 1000.0,
            "pump_specific_energy_j_per_m3": "45000",
            "price_per_kwh": "0.19",
            "currency": "EUR",
            "hours_per_year": "6000",
        },
        "Isentropic nozzle (ISO 9300 form) from the room; the pump's own energy per m3 at its inlet.",
    ),
)
