"""Lay the demo plants out, through the same actions that a person's requests go through."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from findings.detectors.actions import add_instrument
from findings.kinds.base import Kind, Medium
from findings.plant.actions import add_area, add_asset, add_membership, add_point, add_site
from findings.routes.actions import add_route, set_stops
from findings.supply.actions import add_compressor, add_system, connect, set_value
from findings.supply.rules import Quantity
from plantcare.api.actor import Actor
from plantcare.demo.layout import (
    AREAS,
    ASSETS,
    COMPRESSORS,
    DEMANDS_M3_PER_MIN,
    METHOD_OF,
    MILL_AREAS,
    MILL_ASSETS,
    MILL_PEOPLE,
    MILL_SHIFTS,
    MILL_SUPPLY,
    PEOPLE,
    PRICES,
    SERVICE_ACCOUNT,
    SHIFTS,
    SUNDAY_STOP,
    SUPPLIES,
    AssetPlan,
)
from plantcare.people.actions import add_person
from plantcare.people.models import User
from workorders.calendars.actions import say_of_days, set_working_week
from workorders.calendars.rules import DayKind

PASSWORD: Final = "oats-and-honey-42"  # noqa: S105 - the demo's, printed at its start
SITE_CODE: Final = "TBW"
MILL_CODE: Final = "CML"
SPECIFIC_ENERGY_J_PER_M3: Final = Decimal(400_000)
"""Of Tarnbeck's old station: 400 kJ/m³ is 6.67 kW/(m³/min)."""
LATER_SPECIFIC_ENERGY_J_PER_M3: Final = Decimal(372_000)
BOUGHT: Final = (
    ("N2", Quantity.GAS_PRICE_PER_M3, "0.12", "cylinder contract, per m³ at 1 bar and 20 °C"),
    ("GAS", Quantity.GAS_PRICE_PER_M3, "0.55", "gas contract, per m³ at 1 bar and 20 °C"),
    ("STM", Quantity.GAS_PRICE_PER_KG, "0.045", "boiler house, fuel and water per kg of steam"),
)
"""Since the variable-speed machine came."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A measuring point of the demo, with what the story needs to know of it."""

    point_id: uuid.UUID
    kind: Kind
    medium: Medium | None
    area: str
    asset: str
    name: str


@dataclass(slots=True)
class World:
    """The laid-out plant: who acts, and where things may happen."""

    site_id: uuid.UUID
    zone: ZoneInfo
    people: dict[str, User] = field(default_factory=dict)
    spots: list[Spot] = field(default_factory=list)
    instruments: dict[str, uuid.UUID] = field(default_factory=dict)
    routes: dict[str, uuid.UUID] = field(default_factory=dict)
    machines: dict[str, uuid.UUID] = field(default_factory=dict)
    air_id: uuid.UUID | None = None

    def actor(self, username: str) -> Actor:
        """Return a person as the actions see them."""
        user = self.people[username]
        return Actor(user_id=user.pk, name=str(user))


def lay_out_tarnbeck(begin_at: datetime, now_at: datetime) -> World:
    """Make Tarnbeck Biscuit Works as it stood at ``begin_at``, with every price until ``now_at``."""
    people = _people(PEOPLE)
    manager = people["marta.lindner"]
    by = Actor(user_id=manager.pk, name=str(manager))
    site = add_site(
        actor=by,
        at=begin_at,
        code=SITE_CODE,
        name="Tarnbeck Biscuit Works",
        time_zone="Europe/Berlin",
        currency="EUR",
        manager_user_id=manager.pk,
    )
    site_id = site.pk
    world = World(site_id, ZoneInfo("Europe/Berlin"), people)
    for username, _, _, role in PEOPLE:
        if username != manager.username:
            add_membership(actor=by, at=begin_at, site_id=site_id, user_id=people[username].pk, role=role)
    bridge = add_person(
        username=SERVICE_ACCOUNT[0],
        first_name="Maintenance",
        last_name="bridge",
        password=None,
        is_service=True,
    )
    add_membership(actor=by, at=begin_at, site_id=site_id, user_id=bridge.pk, role=SERVICE_ACCOUNT[1])
    people[bridge.username] = bridge
    systems = {
        code: add_system(
            actor=by,
            at=begin_at,
            site_id=site_id,
            code=code,
            name=name,
            medium=medium,
            pressure_gauge_pa=pressure,
            storage_m3=storage,
        ).pk
        for code, name, medium, pressure, storage in SUPPLIES
    }
    assets = _register(world, by, begin_at, AREAS, ASSETS, systems)
    world.air_id = systems["AIR7"]
    _station(world, by, begin_at, now_at, systems["AIR7"], assets)
    _prices(by, begin_at, now_at, site_id, systems)
    _tools_and_routes(world, by, begin_at, now_at)
    _works_calendar(by, begin_at, now_at, site_id)
    return world


