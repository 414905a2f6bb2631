"""What the intake looks up: saved mappings, earlier imports, and the register by its codes."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet

from findings.detectors.models import Instrument
from findings.intake.models import Import, Mapping
from findings.intake.rules import FileKind
from findings.plant.models import Area, Asset, MeasuringPoint, Site
from findings.readings.models import Reading
from findings.routes.models import Route, Stop
from findings.supply.models import SupplySystem
from findings.surveys.models import Survey


def mappings() -> QuerySet[Mapping]:
    """Return all saved mappings; a door narrows them."""
    return Mapping.objects.all()


def imports() -> QuerySet[Import]:
    """Return all imports; a door narrows them."""
    return Import.objects.select_related("user")


def site_of(site_id: uuid.UUID) -> Site:
    """Return a site whose right the door has checked."""
    return Site.objects.get(pk=site_id)


def earlier_import(
    site_id: uuid.UUID, digest: bytes, mapping_digest: bytes, strictness: str
) -> Import | None:
    """Return the import of the very same file with the same mapping, if there was one."""
    return Import.objects.filter(
        site_id=site_id, digest=digest, mapping_digest=mapping_digest, strictness=strictness
    ).first()


def folded(code: str) -> str:
    """Return a code as people compare it: case and outer blanks don't count."""
    return " ".join(code.split()).casefold()


@dataclass(slots=True)
class Places:
    """The register of one site by folded code, read once per file."""

    points: dict[str, MeasuringPoint] = field(default_factory=dict)
    assets: dict[str, Asset] = field(default_factory=dict)
    points_of_asset: dict[uuid.UUID, list[MeasuringPoint]] = field(default_factory=lambda: defaultdict(list))
    instruments: dict[str, Instrument] = field(default_factory=dict)

    def add_point(self, point: MeasuringPoint) -> None:
        """Know a point that was just made."""
        self.points[folded(point.code)] = point
        self.points_of_asset[point.asset_id].append(point)


def places_of(site_id: uuid.UUID) -> Places:
    """Read the site's points, assets and instruments in three queries."""
    places = Places()
    for point in MeasuringPoint.objects.filter(site_id=site_id, retired_at__isnull=True):
        places.add_point(point)
    places.assets = {folded(asset.code): asset for asset in Asset.objects.filter(site_id=site_id)}
    places.instruments = {folded(tool.code): tool for tool in Instrument.objects.filter(site_id=site_id)}
    return places


def known_client_ids(site_id: uuid.UUID, client_ids: list[str]) -> set[str]:
    """Return which of these readings the site already has."""
    return set(
        Reading.objects.filter(site_id=site_id, client_id__in=client_ids).values_list("client_id", flat=True)
    )


def survey_by_code(site_id: uuid.UUID, code: str) -> Survey | None:
    """Return the site's survey of that code, if there is one."""
    return Survey.objects.filter(site_id=site_id, code=code).first()


@dataclass(slots=True)
class RegisterCodes:
    """Everything of a site that a register sheet may name, by folded code."""

    areas: dict[str, Area]
    assets: dict[str, Asset]
    points: dict[str, MeasuringPoint]
    systems: dict[str, SupplySystem]
    instruments: dict[str, Instrument]
    routes: dict[str, Route]

    def of(self, kind: FileKind) -> dict[str, Any]:
        """Return the entries that a sheet of this kind adds to."""
        tables: dict[FileKind, dict[str, Any]] = {
            FileKind.AREAS: self.areas,
            FileKind.ASSETS: self.assets,
            FileKind.MEASURING_POINTS: self.points,
            FileKind.SUPPLY_SYSTEMS: self.systems,
            FileKind.INSTRUMENTS: self.instruments,
        }
        return tables[kind]

    def stops_of(self, route_id: uuid.UUID) -> list[uuid.UUID]:
        """Return a route's points in their order."""
        stops = Stop.objects.filter(route_id=route_id).order_by("position")
        return list(stops.values_list("point_id", flat=True))


def register_codes(site_id: uuid.UUID) -> RegisterCodes:
    """Read the site's register in six queries."""

    return RegisterCodes(
        _by_code(Area.objects.filter(site_id=site_id)),
        _by_code(Asset.objects.filter(site_id=site_id)),
        _by_code(MeasuringPoint.objects.filter(site_id=site_id)),
        _by_code(SupplySystem.objects.filter(site_id=site_id)),
        _by_code(Instrument.objects.filter(site_id=site_id)),
        _by_code(Route.objects.filter(site_id=site_id)),
    )


def _by_code(rows: Iterable[Any]) -> dict[str, Any]:
    return {folded(row.code): row for row in rows}
