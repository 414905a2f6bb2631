"""Rows of a register sheet become areas, assets, measuring points, supply systems, instruments and stops.

A code that the site has already is compared: the same values are "known", other values are a doubt that
names them, and accepting it changes the entry.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import Any, Final

from django.db import transaction

from findings.detectors.actions import add_instrument, change_instrument
from findings.intake.actions.report import RowReport, doubt, refuse
from findings.intake.actions.run import Run
from findings.intake.queries import RegisterCodes, folded, register_codes
from findings.intake.rules import FileKind, ReadRow, RowVerdict
from findings.plant.actions import (
    add_area,
    add_asset,
    add_point,
    change_area,
    change_asset,
    change_point,
)
from findings.routes.actions import add_route, set_stops
from findings.supply.actions import add_system, change_system, connect
from plantcare.api.problems import Refusal

Pair = tuple[ReadRow, RowReport]


class Unplaced(Exception):
    """A row names a code that the site doesn't have (yet)."""


def take_register_rows(run: Run, pairs: list[Pair]) -> None:
    """Write the rows that may be taken, parents before parts; each report says what became of its row."""
    codes = register_codes(run.site.pk)
    waiting = [pair for pair in pairs if pair[1].verdict not in {RowVerdict.BLANK, RowVerdict.REFUSED}]
    _refuse_repeats(run.kind, waiting)
    if run.kind is FileKind.ROUTE_STOPS:
        _take_stops(run, waiting, codes)
        return
    waiting = [pair for pair in waiting if pair[1].verdict is not RowVerdict.REFUSED]
    # A parent may stand below its part in the sheet: go round while a round places something.
    while waiting:
        left = [pair for pair in waiting if not _try_row(run, *pair, codes)]
        if len(left) == len(waiting):
            break
        waiting = left
    for row, report in waiting:
        refuse(report, "unknown_code", _missing_codes(run.kind, row, codes))


def _try_row(run: Run, row: ReadRow, report: RowReport, codes: RegisterCodes) -> bool:
    """Handle one row; False while it names a code that is not there yet."""
    try:
        values = _VALUES[run.kind](row.values, codes)
    except Unplaced:
        return False
    existing = codes.of(run.kind).get(folded(row.values["code"]))
    try:
        with transaction.atomic():
            if existing is None:
                _add(run, report, values, codes)
            else:
                _compare(run, report, existing, values)
    except Refusal as refusal:
        refuse(report, refusal.code, refusal.detail)
    return True


def _add(run: Run, report: RowReport, values: dict[str, Any], codes: RegisterCodes) -> None:
    if not run.takes(report):
        return
    supply = values.pop("supply", None)
    made = _ADD[run.kind](actor=run.actor, at=run.at, site_id=run.site.pk, **values)
    for system_id in supply or []:
        connect(actor=run.actor, at=run.at, site_id=run.site.pk, asset_id=made.pk, system_id=system_id)
    codes.of(run.kind)[folded(made.code)] = made
    report.outcome, report.made_kind, report.made_id = "added", _NAME[run.kind], made.pk


def _compare(run: Run, report: RowReport, existing: Any, values: dict[str, Any]) -> None:
    values.pop("supply", None)
    other = {name: value for name, value in values.items() if getattr(existing, name) != value}
    report.made_kind, report.made_id = _NAME[run.kind], existing.pk
    if not other:
        report.verdict, report.outcome = RowVerdict.KNOWN, "known"
        return
    named = ", ".join(name.removesuffix("_id") for name in other)
    doubt(report, "differs", f"{existing.code} is there already with another {named}; accepting changes it")
    if run.takes(report):
        _CHANGE[run.kind](existing.pk, actor=run.actor, at=run.at, version=existing.version, **other)
        existing.refresh_from_db()
        report.outcome = "changed"


def _refuse_repeats(kind: FileKind, pairs: list[Pair]) -> None:
    if kind is FileKind.ROUTE_STOPS:
        return
    seen: dict[str, int] = {}
    for row, report in pairs:
        code = folded(row.values["code"])
        if code in seen:
            refuse(report, "code_twice", f"“{row.values['code']}” stands in row {seen[code]} already")
        seen.setdefault(code, row.number)


def _found(known: Mapping[str, Any], code: str) -> uuid.UUID:
    entry = known.get(folded(code))
    if entry is None:
        raise Unplaced(code)
    return uuid.UUID(str(entry.pk))


def _area_values(values: Mapping[str, Any], _codes: RegisterCodes) -> dict[str, Any]:
    return {"code": values["code"], "name": values["name"]}


def _asset_values(values: Mapping[str, Any], codes: RegisterCodes) -> dict[str, Any]:
    made = {
        "code": values["code"],
        "name": values["name"],
        "area_id": _found(codes.areas, values["area"]),
        "parent_id": _found(codes.assets, values["parent"]) if values.get("parent") else None,
    }
    made |= {
        name: values[name] for name in ("asset_class", "criticality", "access_restrictions") if name in values
    }
    if values.get("supply"):
        made["supply"] = [_found(codes.systems, code) for code in values["supply"]]
    return made


