"""Airborne levels: the air's absorption, the level at 1 m, the flow by it, and the fit of measured leaks."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from findings.kinds.calculations import level_schemas
from findings.kinds.calculations.answers import flow_answer, provenance
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.level_evidence import OUT, LevelEvidence, flow_from_level, level_at_1_m
from findings.physics.acoustics import air_absorption
from findings.physics.estimate import Reason, refused
from findings.physics.level_form import VERSION
from findings.physics.level_model import (
    METHOD,
    CalibrationPoint,
    LeakFamily,
    LevelModel,
    NotFittable,
    Residual,
    fit,
    is_saturated_leak,
    next_calibration_leak,
    residuals,
)

FARTHEST_SCATTERS = 3.0


def air_absorption_of(data: Mapping[str, Any]) -> Json:
    """Return the absorption of air at a frequency with its interval and accuracy class."""
    air = LevelEvidence(**{"level_db": 0.0} | _reading(data)).air
    estimate = air_absorption(float(data["frequency_hz"]), air)
    known = not estimate.is_refused
    return {
        "absorption_db_per_m": estimate.value,
        "absorption_u_db_per_m": estimate.u,
        "absorption_low_db_per_m": estimate.low,
        "absorption_high_db_per_m": estimate.high,
        "accuracy_class": estimate.inputs.get("accuracy_class"),
        "water_molar_share": air.molar_water if known else None,
        "saturation_pressure_pa": air.saturation_pressure_pa if known else None,
        **provenance(estimate),
    }


def normalise_level_of(data: Mapping[str, Any]) -> Json:
    """Return the leak's own level at 1 m, what the background took and what the air takes."""
    heard = level_at_1_m(LevelEvidence(**_reading(data)))
    estimate = heard.estimate
    reasons = [reason._asdict() for reason in heard.remarks]
    return {
        "level_at_1_m_db": estimate.value,
        "level_u_db": estimate.u,
        "level_low_db": estimate.low,
        "level_high_db": estimate.high,
        "background_correction_db": heard.background.correction_db,
        "background_status": heard.background.status.value,
        "absorption_db_per_m": estimate.inputs.get("absorption_db_per_m"),
        **provenance(estimate),
        "reasons": [*provenance(estimate)["reasons"], *reasons],
    }


def level_to_flow(data: Mapping[str, Any]) -> Json:
    """Return a leak's flow by its level, with the measured leaks that come along, or every reason why not."""
    evidence = LevelEvidence(
        **_reading(data) | _floats(data, ("upstream_absolute_pa", "downstream_absolute_pa")),
        gas=data.get("gas", "air"),
        family=data.get("family", LeakFamily.UNKNOWN),
        absolute_scale=data.get("scale") == level_schemas.ABSOLUTE,
        direction=data.get("direction", OUT),
    )
    leaks = _points(data.get("calibration", []))
    model: LevelModel | None = None
    try:
        model = _fitted(data, leaks, data.get("calibration_family", LeakFamily.HOLE))
        estimate = flow_from_level(evidence, model)
    except NotFittable as none:
        state = {"reference_state": "bar20"}
        estimate = refused(unit="m3/s", method=METHOD, version=VERSION, reasons=(none.reason,), inputs=state)
    return {
        **flow_answer(estimate),
        "mean_flow_m3_per_s": estimate.inputs.get("mean_flow_m3_per_s"),
        "level_at_1_m_db": estimate.inputs.get("level_at_1_m_db"),
        "pressure_ratio": estimate.inputs.get("pressure_ratio"),
        "label": model.label if model else None,
        "calibration_leaks": len(leaks),
    }


def fit_calibration(data: Mapping[str, Any]) -> Json:
    """Return the model that the measured leaks teach, how each lies to it, and which to measure next."""
    leaks = _points(data["calibration"])
    origin = {"method": METHOD, "method_version": VERSION}
    try:
        model = _fitted(data, leaks, data.get("family", LeakFamily.HOLE))
    except NotFittable as none:
        fields = level_schemas.FIT_CALIBRATION_ANSWER["required"]
        nothing: Json = dict.fromkeys(fields) | {"residuals": []}
        return nothing | origin | {"status": "refused", "reasons": [none.reason._asdict()]}
    found = residuals(model, leaks)
    return {
        **_model_answer(model),
        **_advice_answer(model),
        "residuals": [
            {
                "expected_m3_per_s": leak.expected_m3_per_s,
                "residual_decades": leak.decades,
                "residual_scatters": leak.scatters,
                "leverage": leak.leverage,
            }
            for leak in found
        ],
        **origin,
        "status": "estimated",
        "reasons": list(_doubts(found)),
    }


def _doubts(found: Sequence[Residual]) -> Iterator[Json]:
    """Yield a reason for each measured leak that the fit should perhaps do without."""
    for number, leak in enumerate(found, start=1):
        if abs(leak.scatters) > FARTHEST_SCATTERS:
            text = (
                f"Leak {number} lies {abs(leak.scatters):.1f} times the scatter from the line; check its "
                "level, pressure and flow, or measure it again."
            )
            yield Reason("leak_off_the_line", text)._asdict()
        if is_saturated_leak(leak.point):
            text = f"Leak {number} is so large that its level no longer tells its size; leave it out."
            yield Reason("saturated", text)._asdict()


