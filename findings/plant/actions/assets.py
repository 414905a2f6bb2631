"""Make, change, move and retire assets."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, TypedDict, Unpack

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant import queries
from findings.plant.actions.refusals import (
    code_constraint,
    free_code,
    lock_site,
    named,
    refuse,
    same_site,
)
from findings.plant.models import Area, Asset
from findings.plant.rules import Criticality, WindowRefused, as_rows, read_windows
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, Unprocessable, pointer

CLOCK_TOLERANCE = timedelta(minutes=10)
MOST_RESTRICTIONS = 20

code_constraint("asset_code_once_per_site")


class AssetDecommissioned(Conflict):
    """What is out of service is neither moved nor added to."""

    code = "asset_decommissioned"
    title = "The asset is out of service."


class AssetInService(Conflict):
    """It runs already."""

    code = "asset_in_service"
    title = "The asset is in service."


class UnderItself(Unprocessable):
    """A part cannot hold the whole."""

    code = "asset_under_itself"
    title = "An asset can't be a part of itself or of one of its parts."


class AssetChanges(TypedDict, total=False):
    """What may change about an asset."""

    code: str
    name: str
    area_id: uuid.UUID
    parent_id: uuid.UUID | None
    asset_class: str
    criticality: str
    running_windows: Sequence[Mapping[str, Any]]
    access_restrictions: Sequence[str]


def add_asset(  # noqa: PLR0913 - one argument per member of an asset
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    area_id: uuid.UUID,
    code: str,
    name: str,
    parent_id: uuid.UUID | None = None,
    asset_class: str = "",
    criticality: str = "B",
    running_windows: Sequence[Mapping[str, Any]] = (),
    access_restrictions: Sequence[str] = (),
) -> Asset:
    """Make an asset. Raises Invalid, OtherSite, CodeTaken, AssetDecommissioned."""
    with transaction.atomic():
        same_site(site_id, "/area_id", _site_of_area(area_id))
        if parent_id is not None:
            check_parent(site_id, parent_id)
        asset = Asset.objects.create(
            site_id=site_id,
            area_id=area_id,
            parent_id=parent_id,
            code=free_code(Asset.objects.filter(site_id=site_id), code),
            created_at=at,
            **checked(
                {
                    "name": name,
                    "asset_class": asset_class,
                    "criticality": criticality,
                    "running_windows": running_windows,
                    "access_restrictions": access_restrictions,
                }
            ),
        )
        _log(asset, actor, at, "asset.added", detail={"code": asset.code, "name": asset.name})
    return asset


def change_asset(
    *,
    actor: Actor,
    at: datetime,
    asset_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[AssetChanges],
) -> Asset:
    """Change or move an asset. Raises NotFound, Invalid, UnderItself, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        asset = one_asset(asset_id)
        values = checked(changes)
        if "code" in values:
            others = Asset.objects.filter(site_id=asset.site_id).exclude(pk=asset.pk)
            values["code"] = free_code(others, values["code"])
        if "area_id" in values:
            same_site(asset.site_id, "/area_id", _site_of_area(values["area_id"]))
        if values.get("parent_id") is not None:
            lock_site(asset.site_id)
            check_parent(asset.site_id, values["parent_id"])
            if values["parent_id"] in queries.asset_subtree_ids(asset.pk):
                raise UnderItself(errors=[FieldError("/parent_id", UnderItself.code, UnderItself.title)])
        changed = versions.change(asset, version, values)
        if changed:
            _log(asset, actor, at, "asset.changed", detail={"changed": changed})
    return asset


