"""Load many assets or measuring points at once, each with its own result.

Things name each other by id or by code; a parent may stand anywhere in the same batch. A batch takes a
handful of statements whatever its size, and one logbook entry per thing, written with one lock.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant.actions.assets import AssetDecommissioned, UnderItself, checked
from findings.plant.actions.points import checked_point
from findings.plant.actions.refusals import OtherSite, code_taken, lock_site, read
from findings.plant.models import Area, Asset, MeasuringPoint
from findings.plant.rules import clean_code, repeated, walk_order
from plantcare.api.actor import Actor
from plantcare.api.identifiers import uuid7
from plantcare.api.problems import FieldError, Refusal


@dataclass(frozen=True, kw_only=True, slots=True)
class NewAsset:
    """An asset of a batch: its area and its parent by id or by code."""

    code: str
    name: str
    area_id: uuid.UUID | None = None
    area_code: str = ""
    parent_id: uuid.UUID | None = None
    parent_code: str = ""
    asset_class: str = ""
    criticality: str = "B"
    running_windows: Sequence[Mapping[str, Any]] = field(default_factory=list)
    access_restrictions: Sequence[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True, slots=True)
class NewPoint:
    """A measuring point of a batch: its asset by id or by code."""

    code: str
    asset_id: uuid.UUID | None = None
    asset_code: str = ""
    name: str = ""
    method: str = "airborne"
    medium: str = ""


def add_assets(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, items: Sequence[NewAsset]
) -> list[Asset | Refusal]:
    """Make the assets that can be made and return, item by item, the asset or why not.

    The caller rolls back where it wants all or nothing. Raises SiteUnknown.
    """
    with transaction.atomic():
        lock_site(site_id)
        made = _AssetBatch(site_id, items).made(at)
        good = [one for one in made if isinstance(one, Asset)]
        Asset.objects.bulk_create(good)
        acts = [
            logbook.Act(
                act="asset.added",
                subject_kind="asset",
                subject_id=asset.pk,
                subject_version=asset.version,
                detail={"code": asset.code, "name": asset.name},
            )
            for asset in good
        ]
        logbook.write_many(site_id=site_id, actor=actor, at=at, acts=acts)
    return made


def add_points(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, items: Sequence[NewPoint]
) -> list[MeasuringPoint | Refusal]:
    """Make the points that can be made and return, item by item, the point or why not.

    The caller rolls back where it wants all or nothing. Raises SiteUnknown.
    """
    with transaction.atomic():
        lock_site(site_id)
        codes = [" ".join(item.code.split()) for item in items]
        taken = _taken(MeasuringPoint.objects.filter(site_id=site_id, code__in=codes)) | repeated(codes)
        assets = _Named(
            Asset.objects.filter(site_id=site_id),
            ids={item.asset_id for item in items},
            codes={item.asset_code for item in items},
        )
        made = [_refused_or(_point, site_id, at, item, assets, taken) for item in items]
        good = [one for one in made if isinstance(one, MeasuringPoint)]
        MeasuringPoint.objects.bulk_create(good)
        acts = [
            logbook.Act(
                act="point.added",
                subject_kind="point",
                subject_id=point.pk,
                subject_version=point.version,
                detail={"code": point.code, "asset_id": point.asset_id},
            )
            for point in good
        ]
        logbook.write_many(site_id=site_id, actor=actor, at=at, acts=acts)
    return made


class _Named:
    """Rows of the site by id and by code, fetched once."""

    def __init__(self, rows: Any, *, ids: set[uuid.UUID | None], codes: set[str]) -> None:
        self.by_id = {row.pk: row for row in rows.filter(pk__in=ids - {None})}
        self.by_code = {row.code: row for row in rows.filter(code__in=codes - {""})}

    def find(self, member: str, pk: uuid.UUID | None, code: str) -> Any:
        """Return the row that an id or a code names, None where neither is given. Raises OtherSite."""
        if pk is None and not code:
            return None
        found = self.by_id.get(pk) if pk is not None else self.by_code.get(code)
        if found is None:
            name = f"/{member}_id" if pk is not None else f"/{member}_code"
            raise OtherSite(errors=[FieldError(name, "unknown_reference", "Names nothing here.")])
        return found


class _AssetBatch:
    """The assets of one batch, built in an order in which each parent comes before its parts."""

    def __init__(self, site_id: uuid.UUID, items: Sequence[NewAsset]) -> None:
        self.site_id, self.items = site_id, items
        self.codes = [" ".join(item.code.split()) for item in items]
        rows = Asset.objects.filter(site_id=site_id)
        self.taken = _taken(rows.filter(code__in=self.codes)) | repeated(self.codes)
        self.number_of = {code: number for number, code in enumerate(self.codes)}
        self.areas = _Named(
            Area.objects.filter(site_id=site_id),
            ids={item.area_id for item in items},
            codes={item.area_code for item in items},
        )
        self.parents = _Named(
            rows,
            ids={item.parent_id for item in items},
            codes={item.parent_code for item in items},
        )
        self.results: dict[int, Asset | Refusal] = {}

    def made(self, at: datetime) -> list[Asset | Refusal]:
        """Return the unsaved assets and the refusals, in the order of the items."""
        order, circling = walk_order({n: self._parent_number(item) for n, item in enumerate(self.items)})
        for number in circling:
            errors = [FieldError("/parent_code", UnderItself.code, UnderItself.title)]
            self.results[number] = UnderItself(errors=errors)
        for number in order:
            self.results[number] = _refused_or(self._asset, number, at)
        return [self.results[number] for number in range(len(self.items))]

    def _parent_number(self, item: NewAsset) -> int | None:
        if item.parent_id is not None or item.parent_code in self.parents.by_code:
            return None
        return self.number_of.get(item.parent_code) if item.parent_code else None

    def _asset(self, number: int, at: datetime) -> Asset:
        item = self.items[number]
        code = read("/code", clean_code, item.code)
        if code in self.taken:
            raise code_taken(code)
        area = self.areas.find("area", item.area_id, item.area_code)
        if area is None:
            raise OtherSite(errors=[FieldError("/area_id", "required", "Name the area by id or by code.")])
        return Asset(
            id=uuid7(),
            site_id=self.site_id,
            area=area,
            parent=self._parent(item),
            code=code,
            created_at=at,
            **checked(
                {
                    "name": item.name,
                    "asset_class": item.asset_class,
                    "criticality": item.criticality,
                    "running_windows": item.running_windows,
                    "access_restrictions": item.access_restrictions,
                }
            ),
        )

    def _parent(self, item: NewAsset) -> Asset | None:
        number = self._parent_number(item)
        if number is not None:
            parent = self.results[number]
            if isinstance(parent, Refusal):
                text = f"Its parent {item.parent_code} was refused."
                raise OtherSite(text, errors=[FieldError("/parent_code", "parent_refused", text)])
            return parent
        found: Asset | None = self.parents.find("parent", item.parent_id, item.parent_code)
        _refuse_retired(found, "/parent_id" if item.parent_id else "/parent_code")
        return found


def _point(
    site_id: uuid.UUID, at: datetime, item: NewPoint, assets: _Named, taken: set[str]
) -> MeasuringPoint:
    code = read("/code", clean_code, item.code)
    if code in taken:
        raise code_taken(code)
    asset = assets.find("asset", item.asset_id, item.asset_code)
    if asset is None:
        raise OtherSite(errors=[FieldError("/asset_id", "required", "Name the asset by id or by code.")])
    _refuse_retired(asset, "/asset_id" if item.asset_id else "/asset_code")
    members = checked_point({"name": item.name, "method": item.method, "medium": item.medium})
    return MeasuringPoint(id=uuid7(), site_id=site_id, asset=asset, code=code, created_at=at, **members)


def _refuse_retired(asset: Asset | None, where: str) -> None:
    if asset is not None and asset.decommissioned_at is not None:
        text = f"{asset.code} is out of service."
        raise AssetDecommissioned(text, errors=[FieldError(where, "asset_decommissioned", text)])


def _taken(rows: Any) -> set[str]:
    return set(rows.values_list("code", flat=True))


def _refused_or(make: Any, *args: Any) -> Any:
    try:
        return make(*args)
    except Refusal as refusal:
        return refusal