def _works_calendar(by: Actor, begin_at: datetime, now_at: datetime, site_id: uuid.UUID) -> None:
    """Work day and night with a stop on Sundays, by the public holidays of a real state; shut two summer weeks."""
    common: dict[str, Any] = {"actor": by, "at": begin_at, "site_id": site_id, "source": "works agreement"}
    last = date(now_at.year + 1, 12, 31)
    set_working_week(
        from_on=begin_at.date(), shifts=SHIFTS, country="DE", subdivision="BW", known_until_on=last, **common
    )
    for year in range(begin_at.year, last.year + 1):
        first_on, last_on = date(year, 8, 3), date(year, 8, 16)
        say_of_days(
            kind=DayKind.SHUTDOWN, first_on=first_on, last_on=last_on, name="summer shutdown", **common
        )


def lay_out_mill(begin_at: datetime) -> World:
    """Make the small site in US units."""
    people = _people(MILL_PEOPLE, unit_system=User.UnitSystem.US)
    manager = people["rosa.hale"]
    by = Actor(user_id=manager.pk, name=str(manager))
    site = add_site(
        actor=by,
        at=begin_at,
        code=MILL_CODE,
        name="Corran Mill",
        time_zone="America/Chicago",
        currency="USD",
        unit_system="us",
        manager_user_id=manager.pk,
    )
    site_id = site.pk
    world = World(site_id, ZoneInfo("America/Chicago"), people)
    add_membership(actor=by, at=begin_at, site_id=site_id, user_id=people["sam.quill"].pk, role="inspector")
    code, name, medium, pressure = MILL_SUPPLY
    system = add_system(
        actor=by,
        at=begin_at,
        site_id=site_id,
        code=code,
        name=name,
        medium=medium,
        pressure_gauge_pa=pressure,
    )
    _register(world, by, begin_at, MILL_AREAS, MILL_ASSETS, {code: system.pk})
    _mill_prices(by, begin_at, site_id, system.pk)
    set_working_week(
        actor=by,
        at=begin_at,
        site_id=site_id,
        from_on=begin_at.date(),
        shifts=MILL_SHIFTS,
        country="US",
        subdivision="IL",
        known_until_on=date(begin_at.year + 3, 12, 31),
        source="plant handbook",
    )
    world.instruments["D-9"] = add_instrument(
        actor=by,
        at=begin_at,
        site_id=site_id,
        code="D-9",
        name="Ultrasound detector",
        calibration_due_on=date(begin_at.year + 3, 5, 1),
    ).pk
    return world


def _mill_prices(by: Actor, begin_at: datetime, site_id: uuid.UUID, system_id: uuid.UUID) -> None:
    common: dict[str, Any] = {"actor": by, "at": begin_at, "site_id": site_id, "from_at": begin_at}
    set_value(
        quantity=Quantity.ELECTRICITY_PRICE_PER_KWH,
        value=Decimal("0.094"),
        source="utility bill",
        currency="USD",
        **common,
    )
    set_value(
        quantity=Quantity.SPECIFIC_ENERGY_J_PER_M3,
        value=Decimal(381_000),
        source="18 kW per 100 cfm, station log",
        system_id=system_id,
        **common,
    )
    set_value(
        quantity=Quantity.GRID_FACTOR_KG_PER_KWH,
        value=Decimal("0.37"),
        source="invented for the demo",
        source_year=begin_at.year,
        **common,
    )


def _people(
    rows: tuple[tuple[str, str, str, str], ...], unit_system: str = User.UnitSystem.METRIC
) -> dict[str, User]:
    return {
        username: add_person(
            username=username,
            first_name=first,
            last_name=last,
            password=PASSWORD,
            email=f"{username}@example.invalid",
            unit_system=unit_system,
        )
        for username, first, last, _ in rows
    }


def _register(
    world: World,
    by: Actor,
    at: datetime,
    areas: tuple[tuple[str, str], ...],
    plans: tuple[AssetPlan, ...],
    systems: dict[str, uuid.UUID],
) -> dict[str, uuid.UUID]:
    area_ids = {
        code: add_area(actor=by, at=at, site_id=world.site_id, code=code, name=name).pk
        for code, name in areas
    }
    assets: dict[str, uuid.UUID] = {}
    for plan in plans:
        asset = add_asset(
            actor=by,
            at=at,
            site_id=world.site_id,
            area_id=area_ids[plan.area],
            code=plan.code,
            name=plan.name,
            parent_id=assets.get(plan.parent),
            asset_class=plan.asset_class,
            criticality=plan.criticality,
            running_windows=SUNDAY_STOP if plan.sunday_stop else [],
            access_restrictions=list(plan.restrictions),
        )
        assets[plan.code] = asset.pk
        for system in plan.supplies:
            connect(actor=by, at=at, site_id=world.site_id, asset_id=asset.pk, system_id=systems[system])
        _points(world, by, at, plan, asset.pk)
    return assets


