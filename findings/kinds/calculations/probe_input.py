"""Contact-probe readings and baselines in the input of a calculation."""

from collections.abc import Mapping, Sequence
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import number
from findings.kinds.calculations.calculation import Json
from findings.physics.wear_baseline import Baseline, Setting, WearReading, baseline

MOST_READINGS = 500
CONFIRMED = "confirmed"


def label(description: str) -> schemas.Schema:
    """Return the schema of a short text."""
    return {"type": "string", "minLength": 0, "maxLength": 60, "description": description}


LEVEL = {"type": "number", "minimum": -200, "maximum": 300, "description": "Level by contact probe, dB."}
SETTING = {
    "instrument": label("The instrument; levels of two instruments never mix."),
    "probe": label("The probe."),
    "contact": label("How it touches, such as held by hand or by magnet."),
    "speed_hz": schemas.positive(5000.0, "Shaft speed, turns per second."),
    "load": schemas.at_least_zero(3.0, "Load as a part of rated load."),
}
DAY = {"type": "number", "minimum": -1e5, "maximum": 1e5, "description": "Day, counted from any day zero."}
READING = schemas.inputs(["level_db"], {"level_db": LEVEL, **SETTING})
DATED_READING = schemas.inputs(["day", "level_db"], {"day": DAY, "level_db": LEVEL, **SETTING})
GOOD_STATE = schemas.choice(
    [CONFIRMED, "not_confirmed"], "Whether the machine was known to be good at the baseline.", "not_confirmed"
)


def readings_schema(item: schemas.Schema, description: str, least: int = 0) -> schemas.Schema:
    """Return the schema of a list of readings."""
    return {
        "type": "array",
        "minItems": least,
        "maxItems": MOST_READINGS,
        "items": item,
        "description": description,
    }


BASELINE = {
    "baseline_readings": readings_schema(READING, "Readings of the point while its machine was good."),
    "good_state": GOOD_STATE,
}
COMMON = {
    name: {**field, "description": f"For readings without their own: {field['description']}"}
    for name, field in SETTING.items()
}


def reading_of(item: Mapping[str, Any], common: Mapping[str, Any]) -> WearReading:
    """Return a reading, taking from ``common`` what it doesn't tell itself."""
    told = {**common, **item}
    setting = Setting(*(str(told.get(name, "")) for name in Setting._fields))
    return WearReading(float(item["level_db"]), setting, number(told, "speed_hz"), number(told, "load"))


def readings_of(items: Sequence[Mapping[str, Any]], common: Mapping[str, Any]) -> list[WearReading]:
    """Return the readings of a list."""
    return [reading_of(item, common) for item in items]


def baseline_of(data: Mapping[str, Any]) -> Baseline | None:
    """Return the baseline of an input with the fields of ``BASELINE``; None without any reading."""
    taken = readings_of(data.get("baseline_readings", ()), data)
    if not taken:
        return None
    return baseline(taken, good_state_confirmed=data.get("good_state") == CONFIRMED)


def levels(*levels_db: float) -> list[Json]:
    """Return readings that tell their level only, for an example."""
    return [{"level_db": level} for level in levels_db]
