"""A morning at the test nozzles, and two leaks that are known by their level alone.

The instrument's law is invented, like the plant: a seeded scatter round the level that the story's leaks have.
"""

from __future__ import annotations

import math
import random
from datetime import date, datetime, timedelta
from itertools import product
from typing import Final

from findings.calibration.actions import add_calibration_leak, void_calibration_leak
from findings.calibration.rules import NewLeak
from findings.kinds.base import Kind, Medium
from findings.readings.actions import NewReading
from findings.readings.rules import Attachment, DirectMethod
from findings.register.actions import take_readings
from findings.surveys.actions import end_survey, start_survey
from plantcare.demo.foundation import Spot, World
from plantcare.demo.story import Fault, Plant

SEED: Final = 412
NOZZLES_M: Final = (0.4e-3, 0.6e-3, 0.9e-3, 1.3e-3)
PRESSURES_GAUGE_PA: Final = (300_000.0, 500_000.0, 700_000.0)
AIR_PA: Final = 101_325.0
HEADER_RATIO: Final = (700_000.0 + AIR_PA) / AIR_PA
DECIBELS_PER_DECADE_OF_PRESSURE: Final = 28.8


def level_of(hole_m: float, ratio: float) -> float:
    """Return the level in dB at half a metre that the invented instrument shows of a round hole."""
    pressure = DECIBELS_PER_DECADE_OF_PRESSURE * math.log10(ratio / HEADER_RATIO)
    return 62 + 32 * math.log10(hole_m / 1e-3) + pressure


def calibrate(world: World, begin_at: datetime) -> None:
    """Let the inspector take a dozen nozzles with the first detector, and one wrongly."""
    dice, person = random.Random(SEED), world.actor("ines.falk")
    settings = [*product(NOZZLES_M, PRESSURES_GAUGE_PA), (NOZZLES_M[-1], PRESSURES_GAUGE_PA[0])]
    made = []
    for number, (hole_m, pressure_gauge_pa) in enumerate(settings):
        ratio = (pressure_gauge_pa + AIR_PA) / AIR_PA
        flow = 0.42 * hole_m**2 * 1.9e3 * ratio / HEADER_RATIO * dice.gauss(1, 0.03)
        at = begin_at + timedelta(minutes=8 * number)
        leak = NewLeak(
            attachment=Attachment.OPEN_HORN.value,
            gas="air",
            leak_family="hole",
            taken_at=at,
            level_db=round(level_of(hole_m, ratio) + dice.gauss(0, 1.0), 1),
            background_db=round(18 + dice.random() * 4, 1),
            distance_m=0.5,
            air_temperature_k=294.15,
            relative_humidity=0.45,
            pressure_gauge_pa=pressure_gauge_pa,
            flow_m3_per_s=round(flow, 8),
            flow_u_m3_per_s=round(flow * 0.03, 9),
            flow_method=DirectMethod.FLOW_METER.value,
            note=f"test nozzle {hole_m * 1e3:g} mm",
        )
        instrument_id = world.instruments["D-1"]
        made.append(add_calibration_leak(actor=person, at=at, instrument_id=instrument_id, leak=leak))
    void_calibration_leak(
        actor=person, at=begin_at + timedelta(hours=2), leak_id=made[-1].pk, reason="the nozzle was not tight"
    )


def hear_by_level(plant: Plant, day: date, spot: Spot, instrument: str, hole_m: float) -> None:
    """Hear a leak whose hole nobody sees and whose flow nobody measures."""
    plant.faults.setdefault(spot.point_id, Fault(plant.local(day, 6), hole_m))
    person, begin, end = plant.world.actor("ines.falk"), plant.local(day, 11, 40), plant.local(day, 12)
    survey = start_survey(
        actor=person,
        at=begin,
        site_id=plant.world.site_id,
        code=f"{spot.asset} {day.isoformat()} {instrument}",
        started_at=begin,
        instrument_id=plant.world.instruments[instrument],
        inspector_id=person.user_id,
        note="behind the guard, not to be reached",
    )
    item = NewReading(
        client_id=f"level-{day.isoformat()}/{spot.point_id}",
        point_id=spot.point_id,
        taken_at=plant.local(day, 11, 50),
        kind=Kind.PRESSURE_LEAK,
        medium=Medium.COMPRESSED_AIR,
        level_db=round(level_of(hole_m, HEADER_RATIO), 1),
        background_db=22.0,
        distance_m=0.5,
        pressure_gauge_pa=700_000.0,
        attachment=Attachment.OPEN_HORN.value,
        leak_family="hole",
        air_temperature_k=295.15,
        relative_humidity=0.5,
    )
    take_readings(actor=person, at=end, survey_id=survey.pk, items=[item])
    end_survey(actor=person, at=end, survey_id=survey.pk, version=survey.version, ended_at=end)