def decommission_asset(
    *,
    actor: Actor,
    at: datetime,
    asset_id: uuid.UUID,
    reason: str,
    decommissioned_at: datetime | None = None,
    version: int | None = None,
) -> Asset:
    """Take an asset and everything below it out of service, in one act.

    Each part that was in service gets its own entry. Raises NotFound, Invalid for a moment to come or a
    missing reason, AssetDecommissioned, PreconditionFailed.
    """
    since = decommissioned_at or at
    if since > at + CLOCK_TOLERANCE:
        refuse("/decommissioned_at", "in_future", "Write it down when it has happened.")
    with transaction.atomic():
        asset = one_asset(asset_id)
        if asset.decommissioned_at is not None:
            raise AssetDecommissioned
        lock_site(asset.site_id)
        because = _reason(reason)
        versions.change(asset, version, {"decommissioned_at": since, "decommissioned_reason": because})
        below = queries.subtree(asset.pk).filter(decommissioned_at__isnull=True).exclude(pk=asset.pk)
        parts = list(below.select_for_update(no_key=True))
        for part in parts:
            part.decommissioned_at = since
            part.decommissioned_reason = f"With {asset.code}: {because}"[:500]
            part.version += 1
        Asset.objects.bulk_update(parts, ["decommissioned_at", "decommissioned_reason", "version"], 500)
        acts = [
            _act(one, "asset.decommissioned", one.decommissioned_reason, {"decommissioned_at": since})
            for one in (asset, *parts)
        ]
        logbook.write_many(site_id=asset.site_id, actor=actor, at=at, acts=acts)
    return asset


def recommission_asset(
    *, actor: Actor, at: datetime, asset_id: uuid.UUID, reason: str, version: int | None = None
) -> Asset:
    """Put one asset back in service; its parts stay out. Raises NotFound, AssetInService, Invalid."""
    with transaction.atomic():
        asset = one_asset(asset_id)
        if asset.decommissioned_at is None:
            raise AssetInService
        if asset.parent_id is not None:
            check_parent(asset.site_id, asset.parent_id)
        because = _reason(reason)
        versions.change(asset, version, {"decommissioned_at": None, "decommissioned_reason": ""})
        _log(asset, actor, at, "asset.recommissioned", reason=because)
    return asset


def one_asset(asset_id: uuid.UUID) -> Asset:
    """Return the asset. Raises NotFound."""
    asset = Asset.objects.filter(pk=asset_id).first()
    if asset is None:
        raise NotFound
    return asset


def check_parent(site_id: uuid.UUID, parent_id: uuid.UUID) -> None:
    """Raise OtherSite for a parent that the site does not have, AssetDecommissioned for a retired one."""
    parent = Asset.objects.filter(pk=parent_id).first()
    same_site(site_id, "/parent_id", parent.site_id if parent else None)
    if parent is not None and parent.decommissioned_at is not None:
        text = f"{parent.code} is out of service."
        raise AssetDecommissioned(text, errors=[FieldError("/parent_id", "asset_decommissioned", text)])


def checked(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the given members as they are stored. Raises Invalid."""
    stored = dict(values)
    if "name" in stored:
        stored["name"] = named(stored["name"])
    if "criticality" in stored and stored["criticality"] not in set(Criticality):
        refuse("/criticality", "invalid_choice", f"One of {', '.join(Criticality)}.")
    if "running_windows" in stored:
        stored["running_windows"] = _windows(stored["running_windows"])
    if "access_restrictions" in stored:
        stored["access_restrictions"] = _restrictions(stored["access_restrictions"])
    return stored


def _windows(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    try:
        return as_rows(read_windows(rows))
    except WindowRefused as exc:
        where = pointer("running_windows", exc.index, *((exc.member,) if exc.member else ()))
        raise Invalid(str(exc), errors=[FieldError(where, exc.code, str(exc))]) from None


def _restrictions(texts: Sequence[str]) -> list[str]:
    if len(texts) > MOST_RESTRICTIONS:
        refuse("/access_restrictions", "max_length", f"At most {MOST_RESTRICTIONS}.")
    return [text.strip() for text in texts if text.strip()]


def _reason(reason: str) -> str:
    if not reason.strip():
        refuse("/reason", "blank", "A reason is needed.")
    return reason.strip()


def _site_of_area(area_id: uuid.UUID) -> uuid.UUID | None:
    return Area.objects.filter(pk=area_id).values_list("site_id", flat=True).first()


def _act(asset: Asset, act: str, reason: str = "", detail: Mapping[str, Any] | None = None) -> logbook.Act:
    return logbook.Act(
        act=act,
        subject_kind="asset",
        subject_id=asset.pk,
        subject_version=asset.version,
        reason=reason,
        detail=detail or {},
    )


def _log(asset: Asset, actor: Actor, at: datetime, act: str, *, reason: str = "", detail: Any = None) -> None:
    entry = _act(asset, act, reason, detail)
    logbook.write_many(site_id=asset.site_id, actor=actor, at=at, acts=[entry])
