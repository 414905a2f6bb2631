"""The warning of a machine's vibration, from its own baseline and the limit of the standard."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.base import Kind
from findings.kinds.calculations import schemas
from findings.kinds.calculations.calculation import Calculation, Json
from findings.kinds.calculations.figures import CAUTIONS, caution_list, figure, figure_schema
from findings.physics.vibration import vibration_warning as warning

VIBRATION_WARNING = schemas.inputs(
    ["baseline_m_per_s", "zone_b_limit_m_per_s"],
    {
        "baseline_m_per_s": schemas.at_least_zero(
            1.0, "Vibration velocity, r.m.s., of the good machine, m/s: 0.0008 for 0.8 mm/s."
        ),
        "zone_b_limit_m_per_s": schemas.positive(
            1.0, "Upper limit of zone B for the machine's group and support, m/s, from your own standard."
        ),
    },
)
VIBRATION_WARNING_ANSWER = schemas.answer(
    {
        "warning": figure_schema("m_per_s", "Velocity from which the machine is to be looked into, m/s."),
        "cautions": CAUTIONS,
    }
)


def vibration_warning(data: Mapping[str, Any]) -> Json:
    """Return the warning."""
    found = warning(float(data["baseline_m_per_s"]), float(data["zone_b_limit_m_per_s"]))
    return {"warning": figure(found, "m_per_s"), "cautions": caution_list(Kind.MECHANICAL_WEAR)}


ROWS = (
    Calculation(
        "vibration-warning",
        "From which vibration on a machine is to be looked into",
        vibration_warning,
        VIBRATION_WARNING,
        VIBRATION_WARNING_ANSWER,
        {"baseline_m_per_s": 0.0008, "zone_b_limit_m_per_s": 0.0045},
        "ISO 10816-3 as a distributor's page restates it: baseline plus a quarter of the limit of zone B.",
    ),
)
