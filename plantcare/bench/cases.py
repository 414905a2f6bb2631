"""What is benchmarked: each case is the service's way, the plain way, and how far apart they may be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from plantcare.bench import estimates


@dataclass(frozen=True, slots=True)
class Case:
    """One comparison: ``most`` is the ratio ours over plain aimed at; ``ways`` makes (plain, ours)."""

    name: str
    about: str
    most: float
    ways: Callable[[], tuple[Callable[[], object], Callable[[], object]]]


_ROWS = (
    Case(
        "estimates",
        "10,000 leak flows with interval and reasons, against the bare numpy expression of the flow",
        3.0,
        estimates.ways,
    ),
)

CASES: Mapping[str, Case] = MappingProxyType({case.name: case for case in _ROWS})
