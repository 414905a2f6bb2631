"""What-ifs of the network: a lower header pressure, a branch shut off outside working hours."""

from collections.abc import Mapping
from datetime import UTC, datetime
from fractions import Fraction
from typing import Any, Final
from zoneinfo import ZoneInfo

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import exact, provenance, uncertain
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.calculations.savings import MONEY, U, yearly
from findings.kinds.calculations.tariff_input import (
    BANDS,
    CURRENCY,
    DAYS,
    PARTS,
    WEEKLY,
    ZONE,
    parts_told,
    read_calendar,
    read_table,
    read_zone,
    rounded_fraction,
)
from findings.kinds.local_hours import HOUR_US
from findings.kinds.operating_calendar import Outside, microseconds_in
from findings.kinds.tariff import Part, mean_of, parts_of
from findings.physics.branch_shut_off import shut_off_energy_kwh
from findings.physics.estimate import Estimate
from findings.physics.header_pressure import (
    HeaderChange,
    HeaderSaving,
    PointOfUse,
    Supply,
    WorkBasis,
    lower_header,
)
from findings.physics.uncertainty import Uncertain

PRESSURE_WHAT_IF = schemas.inputs(
    ["before_gauge_pa", "after_gauge_pa", "flow_m3_per_s", "power_w", "unregulated_flow_m3_per_s"],
    {
        "before_gauge_pa": schemas.between(100.0, 4e7, "Header pressure now, Pa gauge."),
        "after_gauge_pa": schemas.between(100.0, 4e7, "Header pressure wanted, Pa gauge."),
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "stages": {
            "type": "integer",
            "minimum": 1,
            "maximum": 4,
            "default": 1,
            "description": "Compression stages.",
        },
        "work_basis": schemas.choice(
            [basis.value for basis in WorkBasis],
            "How the work falls with pressure.",
            WorkBasis.ADIABATIC.value,
        ),
        "flow_m3_per_s": schemas.between(1e-6, 1e4, "What the compressors deliver now, free air, m3/s."),
        "flow_u_m3_per_s": {**schemas.at_least_zero(1e4, f"{U}, m3/s."), "default": 0.0},
        "power_w": schemas.between(1.0, 1e9, "What they take now, W."),
        "power_u_w": {**schemas.at_least_zero(1e9, f"{U}, W."), "default": 0.0},
        "unregulated_flow_m3_per_s": schemas.at_least_zero(
            1e4, "Leaks and open use without a regulator, m3/s."
        ),
        "unregulated_flow_u_m3_per_s": {**schemas.at_least_zero(1e4, f"{U}, m3/s."), "default": 0.0},
        "marginal_factor": {
            **schemas.at_least_zero(2.0, "Part of a flow's power really saved."),
            "default": 1.0,
        },
        "marginal_factor_u": {**schemas.at_least_zero(1.0, f"{U}."), "default": 0.0},
        "points_of_use": schemas.listed(
            schemas.member(
                ["name", "least_gauge_pa"],
                {
                    "name": schemas.text("The consumer."),
                    "least_gauge_pa": schemas.at_least_zero(4e7, "Least pressure it needs, Pa gauge."),
                    "loss_pa": {
                        **schemas.at_least_zero(4e7, "Loss from the header to it, Pa."),
                        "default": 0.0,
                    },
                },
                "A consumer that needs a least pressure.",
            ),
            "The neediest consumers.",
            200,
        ),
        **MONEY,
    },
)

_EFFECTS: Final = {
    "less_flow": "less flow through leaks and open use",
    "less_work": "less work per cubic metre",
    "together": "both; less than their sum, since they multiply",
}
PRESSURE_WHAT_IF_ANSWER = schemas.answer(
    {
        **{f"{name}_w": schemas.result(f"Saving by {words}, W.") for name, words in _EFFECTS.items()},
        "together_u_w": schemas.result("Standard uncertainty of both, W."),
        "together_low_w": schemas.result("Lower end of its 95 % interval, W."),
        "together_high_w": schemas.result("Upper end of its 95 % interval, W."),
        "leak_factor": schemas.result("A leak's flow after over before."),
        "work_factor": schemas.result("Work per cubic metre after over before."),
        **schemas.PROVENANCE,
    },
    {
        "saving_per_year": schemas.money("The saving by both in the hours given."),
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
    },
)


