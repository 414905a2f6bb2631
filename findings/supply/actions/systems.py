"""Make and change supply systems, and say what feeds which asset."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any, TypedDict, Unpack

from django.db import transaction

from findings.kinds.base import Medium
from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import Asset
from findings.supply.models import Connection, SupplySystem
from findings.supply.rules import SupplyRefused, check_gas_name, check_header, check_storage
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound

plant.code_constraint("supply_code_once_per_site")


class MediumConnected(Conflict):
    """What feeds an asset has to be one system per medium, or its loss could not be priced."""

    code = "medium_connected"
    title = "The asset is fed with this medium already."


class SystemChanges(TypedDict, total=False):
    """What may change about a supply system. Its medium stays: findings were priced by it."""

    code: str
    name: str
    pressure_gauge_pa: float
    temperature_k: float
    storage_m3: float | None


class SystemExtras(TypedDict, total=False):
    """What a new system may have beside what each needs."""

    gas_name: str
    storage_m3: float | None


@contextmanager
def ruled() -> Iterator[None]:
    """Turn what a rule refuses into Invalid with its pointer."""
    try:
        yield
    except SupplyRefused as exc:
        raise Invalid(str(exc), errors=[FieldError(f"/{exc.member}", exc.code, str(exc))]) from None


def add_system(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    code: str,
    name: str,
    medium: str,
    pressure_gauge_pa: float,
    temperature_k: float = 293.15,
    **more: Unpack[SystemExtras],
) -> SupplySystem:
    """Make a supply system; Pa gauge, K, m3 of storage. Raises SiteUnknown, Invalid, CodeTaken."""
    gas_name, storage_m3 = more.get("gas_name", ""), more.get("storage_m3")
    with transaction.atomic():
        site = plant.site_of(site_id)
        if medium not in set(Medium):
            plant.refuse("/medium", "invalid_choice", f"One of {', '.join(Medium)}.")
        with ruled():
            check_header(medium, pressure_gauge_pa, temperature_k, atmosphere_pa=site.atmosphere_pa)
            check_gas_name(medium, gas_name)
            check_storage(storage_m3)
        system = SupplySystem.objects.create(
            site=site,
            code=plant.free_code(SupplySystem.objects.filter(site=site), code),
            name=plant.named(name),
            medium=medium,
            gas_name=gas_name,
            pressure_gauge_pa=pressure_gauge_pa,
            temperature_k=temperature_k,
            storage_m3=storage_m3,
            created_at=at,
        )
        log_of(
            system, "supply_system", actor, at, "supply_system.added", {"code": system.code, "medium": medium}
        )
    return system


def change_system(
    *,
    actor: Actor,
    at: datetime,
    system_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[SystemChanges],
) -> SupplySystem:
    """Change a supply system. Raises NotFound, Invalid, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        system = SupplySystem.objects.select_related("site").filter(pk=system_id).first()
        if system is None:
            raise NotFound
        if "code" in changes:
            others = SupplySystem.objects.filter(site_id=system.site_id).exclude(pk=system.pk)
            changes["code"] = plant.free_code(others, changes["code"])
        if "name" in changes:
            changes["name"] = plant.named(changes["name"])
        with ruled():
            check_header(
                system.medium,
                changes.get("pressure_gauge_pa", system.pressure_gauge_pa),
                changes.get("temperature_k", system.temperature_k),
                atmosphere_pa=system.site.atmosphere_pa,
            )
            check_storage(changes.get("storage_m3"))
        changed = versions.change(system, version, changes)
        if changed:
            log_of(system, "supply_system", actor, at, "supply_system.changed", {"changed": changed})
    return system


def connect(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, asset_id: uuid.UUID, system_id: uuid.UUID
) -> Connection:
    """Feed an asset, and the parts below it, from a system. Raises OtherSite, MediumConnected."""
    with transaction.atomic():
        system = system_of(site_id, system_id)
        rows = Asset.objects.select_for_update(no_key=True)
        asset = rows.filter(pk=asset_id, site_id=site_id).first() or plant.unknown("/asset_id")
        fed = Connection.objects.filter(asset_id=asset_id, system__medium=system.medium)
        if fed.filter(system__gas_name=system.gas_name).exists():
            raise MediumConnected
        made = Connection.objects.create(site_id=site_id, asset=asset, system=system, created_at=at)
        detail = {"asset_id": asset_id, "system_id": system_id}
        log_of(made, "connection", actor, at, "connection.added", detail)
    return made


def disconnect(*, actor: Actor, at: datetime, connection_id: uuid.UUID, reason: str = "") -> Connection:
    """Take a connection away; the logbook keeps it, and findings keep their system. Raises NotFound."""
    with transaction.atomic():
        rows = Connection.objects.select_for_update(of=("self",)).select_related("asset", "system")
        found = rows.filter(pk=connection_id).first()
        if found is None:
            raise NotFound
        Connection.objects.filter(pk=found.pk).delete()
        detail = {"asset_id": found.asset_id, "system_id": found.system_id}
        log_of(found, "connection", actor, at, "connection.ended", detail, reason)
    return found


def system_of(site_id: uuid.UUID, system_id: uuid.UUID) -> SupplySystem:
    """Return a system of the site. Raises OtherSite."""
    system = SupplySystem.objects.select_related("site").filter(pk=system_id).first()
    if system is None or system.site_id != site_id:
        plant.unknown("/system_id")
    return system


def log_of(
    subject: Any, kind: str, actor: Actor, at: datetime, act: str, detail: Any, reason: str = ""
) -> None:
    """Write what was done to a thing of this room into the logbook."""
    logbook.write(
        site_id=subject.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind=kind,
        subject_id=subject.pk,
        subject_version=getattr(subject, "version", None),
        reason=reason,
        detail=detail,
    )
