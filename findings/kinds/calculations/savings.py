"""What a repaired leak really saves, by the machine that trims."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from findings.kinds import cost
from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import exact, provenance, rounded, uncertain
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.calculations.tariff_input import CURRENCY
from findings.physics.machine_group import MOST_MACHINES, PRESSURE_BAND_PA, Machine
from findings.physics.marginal_saving import group_saving
from findings.physics.part_load import Control

MOST_POINTS: Final = 30
U: Final = "Its standard uncertainty"

MACHINE: Final = schemas.member(
    ["key", "control", "rated_flow_m3_per_s", "rated_power_w"],
    {
        "key": schemas.text("Its name."),
        "control": schemas.choice([control.value for control in Control], "How it follows demand."),
        "rated_flow_m3_per_s": schemas.between(1e-6, 1000.0, "Full flow, free air, m3/s."),
        "rated_power_w": schemas.between(1.0, 1e8, "Power at full load, W."),
        "unloaded_share": schemas.at_least_zero(1.0, "Measured power share at no flow."),
        "least_share": schemas.between(0.01, 0.95, "Flow share of its least speed, or of its blow-down."),
        "storage_m3": schemas.between(1e-6, 1e5, "Storage it loads and unloads on, m3; else ample."),
        "band_pa": {**schemas.between(1.0, 1e6, "Its pressure band, Pa."), "default": PRESSURE_BAND_PA},
        "points": schemas.listed(
            schemas.member(
                ["flow_share", "power_share"],
                {
                    "flow_share": schemas.at_least_zero(1.0, "Flow over full flow."),
                    "power_share": schemas.at_least_zero(1.5, "Power over full-load power."),
                },
                "One measured point.",
            ),
            "The site's own part-load points, rising; they hold instead of every default.",
            MOST_POINTS,
            2,
        ),
        "order": {
            "type": "integer",
            "minimum": 1,
            "maximum": 1000,
            "default": 1,
            "description": "Place in the loading order; 1 runs first.",
        },
    },
    "A compressor.",
)
MACHINES: Final = schemas.listed(MACHINE, "The machines of the network.", MOST_MACHINES, 1)
MONEY: Final = {
    "hours_per_year": schemas.exact(8784, "Hours a year that the leak runs at this load."),
    "price_per_kwh": schemas.exact(10**6, "Price of electricity per kWh."),
    "currency": CURRENCY,
}

MARGINAL_SAVING = schemas.inputs(
    ["machines", "demand_m3_per_s", "leak_flow_m3_per_s"],
    {
        "machines": MACHINES,
        "demand_m3_per_s": schemas.between(1e-9, 1e4, "What the network delivers now, leak included, m3/s."),
        "leak_flow_m3_per_s": schemas.between(1e-9, 1e4, "The leak, free air, m3/s."),
        "leak_flow_u_m3_per_s": {**schemas.at_least_zero(1e4, f"{U}, m3/s."), "default": 0.0},
        **MONEY,
    },
)

MARGINAL_SAVING_ANSWER = schemas.answer(
    {
        "full_load_power_w": schemas.result("What the leak is worth at the running machines' full load, W."),
        "full_load_u_w": schemas.result("Its standard uncertainty, W."),
        "expected_power_w": schemas.result("What the meter will show less after the repair, W."),
        "expected_u_w": schemas.result("Its standard uncertainty, W."),
        "expected_shared_u_w": schemas.result("The part of it that all leaks of the network share, W."),
        "expected_low_w": schemas.result("Lower end of its 95 % interval, without any step, W."),
        "expected_high_w": schemas.result("Upper end of its 95 % interval, W."),
        "proportional_power_w": schemas.result("The leak's part of today's power, W; no saving."),
        "step_power_w": schemas.result("Part of it that needs a machine to be switched off, W."),
        "marginal_factor": schemas.result("Expected over full-load value."),
        "trim_machine": schemas.result("The machine that answers.", "string"),
        "loads": schemas.listing(
            schemas.answer(
                {
                    "key": {"type": "string", "description": "The machine."},
                    "flow_share": schemas.result("Its flow over its full flow before the repair."),
                    "power_w": schemas.result("Its power before the repair, W."),
                }
            ),
            "The machines before the repair, in loading order.",
        ),
        **schemas.PROVENANCE,
    },
    {
        "full_load_cost_per_year": schemas.money("The full-load value of the hours given."),
        "expected_saving_per_year": schemas.money("The expected saving of the hours given."),
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
    },
)


def machine_of(data: Mapping[str, Any]) -> Machine:
    """Return a machine of the input."""
    points = tuple(
        (float(point["flow_share"]), float(point["power_share"])) for point in data.get("points", ())
    )
    return Machine(
        data["key"],
        data["control"],
        float(data["rated_flow_m3_per_s"]),
        float(data["rated_power_w"]),
        data.get("unloaded_share"),
        data.get("least_share"),
        data.get("storage_m3"),
        points or None,
        data.get("order", 1),
        float(data.get("band_pa", PRESSURE_BAND_PA)),
    )


def marginal_saving(data: Mapping[str, Any]) -> Json:
    """Return a leak's full-load value and the saving to expect from its repair."""
    leak = uncertain(data, "leak_flow_m3_per_s", "leak_flow_u_m3_per_s")
    saving = group_saving([machine_of(one) for one in data["machines"]], float(data["demand_m3_per_s"]), leak)
    result: Json = {
        "full_load_power_w": saving.average_w,
        "full_load_u_w": saving.average_u_w,
        "expected_power_w": saving.marginal_w,
        "expected_u_w": saving.u_w,
        "expected_shared_u_w": saving.shared_u_w,
        "expected_low_w": saving.low,
        "expected_high_w": saving.high,
        "proportional_power_w": saving.proportional_w,
        "step_power_w": saving.step_w,
        "marginal_factor": saving.factor,
        "trim_machine": saving.trim,
        "loads": [load._asdict() for load in saving.loads],
        **provenance(saving.estimate()),
    }
    powers = {"full_load_cost_per_year": saving.average_w, "expected_saving_per_year": saving.marginal_w}
    return result | yearly(data, powers)