def _point_values(values: Mapping[str, Any], codes: RegisterCodes) -> dict[str, Any]:
    made = {"code": values["code"], "asset_id": _found(codes.assets, values["asset"])}
    return made | {name: values[name] for name in ("name", "method", "medium") if name in values}


def _system_values(values: Mapping[str, Any], _codes: RegisterCodes) -> dict[str, Any]:
    names = ("code", "name", "medium", "gas_name", "pressure_gauge_pa", "temperature_k")
    return {name: values[name] for name in names if name in values}


def _instrument_values(values: Mapping[str, Any], _codes: RegisterCodes) -> dict[str, Any]:
    names = ("code", "name", "serial", "scale", "calibration_due_on", "calibration_certificate")
    return {name: values[name] for name in names if name in values}


def _missing_codes(kind: FileKind, row: ReadRow, codes: RegisterCodes) -> str:
    wanted: dict[str, dict[str, Any]] = {"area": codes.areas, "parent": codes.assets, "supply": codes.systems}
    if kind is FileKind.MEASURING_POINTS:
        wanted = {"asset": codes.assets}
    missing = []
    for name, known in wanted.items():
        given = row.values.get(name) or []
        codes_given = given if isinstance(given, list) else [given]
        missing += [f"{name} “{code}”" for code in codes_given if folded(code) not in known]
    return f"the site has no {', '.join(missing)}"


def _take_stops(run: Run, pairs: list[Pair], codes: RegisterCodes) -> None:
    """Set the stops of each route that the sheet names; a route is set whole or not at all."""
    by_route: dict[str, list[Pair]] = defaultdict(list)
    for row, report in pairs:
        by_route[folded(row.values["route"])].append((row, report))
    for rows in by_route.values():
        rows.sort(key=lambda pair: pair[0].values["position"])
        unknown = [pair for pair in rows if folded(pair[0].values["point"]) not in codes.points]
        for row, report in unknown:
            refuse(report, "unknown_point", f"no measuring point “{row.values['point']}”")
        if not unknown and all(run.takes(report) for _, report in rows):
            _set_route(run, rows, codes)


def _set_route(run: Run, rows: list[Pair], codes: RegisterCodes) -> None:
    first = rows[0][0].values
    point_ids = [codes.points[folded(row.values["point"])].pk for row, _ in rows]
    try:
        with transaction.atomic():
            route = codes.routes.get(folded(first["route"]))
            if route is None:
                name = first.get("route_name") or first["route"]
                route = add_route(
                    actor=run.actor, at=run.at, site_id=run.site.pk, code=first["route"], name=name
                )
                codes.routes[folded(route.code)] = route
            elif codes.stops_of(route.pk) == point_ids:
                for _, report in rows:
                    report.verdict, report.outcome = RowVerdict.KNOWN, "known"
                return
            set_stops(
                actor=run.actor, at=run.at, route_id=route.pk, version=route.version, point_ids=point_ids
            )
    except Refusal as refusal:
        for _, report in rows:
            refuse(report, refusal.code, refusal.detail)
        return
    for _, report in rows:
        report.outcome, report.made_kind, report.made_id = "set", "route", route.pk


_VALUES: Final[Mapping[FileKind, Callable[[Mapping[str, Any], RegisterCodes], dict[str, Any]]]] = {
    FileKind.AREAS: _area_values,
    FileKind.ASSETS: _asset_values,
    FileKind.MEASURING_POINTS: _point_values,
    FileKind.SUPPLY_SYSTEMS: _system_values,
    FileKind.INSTRUMENTS: _instrument_values,
}
_NAME: Final[Mapping[FileKind, str]] = {
    FileKind.AREAS: "area",
    FileKind.ASSETS: "asset",
    FileKind.MEASURING_POINTS: "measuring_point",
    FileKind.SUPPLY_SYSTEMS: "supply_system",
    FileKind.INSTRUMENTS: "instrument",
}
_ADD: Final[Mapping[FileKind, Callable[..., Any]]] = {
    FileKind.AREAS: add_area,
    FileKind.ASSETS: add_asset,
    FileKind.MEASURING_POINTS: add_point,
    FileKind.SUPPLY_SYSTEMS: add_system,
    FileKind.INSTRUMENTS: add_instrument,
}
_CHANGE: Final[Mapping[FileKind, Callable[..., Any]]] = {
    FileKind.AREAS: lambda pk, **kw: change_area(area_id=pk, **kw),
    FileKind.ASSETS: lambda pk, **kw: change_asset(asset_id=pk, **kw),
    FileKind.MEASURING_POINTS: lambda pk, **kw: change_point(point_id=pk, **kw),
    FileKind.SUPPLY_SYSTEMS: lambda pk, **kw: change_system(system_id=pk, **kw),
    FileKind.INSTRUMENTS: lambda pk, **kw: change_instrument(instrument_id=pk, **kw),
}
