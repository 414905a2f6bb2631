"""The first six listenings of every bearing, on which each later one is judged."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Final

from findings.conditions.actions import confirm_good
from findings.conditions.rules.good_states import GoodCause
from findings.kinds.base import Kind
from plantcare.demo.foundation import Spot
from plantcare.demo.story import Plant

LISTENINGS: Final = 6
"""As many as a baseline takes at least."""


def first_listenings(plant: Plant, begin: date) -> dict[date, list[Callable[[date], None]]]:
    """Plan who calls the bearings good, and the walks of the first days on which every one is heard."""
    days = [begin + timedelta(days=number) for number in range(LISTENINGS)]
    pieces: dict[date, list[Callable[[date], None]]] = {day: [lambda on: _listen(plant, on)] for day in days}
    pieces[begin].insert(0, lambda on: _call_good(plant, on))
    return pieces


def _bearings(plant: Plant) -> list[Spot]:
    return [spot for spot in plant.world.spots if spot.kind is Kind.MECHANICAL_WEAR]


def _call_good(plant: Plant, day: date) -> None:
    for spot in _bearings(plant):
        confirm_good(
            actor=plant.world.actor("ines.falk"),
            at=plant.local(day, 6),
            point_id=spot.point_id,
            cause=GoodCause.NEW_POINT,
            from_at=plant.local(day, 6),
            reason="Heard and felt by hand on the first round: runs smoothly.",
        )


def _listen(plant: Plant, day: date) -> None:
    plant.survey(day, f"bearings {day.isoformat()}", _bearings(plant), "ines.falk", "D-1", every=True)
