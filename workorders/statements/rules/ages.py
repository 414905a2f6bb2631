"""How old the open work is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Aged:
    """An open finding: days since found, since it came back, of approved deferral, and its flow in m³/s."""

    finding_id: str
    days: float
    episode_days: float
    deferred_days: float = 0.0
    flow_m3_per_s: float | None = None


@dataclass(frozen=True, slots=True)
class Ages:
    """Median, 90th percentile and highest of a set of ages in days; None of an empty one."""

    count: int
    median: float | None
    p90: float | None
    highest: float | None


@dataclass(frozen=True, slots=True)
class BacklogAge:
    """The age of the backlog four ways: since found, since it came back, less deferral, weighted by flow."""

    since_found: Ages
    since_reopened: Ages
    less_deferral: Ages
    flow_weighted_mean: float | None


def percentile(values: Sequence[float], share: float) -> float | None:
    """Interpolate linearly between the ordered values; None when there are none."""
    if not values:
        return None
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def ages_of(values: Sequence[float]) -> Ages:
    """Summarise ages in days."""
    return Ages(len(values), percentile(values, 0.5), percentile(values, 0.9), max(values, default=None))


def backlog_age(items: Sequence[Aged]) -> BacklogAge:
    """Summarise the open findings; only those with a known flow enter the weighted mean."""
    flows = [(item.flow_m3_per_s, item.days) for item in items if item.flow_m3_per_s]
    weight = math.fsum(flow for flow, _ in flows)
    return BacklogAge(
        ages_of([item.days for item in items]),
        ages_of([item.episode_days for item in items]),
        ages_of([max(item.days - item.deferred_days, 0.0) for item in items]),
        math.fsum(flow * days for flow, days in flows) / weight if weight else None,
    )
