"""What a release does to a room: screening for the competent person, with the cautions that go with it."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas, warnings
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, provenance, uncertain, value_answer
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.physics import room_air, safety

GRADES = {
    "continuous": safety.PRIMARY_RELEASE_FACTOR,
    "primary": safety.PRIMARY_RELEASE_FACTOR,
    "secondary": safety.SECONDARY_RELEASE_FACTOR,
}
GAS = schemas.choice(list(room_air.GAS_KEYS), "The gas that is released.")
ROOM_FLOWS = {
    "release_m3_per_s": schemas.positive(1e4, "Release at the room's pressure and temperature, m3/s."),
    "release_u_m3_per_s": {**schemas.at_least_zero(1e4, "Its standard uncertainty, m3/s."), "default": 0.0},
    "air_m3_per_s": schemas.at_least_zero(1e4, "Fresh air, m3/s; 0 for none."),
    "air_u_m3_per_s": {**schemas.at_least_zero(1e4, "Its standard uncertainty, m3/s."), "default": 0.0},
}
VOLUME = schemas.positive(1e7, "Volume of the room, m3.")
TIME = schemas.positive(1e8, "Time since the release began, s.")

DILUTION_AIR = schemas.inputs(
    ["gas", "release_kg_per_s"],
    {
        "gas": GAS,
        "release_kg_per_s": schemas.positive(1e4, "Release, kg/s."),
        "release_u_kg_per_s": {
            **schemas.at_least_zero(1e4, "Its standard uncertainty, kg/s."),
            "default": 0.0,
        },
        "grade": schemas.choice(
            list(GRADES), "Grade of the release: part 0.25 of the limit, 0.5 for a secondary one.", "primary"
        ),
        "factor": schemas.positive(1.0, "Part of the limit aimed at, in place of the grade's."),
        "temperature_k": {**schemas.TEMPERATURE, "description": "Temperature of the air, K."},
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
    },
)
LIMITS = schemas.listing(
    schemas.answer(
        {
            "lower": {"type": "number", "description": "Lower flammable limit, volume fraction."},
            "upper": {"type": "number", "description": "Upper flammable limit, volume fraction."},
            "source": {"type": "string", "description": "Where it is published."},
        }
    ),
    "Flammable limits held for this gas; the lowest lower one counts.",
)
SCREENING = {**schemas.PROVENANCE, "limits": LIMITS, "cautions": warnings.CAUTIONS_ANSWER}
DILUTION_AIR_ANSWER = schemas.answer(
    {
        **schemas.value_answer(
            "least_fresh_air", "m3_per_s", "Least fresh air for the mean of the room, m3/s."
        ),
        "lower_limit": schemas.result("Lower flammable limit taken, volume fraction."),
        "lower_limit_kg_per_m3": schemas.result("The same as mass of gas per m3 of air."),
        "factor": {"type": "number", "description": "Part of the limit aimed at."},
        **SCREENING,
    }
)

ROOM_CONCENTRATION = schemas.inputs(
    ["gas", "release_m3_per_s", "air_m3_per_s", "volume_m3", "time_s"],
    {
        "gas": GAS,
        **ROOM_FLOWS,
        "volume_m3": VOLUME,
        "time_s": TIME,
        "mixing": {
            **schemas.positive(1.0, "Part of the fresh air that does its work; lower where it mixes poorly."),
            "default": 1.0,
        },
    },
)
ROOM_CONCENTRATION_ANSWER = schemas.answer(
    {
        **schemas.value_answer("concentration", "", "Mean concentration, volume fraction."),
        "part_of_limit": schemas.result("The same as a part of the lower flammable limit."),
        **SCREENING,
    }
)

ROOM_OXYGEN = schemas.inputs(
    ["gas", "release_m3_per_s", "air_m3_per_s"],
    {"gas": GAS, **ROOM_FLOWS, "volume_m3": VOLUME, "time_s": TIME},
)
ROOM_OXYGEN_ANSWER = schemas.answer(
    {
        **schemas.value_answer("oxygen", "", "Mean oxygen, volume fraction."),
        "oxygen_state": schemas.result(
            "deficient below 0.195, enriched above 0.235, else normal, by the interval's worse end.", "string"
        ),
        **schemas.PROVENANCE,
        "cautions": warnings.CAUTIONS_ANSWER,
    }
)


def dilution_air(data: Mapping[str, Any]) -> Json:
    """Return the least fresh air for a release of flammable gas."""
    if "factor" in data and "grade" in data:
        raise InvalidInput(Problem("/factor", "give it or the grade, not both"))
    factor = float(data.get("factor", GRADES[data.get("grade", "primary")]))
    estimate = room_air.dilution_air(
        data["gas"],
        uncertain(data, "release_kg_per_s", "release_u_kg_per_s"),
        factor=factor,
        temperature_k=float(data.get("temperature_k", 293.15)),
        atmosphere_pa=float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA)),
    )
    return {
        **value_answer(estimate, "least_fresh_air", "m3_per_s"),
        "lower_limit": estimate.inputs.get("lower_limit"),
        "lower_limit_kg_per_m3": estimate.inputs.get("lower_limit_kg_per_m3"),
        "factor": factor,
        **provenance(estimate),
        **_beside(data["gas"]),
    }


def room_concentration(data: Mapping[str, Any]) -> Json:
    """Return the concentration in a room some time after a small release began."""
    estimate = room_air.concentration(
        data["gas"],
        uncertain(data, "release_m3_per_s", "release_u_m3_per_s"),
        uncertain(data, "air_m3_per_s", "air_u_m3_per_s"),
        volume_m3=float(data["volume_m3"]),
        time_s=float(data["time_s"]),
        mixing=float(data.get("mixing", 1.0)),
    )
    return {
        **value_answer(estimate, "concentration"),
        "part_of_limit": estimate.inputs["part_of_limit"],
        **provenance(estimate),
        **_beside(data["gas"]),
    }


def room_oxygen(data: Mapping[str, Any]) -> Json:
    """Return the oxygen of a room beside a release that displaces or adds it."""
    estimate = room_air.oxygen(
        data["gas"],
        uncertain(data, "release_m3_per_s", "release_u_m3_per_s"),
        uncertain(data, "air_m3_per_s", "air_u_m3_per_s"),
        volume_m3=data.get("volume_m3"),
        time_s=data.get("time_s"),
    )
    return {
        **value_answer(estimate, "oxygen"),
        "oxygen_state": estimate.inputs["oxygen_state"],
        **provenance(estimate),
        "cautions": warnings.of_release(data["gas"]),
    }


def _beside(gas: str) -> Json:
    """Return the limits and cautions of a gas."""
    rows = safety.FLAMMABLE_LIMITS.get(gas, ())
    return {"limits": [row._asdict() for row in rows], "cautions": warnings.of_release(gas)}


ROWS = (
    Calculation(
        "dilution-air",
        "Least fresh air for a release of flammable gas",
        dilution_air,
        DILUTION_AIR,
        DILUTION_AIR_ANSWER,
        {"gas": "methane", "release_kg_per_s": 0.0002, "release_u_kg_per_s": 0.00004, "grade": "secondary"},
        "Form of the earlier EN 60079-10, from memory: for the competent person, never a clearance.",
    ),
    Calculation(
        "room-concentration",
        "Concentration in a room after a small release",
        room_concentration,
        ROOM_CONCENTRATION,
        ROOM_CONCENTRATION_ANSWER,
        {
            "gas": "propane",
            "release_m3_per_s": 0.0001,
            "air_m3_per_s": 0.08,
            "volume_m3": 120.0,
            "time_s": 1800.0,
        },
        "Balance of a mixed room: an estimate for the competent person, never a clearance.",
    ),
    Calculation(
        "room-oxygen",
        "Oxygen of a room beside a release",
        room_oxygen,
        ROOM_OXYGEN,
        ROOM_OXYGEN_ANSWER,
        {"gas": "nitrogen", "release_m3_per_s": 0.004, "release_u_m3_per_s": 0.0008, "air_m3_per_s": 0.06},
        "Balance of a mixed room, limits of 29 CFR 1910.146(b): an estimate, never a clearance.",
    ),
)