def _points(world: World, by: Actor, at: datetime, plan: AssetPlan, asset_id: uuid.UUID) -> None:
    number = 0
    for kind, medium, names in plan.spots:
        for name in names:
            number += 1
            point = add_point(
                actor=by,
                at=at,
                site_id=world.site_id,
                asset_id=asset_id,
                code=f"{plan.code}-{number:02d}",
                name=name,
                method=METHOD_OF[kind],
                medium=medium or "",
            )
            world.spots.append(Spot(point.pk, kind, medium, plan.area, plan.code, name))


def _station(
    world: World,
    by: Actor,
    begin_at: datetime,
    now_at: datetime,
    system_id: uuid.UUID,
    assets: dict[str, uuid.UUID],
) -> None:
    for code, control, flow_m3_per_min, power_kw, years, part_load in COMPRESSORS:
        world.machines[code] = add_compressor(
            actor=by,
            at=begin_at,
            site_id=world.site_id,
            system_id=system_id,
            asset_id=assets[code],
            code=code,
            control=control,
            rated_flow_m3_per_s=flow_m3_per_min / 60,
            rated_power_w=power_kw * 1000,
            commissioned_on=None if years is None else (now_at - timedelta(days=365 * years)).date(),
            **part_load,
        ).pk


def _prices(
    by: Actor, begin_at: datetime, now_at: datetime, site_id: uuid.UUID, systems: dict[str, uuid.UUID]
) -> None:
    def value(from_at: datetime, quantity: Quantity, value: Decimal, source: str, **more: Any) -> None:
        set_value(
            actor=by,
            at=from_at,
            site_id=site_id,
            quantity=quantity,
            value=value,
            from_at=from_at,
            source=source,
            **more,
        )

    since = {
        max(begin_at, now_at - timedelta(days=91 * quarters)): (price, source)
        for quarters, price, source in PRICES
    }
    for from_at, (price, source) in since.items():
        value(from_at, Quantity.ELECTRICITY_PRICE_PER_KWH, price, source, currency="EUR")
    energies = {
        begin_at: (SPECIFIC_ENERGY_J_PER_M3, "station log before the second machine"),
        max(begin_at, now_at - timedelta(days=365)): (
            LATER_SPECIFIC_ENERGY_J_PER_M3,
            "station log with the variable-speed machine",
        ),
    }
    for from_at, (energy, source) in energies.items():
        value(from_at, Quantity.SPECIFIC_ENERGY_J_PER_M3, energy, source, system_id=systems["AIR7"])
    for from_at, (per_min, source) in {
        max(begin_at, now_at - timedelta(days=days)): (per_min, source)
        for days, per_min, source in DEMANDS_M3_PER_MIN
    }.items():
        demand = (Decimal(per_min) / 60).quantize(Decimal("1e-6"))
        value(from_at, Quantity.MEAN_DEMAND_M3_PER_S, demand, source, system_id=systems["AIR7"])
    share = "Sunday stop, six of seven days"
    value(begin_at, Quantity.PRESSURISED_SHARE, Decimal("0.86"), share, system_id=systems["AIR7"])
    pumps = "pump log, per m³ of pump inlet volume"
    value(begin_at, Quantity.SPECIFIC_ENERGY_J_PER_M3, Decimal(85_000), pumps, system_id=systems["VAC1"])
    grid = "invented for the demo"
    value(begin_at, Quantity.GRID_FACTOR_KG_PER_KWH, Decimal("0.38"), grid, source_year=begin_at.year)
    for code, quantity, per_amount, contract in BOUGHT:
        value(begin_at, quantity, Decimal(per_amount), contract, system_id=systems[code], currency="EUR")


def _tools_and_routes(world: World, by: Actor, at: datetime, now_at: datetime) -> None:
    # The third came with a scale that refers to 20 µPa, and nobody has calibrated it to flows yet.
    due = (("D-1", 200, "relative"), ("D-2", -20, "relative"), ("D-3", 300, "absolute"))
    for code, days, scale in due:
        world.instruments[code] = add_instrument(
            actor=by,
            at=at,
            site_id=world.site_id,
            code=code,
            name="Ultrasound detector",
            scale=scale,
            calibration_due_on=(now_at + timedelta(days=days)).date(),
            calibration_certificate="works certificate",
        ).pk
    for area, name in AREAS:
        route = add_route(
            actor=by, at=at, site_id=world.site_id, code=f"R-{area}", name=f"Walk of {name}", interval_days=28
        )
        points = [spot.point_id for spot in world.spots if spot.area == area]
        set_stops(actor=by, at=at, route_id=route.pk, version=route.version, point_ids=points)
        world.routes[area] = route.pk