def pressure_what_if(data: Mapping[str, Any]) -> Json:
    """Return what a lower header pressure saves, refused where a consumer would starve."""
    change = HeaderChange(
        float(data["before_gauge_pa"]),
        float(data["after_gauge_pa"]),
        float(data.get("atmosphere_absolute_pa", 101_325.0)),
        data.get("stages", 1),
        WorkBasis(data.get("work_basis", WorkBasis.ADIABATIC)),
    )
    supply = Supply(
        uncertain(data, "flow_m3_per_s", "flow_u_m3_per_s"),
        uncertain(data, "power_w", "power_u_w"),
        uncertain(data, "unregulated_flow_m3_per_s", "unregulated_flow_u_m3_per_s"),
        uncertain(data, "marginal_factor", "marginal_factor_u", 1.0),
    )
    points = [
        PointOfUse(one["name"], float(one["least_gauge_pa"]), float(one.get("loss_pa", 0.0)))
        for one in data.get("points_of_use", ())
    ]
    saving = lower_header(change, supply, points)
    return _header_told(saving) | yearly(data, {"saving_per_year": saving.together.value})


def _header_told(saving: HeaderSaving) -> Json:
    both = saving.together
    return {
        "less_flow_w": saving.less_flow.value,
        "less_work_w": saving.less_work.value,
        "together_w": both.value,
        "together_u_w": both.u,
        "together_low_w": both.low,
        "together_high_w": both.high,
        "leak_factor": saving.leak_factor,
        "work_factor": saving.work_factor,
        **provenance(both),
    }


BRANCH_SHUT_OFF = schemas.inputs(
    ["leak_flow_m3_per_s", "specific_energy_j_per_m3", "marginal_factor", "weekly", "time_zone", "year"],
    {
        "leak_flow_m3_per_s": schemas.between(
            1e-9, 1e4, "Leaks of the branch under pressure, free air, m3/s."
        ),
        "leak_flow_u_m3_per_s": {**schemas.at_least_zero(1e4, f"{U}, m3/s."), "default": 0.0},
        "specific_energy_j_per_m3": schemas.between(1.0, 1e8, "Energy per m3 at full load, J/m3."),
        "specific_energy_u_j_per_m3": {**schemas.at_least_zero(1e8, f"{U}, J/m3."), "default": 0.0},
        "marginal_factor": schemas.at_least_zero(2.0, "Part of a flow's full-load power really saved."),
        "marginal_factor_u": {**schemas.at_least_zero(1.0, f"{U}."), "default": 0.0},
        "weekly": {**WEEKLY, "description": "Hours the branch is needed, by weekday."},
        "closed_days": {**DAYS, "description": "Days on which it isn't needed at all."},
        "time_zone": ZONE,
        "year": {"type": "integer", "minimum": 1990, "maximum": 2199, "description": "The year to count."},
        "refilled_m3": {**schemas.at_least_zero(1e6, "Free air that fills it again, m3."), "default": 0.0},
        "refills": {**schemas.at_least_zero(10_000.0, "How often a year it is filled."), "default": 0.0},
        "price_per_kwh": schemas.exact(10**6, "Price of electricity per kWh; or bands."),
        "bands": BANDS,
        "holidays": DAYS,
        "currency": CURRENCY,
    },
)

BRANCH_SHUT_OFF_ANSWER = schemas.answer(
    {
        "hours_shut": schemas.money("Hours of the year that it is shut."),
        "energy_kwh": schemas.result("Energy saved in the year, kWh."),
        "energy_u_kwh": schemas.result("Its standard uncertainty, kWh."),
        "energy_low_kwh": schemas.result("Lower end of its 95 % interval, kWh."),
        "energy_high_kwh": schemas.result("Upper end of its 95 % interval, kWh."),
        **schemas.PROVENANCE,
    },
    {
        "saving": schemas.money("Money saved in the year."),
        "mean_price_per_kwh": schemas.money("Mean price of the hours it is shut."),
        "parts": PARTS,
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
    },
)


