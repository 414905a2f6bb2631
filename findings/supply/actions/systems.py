"""Make and change supply systems and compressors, and say what feeds which asset."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from typing import Any, TypedDict, Unpack

from django.db import transaction

from findings.kinds.base import Medium
from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import Asset
from findings.supply.models import Compressor, Connection, SupplySystem
from findings.supply.rules import ControlType, SupplyRefused, check_gas_name, check_header, check_rating
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound

plant.code_constraint("supply_code_once_per_site")
plant.code_constraint("compressor_code_once_per_site")


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


class CompressorChanges(TypedDict, total=False):
    """What may change about a compressor."""

    code: str
    control: str
    asset_id: uuid.UUID | None
    rated_flow_m3_per_s: float
    rated_power_w: float
    commissioned_on: date | None
    retired_on: date | None


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
    gas_name: str = "",
) -> SupplySystem:
    """Make a supply system; Pa gauge and K. Raises SiteUnknown, Invalid, CodeTaken."""
    with transaction.atomic():
        site = plant.site_of(site_id)
        if medium not in set(Medium):
            plant.refuse("/medium", "invalid_choice", f"One of {', '.join(Medium)}.")
        with ruled():
            check_header(medium, pressure_gauge_pa, temperature_k, atmosphere_pa=site.atmosphere_pa)
            check_gas_name(medium, gas_name)
        system = SupplySystem.objects.create(
            site=site,
            code=plant.free_code(SupplySystem.objects.filter(site=site), code),
            name=plant.named(name),
            medium=medium,
            gas_name=gas_name,
            pressure_gauge_pa=pressure_gauge_pa,
            temperature_k=temperature_k,
            created_at=at,
        )
        _log(
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
        changed = versions.change(system, version, changes)
        if changed:
            _log(system, "supply_system", actor, at, "supply_system.changed", {"changed": changed})
    return system


def add_compressor(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    system_id: uuid.UUID,
    code: str,
    control: str,
    rated_flow_m3_per_s: float,
    rated_power_w: float,
    asset_id: uuid.UUID | None = None,
    commissioned_on: date | None = None,
) -> Compressor:
    """Make a compressor; rated flow of inlet air in m3/s, power in W.

    Raises Invalid, also for ratings that no machine has; OtherSite, CodeTaken.
    """
    with transaction.atomic():
        compressor = Compressor(
            site_id=site_id,
            system=_system(site_id, system_id),
            asset=_asset(site_id, asset_id),
            code=plant.free_code(Compressor.objects.filter(site_id=site_id), code),
            control=control,
            rated_flow_m3_per_s=rated_flow_m3_per_s,
            rated_power_w=rated_power_w,
            commissioned_on=commissioned_on,
            created_at=at,
        )
        _check_compressor(compressor)
        compressor.save(force_insert=True)
        detail = {"code": compressor.code, "system_id": system_id}
        _log(compressor, "compressor", actor, at, "compressor.added", detail)
    return compressor


def change_compressor(
    *,
    actor: Actor,
    at: datetime,
    compressor_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[CompressorChanges],
) -> Compressor:
    """Change or retire a compressor. Raises NotFound, Invalid, OtherSite, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        rows = Compressor.objects.select_related("system__site")
        compressor = rows.filter(pk=compressor_id).first()
        if compressor is None:
            raise NotFound
        if "code" in changes:
            others = Compressor.objects.filter(site_id=compressor.site_id).exclude(pk=compressor.pk)
            changes["code"] = plant.free_code(others, changes["code"])
        if "asset_id" in changes:
            _asset(compressor.site_id, changes["asset_id"])
        changed = versions.change(compressor, version, changes)
        # Judged as a whole; a refusal takes the change back with the transaction.
        _check_compressor(compressor)
        if changed:
            _log(compressor, "compressor", actor, at, "compressor.changed", {"changed": changed})
    return compressor


def connect(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, asset_id: uuid.UUID, system_id: uuid.UUID
) -> Connection:
    """Feed an asset, and the parts below it, from a system. Raises OtherSite, MediumConnected."""
    with transaction.atomic():
        system = _system(site_id, system_id)
        rows = Asset.objects.select_for_update(no_key=True)
        asset = rows.filter(pk=asset_id, site_id=site_id).first() or plant.unknown("/asset_id")
        fed = Connection.objects.filter(asset_id=asset_id, system__medium=system.medium)
        if fed.filter(system__gas_name=system.gas_name).exists():
            raise MediumConnected
        made = Connection.objects.create(site_id=site_id, asset=asset, system=system, created_at=at)
        detail = {"asset_id": asset_id, "system_id": system_id}
        _log(made, "connection", actor, at, "connection.added", detail)
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
        _log(found, "connection", actor, at, "connection.ended", detail, reason)
    return found


def _check_compressor(compressor: Compressor) -> None:
    if compressor.control not in set(ControlType):
        plant.refuse("/control", "invalid_choice", f"One of {', '.join(ControlType)}.")
    since, until = compressor.commissioned_on, compressor.retired_on
    if since is not None and until is not None and until < since:
        plant.refuse("/retired_on", "before_start", "A machine is retired after it began.")
    with ruled():
        check_rating(
            compressor.rated_flow_m3_per_s,
            compressor.rated_power_w,
            medium=compressor.system.medium,
            pressure_gauge_pa=compressor.system.pressure_gauge_pa,
            atmosphere_pa=compressor.system.site.atmosphere_pa,
        )


def _system(site_id: uuid.UUID, system_id: uuid.UUID) -> SupplySystem:
    system = SupplySystem.objects.select_related("site").filter(pk=system_id).first()
    if system is None or system.site_id != site_id:
        plant.unknown("/system_id")
    return system


def _asset(site_id: uuid.UUID, asset_id: uuid.UUID | None) -> Asset | None:
    if asset_id is None:
        return None
    asset = Asset.objects.filter(pk=asset_id, site_id=site_id).first()
    return asset if asset is not None else plant.unknown("/asset_id")


def _log(
    subject: Any, kind: str, actor: Actor, at: datetime, act: str, detail: Any, reason: str = ""
) -> None:
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
