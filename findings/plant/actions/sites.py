"""Make and change sites and areas."""

from __future__ import annotations

import math
import uuid
from datetime import datetime
from typing import TypedDict, Unpack

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant.actions.members import enter
from findings.plant.actions.refusals import (
    code_constraint,
    free_code,
    named,
    read,
    refuse,
    site_of,
)
from findings.plant.models import Area, Site
from findings.plant.rules import Role, check_currency, check_time_zone
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import NotFound

LOWEST_ATMOSPHERE_PA, HIGHEST_ATMOSPHERE_PA = 50_000.0, 110_000.0

code_constraint("area_code_once_per_site")
code_constraint("findings_site_code_key")


class SiteChanges(TypedDict, total=False):
    """What may change about a site. Its currency stays: prices and months are kept in it."""

    name: str
    time_zone: str
    unit_system: str
    atmosphere_pa: float


class AreaChanges(TypedDict, total=False):
    """What may change about an area."""

    code: str
    name: str


def add_site(
    *,
    actor: Actor,
    at: datetime,
    code: str,
    name: str,
    time_zone: str,
    currency: str,
    unit_system: str = "metric",
    atmosphere_pa: float = 101_325.0,
    manager_user_id: int | None = None,
) -> Site:
    """Make a site whose first manager is the person named, else the one who acts.

    Raises Invalid for an unknown zone, currency or pressure, CodeTaken.
    """
    with transaction.atomic():
        site = Site.objects.create(
            code=free_code(Site.objects.all(), code),
            name=named(name),
            time_zone=read("/time_zone", check_time_zone, time_zone),
            currency=read("/currency", check_currency, currency),
            unit_system=_unit_system(unit_system),
            atmosphere_pa=_atmosphere(atmosphere_pa),
            created_at=at,
        )
        manager_id = manager_user_id if manager_user_id is not None else actor.user_id
        if manager_id is not None:
            enter(site, manager_id, Role.MANAGER, at)
        logbook.write(
            site_id=site.pk,
            actor=actor,
            at=at,
            act="site.added",
            subject_kind="site",
            subject_id=site.pk,
            subject_version=site.version,
            detail={"code": site.code, "time_zone": site.time_zone, "currency": site.currency},
        )
    return site


def change_site(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[SiteChanges],
) -> Site:
    """Change a site. Raises NotFound, Invalid, PreconditionFailed."""
    with transaction.atomic():
        site = site_of(site_id)
        if "name" in changes:
            changes["name"] = named(changes["name"])
        if "time_zone" in changes:
            changes["time_zone"] = read("/time_zone", check_time_zone, changes["time_zone"])
        if "unit_system" in changes:
            changes["unit_system"] = _unit_system(changes["unit_system"])
        if "atmosphere_pa" in changes:
            changes["atmosphere_pa"] = _atmosphere(changes["atmosphere_pa"])
        changed = versions.change(site, version, changes)
        if changed:
            logbook.write(
                site_id=site.pk,
                actor=actor,
                at=at,
                act="site.changed",
                subject_kind="site",
                subject_id=site.pk,
                subject_version=site.version,
                detail={"changed": changed},
            )
    return site


def add_area(*, actor: Actor, at: datetime, site_id: uuid.UUID, code: str, name: str) -> Area:
    """Make an area. Raises SiteUnknown, Invalid, CodeTaken."""
    with transaction.atomic():
        site = site_of(site_id)
        free = free_code(Area.objects.filter(site=site), code)
        area = Area.objects.create(site=site, code=free, name=named(name), created_at=at)
        logbook.write(
            site_id=site.pk,
            actor=actor,
            at=at,
            act="area.added",
            subject_kind="area",
            subject_id=area.pk,
            subject_version=area.version,
            detail={"code": area.code, "name": area.name},
        )
    return area


def change_area(
    *,
    actor: Actor,
    at: datetime,
    area_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[AreaChanges],
) -> Area:
    """Change an area. Raises NotFound, Invalid, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        area = Area.objects.filter(pk=area_id).first()
        if area is None:
            raise NotFound
        if "code" in changes:
            others = Area.objects.filter(site_id=area.site_id).exclude(pk=area.pk)
            changes["code"] = free_code(others, changes["code"])
        if "name" in changes:
            changes["name"] = named(changes["name"])
        changed = versions.change(area, version, changes)
        if changed:
            logbook.write(
                site_id=area.site_id,
                actor=actor,
                at=at,
                act="area.changed",
                subject_kind="area",
                subject_id=area.pk,
                subject_version=area.version,
                detail={"changed": changed},
            )
    return area


def _unit_system(unit_system: str) -> str:
    if unit_system not in Site.UnitSystem.values:
        refuse("/unit_system", "invalid_choice", "metric or us.")
    return unit_system


def _atmosphere(atmosphere_pa: float) -> float:
    plausible = LOWEST_ATMOSPHERE_PA <= atmosphere_pa <= HIGHEST_ATMOSPHERE_PA
    if not (math.isfinite(atmosphere_pa) and plausible):
        text = f"The air pressure lies between {LOWEST_ATMOSPHERE_PA:.0f} and {HIGHEST_ATMOSPHERE_PA:.0f} Pa."
        refuse("/atmosphere_pa", "out_of_range", text)
    return atmosphere_pa