def yearly(data: Mapping[str, Any], powers_w: Mapping[str, float | None]) -> Json:
    """Return powers in W as money of a year by their names, where hours, price and currency are given."""
    given = [name for name in MONEY if name in data]
    if not given:
        return {}
    if len(given) < len(MONEY):
        raise InvalidInput(Problem("/hours_per_year", f"give all of {', '.join(MONEY)}, or none"))
    hours, price = (exact(data, name) or Decimal(0) for name in ("hours_per_year", "price_per_kwh"))
    sums: Json = {
        name: None
        if power is None
        else rounded(cost.product(Decimal(repr(power)), Decimal("0.001"), hours, price), "0.01")
        for name, power in powers_w.items()
    }
    return sums | {"currency": data["currency"]}


ROWS = (
    Calculation(
        "marginal-saving",
        "What a repaired leak really saves, by the machine that trims",
        marginal_saving,
        MARGINAL_SAVING,
        MARGINAL_SAVING_ANSWER,
        {
            "machines": [
                {
                    "key": "C1",
                    "control": "load_unload",
                    "rated_flow_m3_per_s": 0.2,
                    "rated_power_w": 75000.0,
                    "order": 1,
                },
                {
                    "key": "C2",
                    "control": "variable_speed",
                    "rated_flow_m3_per_s": 0.15,
                    "rated_power_w": 57000.0,
                    "order": 2,
                },
            ],
            "demand_m3_per_s": 0.28,
            "leak_flow_m3_per_s": 0.004,
            "leak_flow_u_m3_per_s": 0.0006,
            "hours_per_year": "6000",
            "price_per_kwh": "0.19",
            "currency": "EUR",
        },
        "Linear part-load model of Schmidt and Kissock (2004), load and unload by cycle; JCGM 100 and 101.",
    ),
)