def branch_shut_off(data: Mapping[str, Any]) -> Json:
    """Return what shutting a branch off outside its hours saves in a year, at the prices of those hours."""
    zone, calendar = read_zone(data), read_calendar(data)
    if calendar is None:
        raise InvalidInput(Problem("/weekly", "is required"))
    shut = Outside(calendar)
    first, last = (datetime(data["year"] + more, 1, 1, tzinfo=zone).astimezone(UTC) for more in (0, 1))
    hours = Fraction(microseconds_in(shut, first, last, zone), HOUR_US)
    estimate = shut_off_energy_kwh(
        uncertain(data, "leak_flow_m3_per_s", "leak_flow_u_m3_per_s"),
        uncertain(data, "specific_energy_j_per_m3", "specific_energy_u_j_per_m3"),
        uncertain(data, "marginal_factor", "marginal_factor_u"),
        Uncertain(float(hours)),
        refilled_m3=float(data.get("refilled_m3", 0.0)),
        refills=float(data.get("refills", 0.0)),
    )
    result: Json = {
        "hours_shut": rounded_fraction(hours, "0.0001"),
        "energy_kwh": estimate.value,
        "energy_u_kwh": estimate.u,
        "energy_low_kwh": estimate.low,
        "energy_high_kwh": estimate.high,
        **provenance(estimate),
    }
    return result | _priced(data, estimate, shut, (first, last), zone)


def _priced(
    data: Mapping[str, Any],
    estimate: Estimate,
    shut: Outside,
    year: tuple[datetime, datetime],
    zone: ZoneInfo,
) -> Json:
    """Return the money at the flat price or at the table's prices while the branch is shut."""
    if "price_per_kwh" not in data and "bands" not in data:
        return {}
    if "price_per_kwh" in data and "bands" in data:
        raise InvalidInput(Problem("/bands", "give a flat price or bands, not both"))
    if "currency" not in data:
        raise InvalidInput(Problem("/currency", "is required with a price"))
    parts: tuple[Part, ...] = ()
    price: Fraction | None = Fraction(exact(data, "price_per_kwh") or 0)
    if "bands" in data:
        parts = parts_of(read_table(data["bands"], data.get("holidays", [])), *year, zone, shut)
        mean = mean_of(parts)
        price = None if mean is None else mean.price_per_kwh
    energy = None if estimate.value is None else Fraction(estimate.value)
    saved = None if price is None or energy is None else energy * price
    return {
        "saving": None if saved is None else rounded_fraction(saved, "0.01"),
        "mean_price_per_kwh": None if price is None else rounded_fraction(price, "0.000001"),
        "parts": parts_told(parts),
        "currency": data["currency"],
    }


_WEEK: Final = {day: [{"start": "05:30", "end": "22:00"}] for day in ("mon", "tue", "wed", "thu", "fri")}
ROWS = (
    Calculation(
        "pressure-what-if",
        "A lower header pressure: less flow and less work",
        pressure_what_if,
        PRESSURE_WHAT_IF,
        PRESSURE_WHAT_IF_ANSWER,
        {
            "before_gauge_pa": 700000.0,
            "after_gauge_pa": 630000.0,
            "flow_m3_per_s": 0.14,
            "power_w": 60000.0,
            "unregulated_flow_m3_per_s": 0.039,
            "unregulated_flow_u_m3_per_s": 0.006,
            "marginal_factor": 0.75,
            "marginal_factor_u": 0.03,
            "points_of_use": [{"name": "press 4", "least_gauge_pa": 550000.0, "loss_pa": 30000.0}],
            "hours_per_year": "6000",
            "price_per_kwh": "0.15",
            "currency": "EUR",
        },
        "Choked flow with the absolute pressure; adiabatic work, or 1 % per 2 psi of the US DOE sourcebook.",
    ),
    Calculation(
        "branch-shut-off",
        "A branch shut off outside working hours",
        branch_shut_off,
        BRANCH_SHUT_OFF,
        BRANCH_SHUT_OFF_ANSWER,
        {
            "leak_flow_m3_per_s": 0.006,
            "leak_flow_u_m3_per_s": 0.001,
            "specific_energy_j_per_m3": 390000.0,
            "marginal_factor": 0.75,
            "weekly": _WEEK,
            "closed_days": ["2026-12-25"],
            "time_zone": "Europe/Berlin",
            "year": 2026,
            "price_per_kwh": "0.19",
            "currency": "EUR",
        },
        "Leak flow times hours shut times marginal energy times the price of those hours; JCGM 100.",
    ),
)
