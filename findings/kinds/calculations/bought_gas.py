"""What a purchased gas that is lost costs and emits: by kilogram, cubic metre or kilowatt-hour."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from findings.kinds import cost
from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import exact, rounded
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.calculations.tariff_input import CURRENCY
from findings.physics.combustion import burnt_co2_kg_per_kg
from findings.physics.emissions import (
    METHANE_AR5,
    METHANE_AR6,
    METHANE_FOSSIL_AR5,
    METHANE_FOSSIL_AR6,
    Factor,
    vented_co2e_kg,
)
from findings.physics.estimate import Reason
from findings.physics.gases import GASES
from findings.physics.reference_states import DEFAULT_STATE, STATES, density_kg_per_m3

VENTED, BURNT = "vented", "burnt"
METHANE: Final = {
    "AR5": METHANE_AR5,
    "AR5_fossil": METHANE_FOSSIL_AR5,
    "AR6": METHANE_AR6,
    "AR6_fossil": METHANE_FOSSIL_AR6,
}
NO_WARMING: Final = frozenset({"air", "nitrogen", "oxygen", "argon", "hydrogen", "helium"})
CARBON_DIOXIDE: Final = Factor(Decimal(1), "kg CO2e/kg", "by definition of the warming potential", 2021)
PRICES: Final = ("price_per_kg", "price_per_m3", "price_per_kwh")

GAS_COST = schemas.inputs(
    ["gas", "flow_m3_per_s", "hours", "currency"],
    {
        "gas": schemas.choice(list(GASES), "The gas; natural gas as methane."),
        "flow_m3_per_s": schemas.exact(1000, "Lost flow at the reference state, dry, m3/s."),
        "reference_state": schemas.choice(list(STATES), "State of flow and price per m3.", DEFAULT_STATE.key),
        "hours": schemas.exact(10**6, "Hours that it flows."),
        "price_per_kg": schemas.exact(10**9, "Price per kg."),
        "price_per_m3": schemas.exact(10**9, "Price per m3 at the reference state."),
        "price_per_kwh": schemas.exact(10**9, "Price per kWh of heat, with the heating value."),
        "heating_value_kwh_per_kg": schemas.exact(100, "Heating value, kWh/kg."),
        "heating_value_basis": schemas.choice(["higher", "lower"], "Which heating value the bill is by."),
        "fate": schemas.choice([VENTED, BURNT], "A leak is vented; only a flame burns.", VENTED),
        "assessment": schemas.choice(list(METHANE), "Report for methane's warming potential.", "AR6_fossil"),
        "warming_potential": schemas.exact(100_000, "Another one over 100 years, kg CO2e/kg."),
        "warming_source": schemas.text("Report of it.", 200),
        "warming_year": {"type": "integer", "minimum": 1990, "maximum": 2200, "description": "Its year."},
        "currency": CURRENCY,
    },
)
GAS_COST_ANSWER = schemas.answer(
    {
        "mass_kg": schemas.money("Mass lost, kg."),
        "volume_m3": schemas.money("Volume lost at the reference state, m3."),
        "reference_state": schemas.choice(list(STATES), "That state."),
        "cost": schemas.money("What it cost; null where no price was given."),
        "cost_per_hour": schemas.money("The same per hour."),
        "price_basis": schemas.result("Which price was used.", "string"),
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
        "co2e_kg": schemas.money("Emission, kg CO2e; null where it isn't known."),
        "co2e_factor_kg_per_kg": schemas.money("The factor used, kg CO2e per kg of gas."),
        "co2e_source": schemas.result("Report or rule of the factor.", "string"),
        "co2e_year": schemas.result("Its year.", "integer"),
        "reasons": schemas.REASONS,
    },
    {"heat_kwh": schemas.money("Heat lost by the heating value given, kWh.")},
)


def gas_cost(data: Mapping[str, Any]) -> Json:
    """Return mass, cost and emission of a purchased gas."""
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    flow, hours = (exact(data, name) or Decimal(0) for name in ("flow_m3_per_s", "hours"))
    volume = cost.product(flow, cost.SECONDS_PER_HOUR, hours)
    mass = cost.product(volume, Decimal(repr(density_kg_per_m3(GASES[data["gas"]], state))))
    basis, money = _money(data, volume, mass)
    factor, reasons = _factor(data)
    result: Json = {
        "mass_kg": rounded(mass, "0.000001"),
        "volume_m3": rounded(volume, "0.000001"),
        "reference_state": state.key,
        "cost": None if money is None else rounded(money, "0.01"),
        "cost_per_hour": None
        if money is None or not hours
        else rounded(cost.EXACT.divide(money, hours), "0.000001"),
        "price_basis": basis,
        "currency": data["currency"],
        "co2e_kg": None if factor is None else rounded(vented_co2e_kg(mass, factor), "0.001"),
        "co2e_factor_kg_per_kg": None if factor is None else rounded(factor.value, "0.0001"),
        "co2e_source": None if factor is None else factor.source,
        "co2e_year": None if factor is None or not factor.year else factor.year,
        "reasons": [reason._asdict() for reason in reasons],
    }
    heating = exact(data, "heating_value_kwh_per_kg")
    return result if heating is None else result | {"heat_kwh": rounded(cost.product(mass, heating), "0.001")}


def _money(data: Mapping[str, Any], volume: Decimal, mass: Decimal) -> tuple[str | None, Decimal | None]:
    """Return which price was given and what the gas cost by it."""
    given = [name for name in PRICES if name in data]
    if len(given) > 1:
        raise InvalidInput(Problem(f"/{given[1]}", "give one price only"))
    if not given:
        return None, None
    price = exact(data, given[0]) or Decimal(0)
    if given[0] == "price_per_kwh":
        if "heating_value_kwh_per_kg" not in data or "heating_value_basis" not in data:
            text = "a price per kWh needs the heating value and whether it is the higher or the lower one"
            raise InvalidInput(Problem("/heating_value_kwh_per_kg", text))
        return given[0], cost.product(mass, exact(data, "heating_value_kwh_per_kg") or Decimal(0), price)
    return given[0], cost.product(mass if given[0] == "price_per_kg" else volume, price)


def _factor(data: Mapping[str, Any]) -> tuple[Factor | None, list[Reason]]:
    """Return kg CO2e per kg of gas with its report and year, or why there is none."""
    gas, fate = data["gas"], data.get("fate", VENTED)
    own = [name for name in ("warming_potential", "warming_source", "warming_year") if name in data]
    if fate == BURNT:
        if own or "assessment" in data:
            text = "a warming potential is for a gas that escapes; leave it away for one that is burnt"
            raise InvalidInput(Problem("/fate", text))
        return _burnt(gas)
    if own:
        if len(own) < 3:
            text = "a warming potential names its report and its year"
            raise InvalidInput(Problem("/warming_source", text))
        value = exact(data, "warming_potential") or Decimal(0)
        return Factor(value, "kg CO2e/kg", data["warming_source"], data["warming_year"]), []
    if gas == "methane":
        return METHANE[data.get("assessment", "AR6_fossil")], []
    if gas == "carbon_dioxide":
        return CARBON_DIOXIDE, []
    if gas in NO_WARMING:
        text = (
            f"{gas.capitalize()} has no warming potential of its own; making and carrying it is not counted."
        )
        return Factor(Decimal(0), "kg CO2e/kg", "no direct warming potential", 0), [
            Reason("no_warming", text)
        ]
    text = "Its small warming potential isn't held here: report a volatile organic compound, or state one."
    return None, [Reason("warming_unknown", text)]


def _burnt(gas: str) -> tuple[Factor | None, list[Reason]]:
    value = burnt_co2_kg_per_kg(gas)
    if value is None:
        text = f"{gas.replace('_', ' ').capitalize()} brings no carbon to a flame."
        return Factor(Decimal(0), "kg CO2/kg", "stoichiometry", 0), [Reason("no_carbon", text)]
    text = "Counted as burnt whole; a gas that escapes is vented and counts by its warming potential."
    return Factor(value, "kg CO2/kg", "stoichiometry of complete combustion", 0), [
        Reason("burnt_whole", text)
    ]


ROWS = (
    Calculation(
        "gas-cost",
        "Cost and emission of a purchased gas that is lost",
        gas_cost,
        GAS_COST,
        GAS_COST_ANSWER,
        {
            "gas": "methane",
            "flow_m3_per_s": "0.0002",
            "reference_state": "normal",
            "hours": "8760",
            "price_per_kwh": "0.055",
            "heating_value_kwh_per_kg": "15.4",
            "heating_value_basis": "higher",
            "currency": "EUR",
        },
        "Mass at the stated reference; warming potentials of IPCC AR5 and AR6; combustion by stoichiometry.",
    ),
)
