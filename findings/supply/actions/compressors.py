"""Make and change the machines of a supply system: what they deliver, take, and do at part load."""

from __future__ import annotations

import uuid
from copy import copy
from datetime import date, datetime
from typing import TypedDict, Unpack

from django.db import transaction

from findings.plant import actions as plant
from findings.plant.models import Asset
from findings.supply.actions.systems import log_of, ruled, system_of
from findings.supply.models import Compressor
from findings.supply.rules import ControlType, check_part_load, check_rating
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, NotFound, constraint_refusals

plant.code_constraint("compressor_code_once_per_site")


class OrderTaken(Conflict):
    """Two machines in one place of the cascade would leave open which of them trims."""

    code = "load_order_taken"
    title = "Another machine in use has this place in the load order of the system."


class PartLoad(TypedDict, total=False):
    """How a machine follows demand; each part is optional, measured ones are worth most."""

    unloaded_share: float | None
    least_share: float | None
    load_order: int | None
    part_load_points: list[list[float]]


class CompressorChanges(PartLoad, total=False):
    """What may change about a compressor."""

    code: str
    control: str
    asset_id: uuid.UUID | None
    rated_flow_m3_per_s: float
    rated_power_w: float
    commissioned_on: date | None
    retired_on: date | None


def _order_taken() -> OrderTaken:
    return OrderTaken(errors=[FieldError("/load_order", OrderTaken.code, OrderTaken.title)])


constraint_refusals["compressor_order_once_per_system"] = _order_taken


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
    **part_load: Unpack[PartLoad],
) -> Compressor:
    """Make a compressor; rated flow of inlet air in m3/s, power in W.

    Raises Invalid, also for ratings and part loads that no machine has; OtherSite, CodeTaken, OrderTaken.
    """
    with transaction.atomic():
        compressor = Compressor(
            site_id=site_id,
            system=system_of(site_id, system_id),
            asset=_asset(site_id, asset_id),
            code=plant.free_code(Compressor.objects.filter(site_id=site_id), code),
            control=control,
            rated_flow_m3_per_s=rated_flow_m3_per_s,
            rated_power_w=rated_power_w,
            commissioned_on=commissioned_on,
            created_at=at,
            **part_load,
        )
        _check_compressor(compressor)
        compressor.save(force_insert=True)
        detail = {"code": compressor.code, "system_id": system_id}
        log_of(compressor, "compressor", actor, at, "compressor.added", detail)
    return compressor


def change_compressor(
    *,
    actor: Actor,
    at: datetime,
    compressor_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[CompressorChanges],
) -> Compressor:
    """Change or retire a compressor.

    Raises NotFound, Invalid, OtherSite, CodeTaken, OrderTaken, PreconditionFailed.
    """
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
        # Judged as a whole before anything is written, so that the refusal is ours and names the member.
        judged = copy(compressor)
        for name, value in changes.items():
            setattr(judged, name, value)
        _check_compressor(judged)
        changed = versions.change(compressor, version, changes)
        if changed:
            log_of(compressor, "compressor", actor, at, "compressor.changed", {"changed": changed})
    return compressor


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
        check_part_load(
            compressor.control,
            unloaded_share=compressor.unloaded_share,
            least_share=compressor.least_share,
            load_order=compressor.load_order,
            part_load_points=compressor.part_load_points,
        )
    _check_order(compressor)


def _check_order(compressor: Compressor) -> None:
    if compressor.load_order is None or compressor.retired_on is not None:
        return
    rows = Compressor.objects.filter(system_id=compressor.system_id, load_order=compressor.load_order)
    if rows.filter(retired_on__isnull=True).exclude(pk=compressor.pk).exists():
        raise _order_taken()


def _asset(site_id: uuid.UUID, asset_id: uuid.UUID | None) -> Asset | None:
    if asset_id is None:
        return None
    asset = Asset.objects.filter(pk=asset_id, site_id=site_id).first()
    return asset if asset is not None else plant.unknown("/asset_id")
