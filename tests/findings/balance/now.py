"""A system of one machine and a few leaks, made of plain numbers."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from findings.balance.rules import Measured, OpenLeak, SystemNow
from findings.kinds.base import Medium
from findings.physics.uncertainty import Uncertain
from findings.supply.rules import station_of
from tests.findings.station import AT, Row, known

BAR = 100_000.0
__all__ = ["AT", "BAR", "Row", "known", "leak", "measured", "system"]


def leak(flow: float, u: float = 0.0, *, shared: float = 0.0, **values: Any) -> OpenLeak:
    """Return a finding that loses so many m3/s."""
    given: dict[str, Any] = {
        "finding_id": uuid4(),
        "number": 1,
        "asset_id": UUID(int=1),
        "asset_code": "WR-1",
        "area_id": UUID(int=2),
        **values,
    }
    return OpenLeak(flow=Uncertain(flow, u), shared_relative_u=shared, **given)


def measured(flow: float, u: float = 0.0, gauge: float = 6 * BAR, taken_at: datetime = AT) -> Measured:
    """Return a leak test."""
    return Measured(Uncertain(flow, u), gauge, taken_at)


def system(*leaks: OpenLeak, rows: tuple[Row, ...] = (Row(),), **values: Any) -> SystemNow:
    """Return compressed air at 6 bar gauge over an atmosphere of 1 bar."""
    given: dict[str, Any] = {
        "medium": Medium.COMPRESSED_AIR,
        "gas_name": "",
        "currency": "EUR",
        "header_gauge_pa": 6 * BAR,
        "atmosphere_pa": BAR,
        "known": known(),
        "station": station_of(rows, storage_m3=None, atmosphere_pa=BAR),
        **values,
    }
    return SystemNow(leaks=leaks, **given)
