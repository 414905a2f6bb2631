"""Make, change and retire measuring points."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any, TypedDict, Unpack

from django.db import transaction

from findings.kinds.base import Medium
from findings.logbook import actions as logbook
from findings.plant.actions.assets import AssetDecommissioned
from findings.plant.actions.refusals import code_constraint, free_code, refuse, same_site
from findings.plant.models import Asset, MeasuringPoint
from findings.plant.rules import Method
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError, NotFound

code_constraint("point_code_once_per_site")


class PointChanges(TypedDict, total=False):
    """What may change about a measuring point. Its asset stays: readings were taken there."""

    code: str
    name: str
    method: str
    medium: str
    retired: bool


def add_point(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    asset_id: uuid.UUID,
    code: str,
    name: str = "",
    method: str = "airborne",
    medium: str = "",
) -> MeasuringPoint:
    """Make a measuring point. Raises Invalid, OtherSite, CodeTaken, AssetDecommissioned."""
    with transaction.atomic():
        asset = Asset.objects.filter(pk=asset_id).first()
        same_site(site_id, "/asset_id", asset.site_id if asset else None)
        refuse_retired(asset)
        point = MeasuringPoint.objects.create(
            site_id=site_id,
            asset_id=asset_id,
            code=free_code(MeasuringPoint.objects.filter(site_id=site_id), code),
            created_at=at,
            **checked_point({"name": name, "method": method, "medium": medium}),
        )
        logbook.write(
            site_id=site_id,
            actor=actor,
            at=at,
            act="point.added",
            subject_kind="point",
            subject_id=point.pk,
            subject_version=point.version,
            detail={"code": point.code, "asset_id": asset_id},
        )
    return point


def change_point(
    *,
    actor: Actor,
    at: datetime,
    point_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[PointChanges],
) -> MeasuringPoint:
    """Change or retire a measuring point. Raises NotFound, Invalid, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        point = MeasuringPoint.objects.filter(pk=point_id).first()
        if point is None:
            raise NotFound
        values = checked_point(changes)
        if "code" in values:
            others = MeasuringPoint.objects.filter(site_id=point.site_id).exclude(pk=point.pk)
            values["code"] = free_code(others, values["code"])
        if "retired" in values:
            values["retired_at"] = (point.retired_at or at) if values.pop("retired") else None
        changed = versions.change(point, version, values)
        if changed:
            logbook.write(
                site_id=point.site_id,
                actor=actor,
                at=at,
                act="point.changed",
                subject_kind="point",
                subject_id=point.pk,
                subject_version=point.version,
                detail={"changed": changed},
            )
    return point


def checked_point(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the given members as they are stored. Raises Invalid."""
    stored = dict(values)
    if "name" in stored:
        stored["name"] = str(stored["name"]).strip()
    if "method" in stored and stored["method"] not in set(Method):
        refuse("/method", "invalid_choice", f"One of {', '.join(Method)}.")
    if stored.get("medium") and stored["medium"] not in set(Medium):
        refuse("/medium", "invalid_choice", f"One of {', '.join(Medium)}.")
    return stored


def refuse_retired(asset: Asset | None) -> None:
    """Raise AssetDecommissioned for an asset that is out of service."""
    if asset is not None and asset.decommissioned_at is not None:
        text = f"{asset.code} is out of service."
        raise AssetDecommissioned(text, errors=[FieldError("/asset_id", "asset_decommissioned", text)])
