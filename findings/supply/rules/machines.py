"""How a machine follows demand: what can be measured of its part load, and what no machine does."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Final

from findings.supply.rules.stated import ControlType, refuse_supply

FEWEST_POINTS, MOST_POINTS = 2, 20
LAST_ORDER: Final = 100
LARGEST_STORAGE_M3: Final = 100_000.0
FULL_LOAD: Final = (1.0, 1.0)
REGULATING: Final = frozenset(
    {ControlType.INLET_MODULATION, ControlType.VARIABLE_DISPLACEMENT, ControlType.VARIABLE_SPEED}
)
"""Controls that deliver anything between a least share of the capacity and all of it."""


def check_storage(storage_m3: float | None) -> None:
    """Raise SupplyRefused unless the volume of receivers and pipes (m3) can be."""
    if storage_m3 is not None and not 0.0 < storage_m3 <= LARGEST_STORAGE_M3:
        refuse_supply("storage_m3", "out_of_range", f"Above 0 and at most {LARGEST_STORAGE_M3:.0f} m³.")


def check_part_load(
    control: str,
    *,
    unloaded_share: float | None,
    least_share: float | None,
    load_order: int | None,
    part_load_points: Sequence[Sequence[float]],
) -> None:
    """Raise SupplyRefused for part-load facts that no machine of this control can have.

    ``unloaded_share`` is power without delivery over power at full load, ``least_share`` the least delivery
    over the capacity, ``load_order`` the place in the cascade: 1 is loaded first and unloaded last.
    """
    if unloaded_share is not None and not 0.0 <= unloaded_share <= 1.0:
        refuse_supply("unloaded_share", "out_of_range", "A share lies between 0 and 1.")
    if least_share is not None:
        if control not in REGULATING:
            text = "Only a machine that regulates between a least delivery and full load has a least share."
            refuse_supply("least_share", "least_share_needless", text)
        if not 0.0 <= least_share < 1.0:
            refuse_supply("least_share", "out_of_range", "From 0 to less than 1.")
    if load_order is not None and not 1 <= load_order <= LAST_ORDER:
        refuse_supply("load_order", "out_of_range", f"Between 1 and {LAST_ORDER}.")
    _check_points(part_load_points)


def _check_points(points: Any) -> None:
    """Refuse points that are no rising line of [capacity share, power share] up to full load."""
    member = "part_load_points"
    if not points:
        return
    if not FEWEST_POINTS <= len(points) <= MOST_POINTS:
        refuse_supply(member, "too_few_or_many", f"From {FEWEST_POINTS} to {MOST_POINTS} points, or none.")
    for point in points:
        if len(point) != 2 or not all(math.isfinite(share) and 0.0 <= share <= 1.0 for share in point):
            text = "A point is [capacity share, power share], each between 0 and 1."
            refuse_supply(member, "not_a_point", text)
    pairs = list(pairwise(points))
    if any(not later[0] > earlier[0] for earlier, later in pairs):
        refuse_supply(member, "capacity_not_rising", "The capacity shares have to rise from point to point.")
    if any(later[1] < earlier[1] for earlier, later in pairs):
        text = "The power never falls while the delivery rises."
        refuse_supply(member, "power_falls", text)
    if tuple(points[-1]) != FULL_LOAD:
        text = "The last point is full load, [1, 1]: shares are of the power and delivery there."
        refuse_supply(member, "full_load_missing", text)
