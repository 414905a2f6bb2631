"""Leaks that are really heard, repaired and judged, by the acts of the rooms below, for tests of months."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from findings.plant.models import MeasuringPoint, Site
from findings.register import actions as register
from findings.register.models import Finding
from findings.supply.rules import Quantity
from plantcare.api.actor import Actor
from tests.makers import make_asset, make_connection, make_point, make_site, make_system, make_value
from tests.people import actor_at
from tests.workorders.scene import EVERY_RIGHT, after_reading, listen
from workorders.verification.actions import verify

BERLIN = ZoneInfo("Europe/Berlin")
MARCH, APRIL, MAY = date(2026, 3, 1), date(2026, 4, 1), date(2026, 5, 1)


def local(month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
    """Return an hour of 2026 by the clock in Berlin."""
    return datetime(2026, month, day, hour, minute, tzinfo=BERLIN)


def priced_point(site: Site | None = None, *, price: str = "0.18", energy: str = "390000") -> MeasuringPoint:
    """Make a point fed with air at 6.5 kW/(m³/min) and, unless said otherwise, 0.18 a kWh."""
    site = site or make_site()
    system = make_system(site)
    make_value(site, Quantity.SPECIFIC_ENERGY_J_PER_M3, energy, system=system)
    if price:
        make_value(site, Quantity.ELECTRICITY_PRICE_PER_KWH, price)
    return point_on(site, system)


def point_on(site: Site, system: Any) -> MeasuringPoint:
    """Make another point that a system feeds."""
    asset = make_asset(site)
    make_connection(asset, system)
    return make_point(asset=asset)


def leaking(point: MeasuringPoint, at: datetime, m3_per_h: float = 12, **said: Any) -> Finding:
    """Hear a leak and measure its flow; a second time at the same point the leak has changed."""
    flow = {"flow_m3_per_s": m3_per_h / 3600, "flow_method": "flow_meter"}
    finding = listen(point, at, **{**flow, **said}).finding
    assert finding is not None
    return finding


def repaired(finding: Finding, at: datetime, known_at: datetime | None = None) -> None:
    """Report a repair, later than it was made where that is said."""
    register.report_repaired(
        actor=actor_at(finding.site, "technician"),
        at=known_at or at,
        finding_id=finding.pk,
        repaired_at=at,
    )


def judged(finding: Finding, at: datetime, **said: Any) -> str:
    """Read a repaired spot again (silent unless said otherwise) and judge it; return the verdict."""
    reading = after_reading(finding, at, **said)
    return verify(
        actor=actor_at(finding.site, "inspector"),
        at=at,
        finding_id=finding.pk,
        reading_id=reading.pk,
        rights=EVERY_RIGHT,
    ).verdict


def manager(site: Site) -> Actor:
    """Return somebody who may close a month."""
    return actor_at(site, "manager")
