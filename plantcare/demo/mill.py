"""Corran Mill: one survey in US units, so that the other side can be seen."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Final

from findings.kinds.base import Kind
from plantcare.api.actor import Actor
from plantcare.demo.foundation import World
from plantcare.demo.story import Fault, Plant
from workorders.orders.actions import open_due_orders

MILL_SEED: Final = 7


def play_the_mill(world: World, begin: date, end: date) -> None:
    """Walk the mill once a quarter of the last year."""
    plant = Plant(world, random.Random(MILL_SEED))
    leaks = [spot for spot in world.spots if spot.kind is Kind.PRESSURE_LEAK]
    for quarter in range(4, 0, -1):
        day = end - timedelta(days=88 * quarter)
        if day <= begin:
            continue
        for spot in plant.dice.sample(leaks, 4):
            hole = plant.dice.choice((0.5e-3, 0.8e-3, 1.2e-3))
            plant.faults.setdefault(spot.point_id, Fault(plant.local(day, 6), hole))
        plant.survey(day, f"MILL {day.isoformat()}", world.spots, "sam.quill", "D-9")
        open_due_orders(actor=Actor.job("open_due_orders"), at=plant.local(day, 16), site_ids=[world.site_id])
