"""Nights at the demo plant: the whole leakage of the air system is measured while nobody works."""

from __future__ import annotations

import random
from datetime import date
from typing import Any, Final

from findings.supply.actions import record_leak_test
from findings.supply.rules import LeakTestMethod
from plantcare.demo.story import SEED, Plant

CAPACITY_M3_PER_S: Final = 10.0 / 60 * 1.01325
"""Of AC-1, at 1 bar: its rated 10 m³/min are drawn in at the site's atmosphere."""
CYCLES: Final = 5
FILL_S: Final = 36.0
"""How long AC-1 fills the storage through its band when nothing is taken: invented."""


def time_the_machine(plant: Plant, day: date) -> None:
    """Time AC-1 loading and unloading, the other machine off and the production lines cut off."""
    dice = random.Random(SEED + day.toordinal())
    share = plant.air_leakage(plant.local(day, 3)) / CAPACITY_M3_PER_S
    load = [round(FILL_S / (1.0 - share) * dice.gauss(1, 0.03), 1) for _ in range(CYCLES)]
    unload = [round(FILL_S / share * dice.gauss(1, 0.03), 1) for _ in range(CYCLES)]
    _record(
        plant,
        day,
        LeakTestMethod.LOAD_UNLOAD,
        {"load_s": load, "unload_s": unload},
        compressor_id=plant.world.machines["AC-1"],
        source="stopwatch at AC-1, five cycles",
    )


def read_the_meter(plant: Plant, day: date) -> None:
    """Read the meter behind the receivers in the small hours."""
    dice = random.Random(SEED + day.toordinal())
    flow = plant.air_leakage(plant.local(day, 3)) * dice.gauss(1, 0.03)
    _record(
        plant,
        day,
        LeakTestMethod.BASE_FLOW,
        {"flow_m3_per_s": round(flow, 6), "flow_u_m3_per_s": round(flow * 0.03, 6)},
        source="flow meter behind the receivers, mean from 2 to 4 at night",
    )


def _record(plant: Plant, day: date, method: LeakTestMethod, sent: dict[str, Any], **more: Any) -> None:
    if plant.world.air_id is None:
        return
    record_leak_test(
        actor=plant.world.actor("tomas.weiss"),
        at=plant.local(day, 5),
        system_id=plant.world.air_id,
        method=method,
        taken_at=plant.local(day, 3),
        sent=sent,
        note="no production, lines cut off at their valves",
        **more,
    )
