"""Leaks of a made-up instrument: log10 Q = 0.2 + 0.062 (L - 60) - 0.8 log10(PR / 7), Q in l/min."""

from __future__ import annotations

import itertools
import math
import random
from datetime import timedelta
from typing import Any

from findings.calibration.models import CalibrationLeak
from findings.detectors.models import Instrument
from findings.physics.level_model import CalibrationPoint
from tests.makers import NOW, make_calibration_leak

LEVELS = (48.0, 56.0, 64.0, 72.0)
RATIOS = (3.0, 5.0, 7.0, 9.0)
SCATTER = 0.08


def true_flow(level_db: float, ratio: float) -> float:
    """Return the flow of the law in m³/s."""
    return 10 ** (0.2 + 0.062 * (level_db - 60) - 0.8 * math.log10(ratio / 7)) / 60_000


def points(count: int, dice: random.Random) -> list[CalibrationPoint]:
    """Return leaks that scatter round the law, over all levels and pressures in turn."""
    found = []
    for level, ratio in itertools.islice(itertools.cycle(itertools.product(LEVELS, RATIOS)), count):
        flow = true_flow(level, ratio) * 10 ** dice.gauss(0, SCATTER)
        found.append(CalibrationPoint(level, ratio, flow, 0.03 * flow))
    return found


def calibrate(instrument: Instrument, count: int = 16, **values: Any) -> list[CalibrationLeak]:
    """Calibrate an instrument with leaks taken day by day before NOW."""
    return [
        make_calibration_leak(
            instrument,
            normalised_level_db=point.level_db,
            level_db=point.level_db,
            distance_m=1.0,
            pressure_ratio=point.pressure_ratio,
            flow_m3_per_s=point.flow_m3_per_s,
            flow_u_m3_per_s=point.flow_u_m3_per_s,
            **{"taken_at": NOW - timedelta(days=day), **values},
        )
        for day, point in enumerate(points(count, random.Random(7)), start=1)
    ]