def _model_answer(model: LevelModel) -> Json:
    """Return a model's figures under names that carry their unit."""
    a, b, c = model.coefficients
    return {
        "intercept_log10_m3_per_s": a,
        "slope_per_db": b,
        "slope_per_ratio_decade": c,
        "scatter_decades": model.scale,
        "degrees_of_freedom": model.degrees_of_freedom,
        "level_low_db": model.level_range_db[0],
        "level_high_db": model.level_range_db[1],
        "pressure_ratio_low": model.pressure_ratio_range[0],
        "pressure_ratio_high": model.pressure_ratio_range[1],
        "leverage_limit": model.leverage_limit,
        "uses_prior": model.uses_prior,
        "label": model.label,
    }


def _advice_answer(model: LevelModel) -> Json:
    """Return which leak to measure next."""
    best = next_calibration_leak(model)
    return {
        "next_level_db": best.level_db if best else None,
        "next_pressure_ratio": best.pressure_ratio if best else None,
        "factor_now": best.factor_now if best else None,
        "factor_after": best.factor_after if best else None,
        "advice": best.text if best else None,
    }


def _fitted(data: Mapping[str, Any], leaks: Sequence[CalibrationPoint], family: str) -> LevelModel:
    """Return the model of the measured leaks; raises NotFittable."""
    gas = data.get("gas", "air")
    return fit(
        leaks, use_prior=data.get("scale") == level_schemas.ABSOLUTE, gas=gas, family=LeakFamily(family)
    )


def _floats(data: Mapping[str, Any], names: Sequence[str]) -> dict[str, float]:
    """Return those numbers of the input that are given."""
    return {name: float(data[name]) for name in names if name in data}


def _reading(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the detector showed, and where."""
    rule = {"background_rule": data["background_rule"]} if "background_rule" in data else {}
    return rule | _floats(data, [name for name in level_schemas.READING if name != "background_rule"])


def _points(leaks: Sequence[Mapping[str, Any]]) -> list[CalibrationPoint]:
    """Return the measured leaks; a flow less sure than itself is no measurement."""
    points, problems = [], []
    for index, leak in enumerate(leaks):
        if leak.get("flow_u_m3_per_s", 0.0) > leak["flow_m3_per_s"]:
            text = "must not be above the flow itself"
            problems.append(Problem(f"/calibration/{index}/flow_u_m3_per_s", text))
            continue
        points.append(CalibrationPoint(**{"flow_u_m3_per_s": 0.0} | _floats(leak, tuple(leak))))
    if problems:
        raise InvalidInput(*problems)
    return points


EXAMPLE_LEAKS = [
    {"level_db": 48.2, "pressure_ratio": 7.9, "flow_m3_per_s": 6.1e-6},
    {"level_db": 55.7, "pressure_ratio": 7.9, "flow_m3_per_s": 2.3e-5, "flow_u_m3_per_s": 1.5e-6},
    {"level_db": 61.0, "pressure_ratio": 4.1, "flow_m3_per_s": 5.2e-5, "flow_u_m3_per_s": 2.1e-6},
    {"level_db": 67.4, "pressure_ratio": 7.9, "flow_m3_per_s": 8.8e-5},
    {"level_db": 73.9, "pressure_ratio": 4.1, "flow_m3_per_s": 3.9e-4},
]
EXAMPLE_READING = {"level_db": 52.0, "background_db": 43.0, "distance_m": 2.0}

ROWS = (
    Calculation(
        "air-absorption",
        "What the air takes from a sound",
        air_absorption_of,
        level_schemas.AIR_ABSORPTION,
        level_schemas.AIR_ABSORPTION_ANSWER,
        {"frequency_hz": 40000.0, "air_temperature_k": 298.15, "relative_humidity": 0.4},
        "ISO 9613-1:1993; its accuracy classes as restated in public, from memory.",
    ),
    Calculation(
        "normalise-level",
        "A level without background at 1 m",
        normalise_level_of,
        level_schemas.NORMALISE_LEVEL,
        level_schemas.NORMALISE_LEVEL_ANSWER,
        EXAMPLE_READING,
        "Background rules of ISO 3744 and ISO 3746 (from memory); spherical spreading with ISO 9613-1.",
    ),
    Calculation(
        "level-to-flow",
        "A leak's flow by its level",
        level_to_flow,
        level_schemas.LEVEL_TO_FLOW,
        level_schemas.LEVEL_TO_FLOW_ANSWER,
        {
            **EXAMPLE_READING,
            "upstream_absolute_pa": 800000.0,
            "scale": level_schemas.ABSOLUTE,
            "family": "hole",
            "calibration": EXAMPLE_LEAKS,
        },
        "Log-linear in level and pressure ratio; free-jet prior from IEC 60534-8-3 and measured leaks.",
    ),
    Calculation(
        "fit-calibration",
        "What measured leaks teach about an instrument",
        fit_calibration,
        level_schemas.FIT_CALIBRATION,
        level_schemas.FIT_CALIBRATION_ANSWER,
        {"calibration": EXAMPLE_LEAKS, "scale": level_schemas.ABSOLUTE},
        "Least squares from 12 leaks on, normal-inverse-gamma shrinkage below.",
    ),
)
