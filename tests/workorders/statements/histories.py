"""Makers of finding histories, written as the plant would tell them."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from workorders.statements.rules import (
    DatedValue,
    Event,
    EventKind,
    FindingHistory,
    LossFact,
    PriceSeries,
    SystemSeries,
)

PRAGUE = ZoneInfo("Europe/Prague")
BERLIN = ZoneInfo("Europe/Berlin")
AIR = "air-7"


def on(day: int, month: int = 6, hour: int = 0, year: int = 2025, zone: ZoneInfo = PRAGUE) -> datetime:
    """Give an hour of a day by the site's clock."""
    return datetime(year, month, day, hour, tzinfo=zone)


LONG_AGO = on(1, 1, year=2020)


def per_hour(m3_per_h: float | str) -> Decimal:
    """Give a leak rate in m³/s with the twelve places that are stored."""
    return round(Decimal(str(m3_per_h)) / 3600, 12)


def dated(value: str, from_at: datetime = LONG_AGO, recorded_at: datetime = LONG_AGO) -> DatedValue:
    return DatedValue(Decimal(value), from_at, recorded_at)


def prices(
    *electricity: DatedValue, energy: str = "432000", share: tuple[DatedValue, ...] | None = None
) -> PriceSeries:
    """Give 0.12 kWh per m³ at 0.15 a kWh unless told otherwise."""
    system = SystemSeries("Air 7 bar", specific_energy_j_per_m3=(dated(energy),), pressurised_share=share)
    return PriceSeries("EUR", electricity or (dated("0.15"),), {AIR: system})


class Leak:
    """A finding that writes down its own events and losses, as the rooms below would."""

    def __init__(self, name: str, m3_per_h: float, found_at: datetime, area: str = "Wrapping") -> None:
        self.name, self.area = name, area
        self.events = [Event(EventKind.FOUND, found_at, found_at)]
        self.losses = [LossFact(AIR, per_hour(m3_per_h), found_at, found_at)]
        self.repaired_at: datetime | None = None
        self.extra: dict[str, datetime] = {}

    def _end(self, at: datetime, known: datetime) -> None:
        if self.losses and self.losses[-1].ended_at is None:
            self.losses[-1] = replace(self.losses[-1], ended_at=at, end_recorded_at=known)

    def _start(self, m3_per_h: float, at: datetime, known: datetime) -> None:
        self.losses.append(LossFact(AIR, per_hour(m3_per_h), at, known))

    def happened(self, kind: EventKind, at: datetime, known: datetime | None = None) -> "Leak":
        repaired_at = self.repaired_at if kind in {"passed", "partial", "failed"} else None
        self.events.append(Event(kind, at, known or at, repaired_at))
        return self

    def grew(self, m3_per_h: float, at: datetime) -> "Leak":
        self._end(at, at)
        self._start(m3_per_h, at, at)
        return self

    def corrected(self, m3_per_h: float, at: datetime) -> "Leak":
        wrong = self.losses[-1]
        self.losses[-1] = replace(wrong, void_at=at)
        self._start(m3_per_h, wrong.started_at, at)
        return self

    def repaired(self, at: datetime, check_due_at: datetime | None = None) -> "Leak":
        self._end(at, at)
        self.repaired_at = at
        self.events.append(Event(EventKind.REPAIRED, at, at, check_due_at=check_due_at))
        return self

    def passed(self, at: datetime) -> "Leak":
        return self.happened(EventKind.PASSED, at)

    def partial(self, m3_per_h: float, at: datetime) -> "Leak":
        assert self.repaired_at is not None
        self._start(m3_per_h, self.repaired_at, at)
        return self.happened(EventKind.PARTIAL, at)

    def failed(self, m3_per_h: float, at: datetime) -> "Leak":
        assert self.repaired_at is not None
        self._start(m3_per_h, self.repaired_at, at)
        return self.happened(EventKind.FAILED, at)

    def reopened(self, m3_per_h: float, at: datetime) -> "Leak":
        self._start(m3_per_h, at, at)
        return self.happened(EventKind.REOPENED, at)

    def removed(self, at: datetime) -> "Leak":
        self._end(at, at)
        return self.happened(EventKind.REMOVED, at)

    def void(self, at: datetime, kind: EventKind) -> "Leak":
        self.losses = [replace(loss, void_at=loss.void_at or at) for loss in self.losses]
        return self.happened(kind, at)

    def due(self, at: datetime, extended_at: datetime) -> "Leak":
        self.extra = {"due_at": at, "extended_due_at": extended_at}
        return self

    @property
    def history(self) -> FindingHistory:
        return FindingHistory(
            self.name,
            f"F-{self.name}",
            tuple(self.events),
            tuple(self.losses),
            self.area,
            self.extra.get("due_at"),
            self.extra.get("extended_due_at"),
        )
