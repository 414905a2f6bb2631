"""Load the demo: both plants, two years of their story, and keys for the tour."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from django.db import transaction

from findings.plant.queries import sites
from plantcare.demo.foundation import MILL_CODE, SITE_CODE, lay_out_mill, lay_out_tarnbeck
from plantcare.demo.mill import play_the_mill
from plantcare.demo.nozzles import calibrate
from plantcare.demo.story import SEED, Plant
from plantcare.demo.timeline import tell
from plantcare.people.actions import issue_key

YEARS: Final = 2
KEY_SCOPES: Final = (
    "view",
    "register",
    "record",
    "assess",
    "plan",
    "repair",
    "verify",
    "close_by_reason",
    "jobs",
    "prices",
)


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was loaded, and the key that the tour uses (shown once)."""

    was_there: bool
    key: str = ""


def is_loaded() -> bool:
    """Say whether the demo's sites are there."""
    return sites().filter(code__in=(SITE_CODE, MILL_CODE)).count() == 2


@transaction.atomic
def load(*, now_at: datetime, progress: Callable[[str], None], days: int = 365 * YEARS) -> Loaded:
    """Load the demo up to yesterday, unless it is there already; all of it or nothing."""
    if is_loaded():
        return Loaded(was_there=True)
    end: date = now_at.date()
    begin = end - timedelta(days=days)
    begin_at = datetime.combine(begin, time(5), tzinfo=UTC)
    progress("laying out Tarnbeck Biscuit Works and Corran Mill")
    world = lay_out_tarnbeck(begin_at, now_at)
    calibrate(world, begin_at)
    mill = lay_out_mill(begin_at)
    plant = Plant(world, random.Random(SEED))
    tell(plant, begin + timedelta(days=1), end, progress)
    play_the_mill(mill, begin, end)
    manager = world.people["marta.lindner"]
    _, key = issue_key(
        user=manager, name="tour", scopes=KEY_SCOPES, at=now_at, expires_at=now_at + timedelta(days=365)
    )
    return Loaded(was_there=False, key=key)
