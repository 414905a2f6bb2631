"""Rows of a survey sheet become surveys and readings through the register, as an inspector's would."""

from __future__ import annotations

import difflib
import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import Any, Final
from zoneinfo import ZoneInfo

from findings.intake.actions.report import RowReport, doubt, refuse
from findings.intake.actions.run import Run
from findings.intake.queries import Places, folded, known_client_ids, places_of, survey_by_code
from findings.intake.rules import Note, ReadRow, RowVerdict
from findings.kinds.base import Kind
from findings.logbook.rules import canonical
from findings.plant.actions import add_point
from findings.plant.models import Asset, MeasuringPoint
from findings.plant.rules import Method
from findings.readings.actions import NewReading
from findings.register.actions import take_readings
from findings.surveys.actions import end_survey, start_survey
from findings.surveys.models import Survey
from plantcare.api.problems import Refusal

CHUNK: Final = 500
METHOD_OF: Final[Mapping[str, Method]] = {
    Kind.PRESSURE_LEAK: Method.AIRBORNE,
    Kind.VACUUM_LEAK: Method.AIRBORNE,
    Kind.ENCLOSURE_LEAK: Method.TONE_SOURCE,
    Kind.MECHANICAL_WEAR: Method.CONTACT,
    Kind.ELECTRICAL_DISCHARGE: Method.ELECTRICAL,
}
NUMBERS: Final = (
    "level_db", "background_db", "distance_m", "pressure_gauge_pa", "temperature_k", "hole_diameter_m",
    "flow_m3_per_s", "flow_u_m3_per_s", "air_temperature_k", "relative_humidity", "band_centre_hz",
    "shaft_speed_hz", "load_share",
)  # fmt: skip
EVIDENCE: Final = ("hole_diameter_m", "flow_m3_per_s", "severity")

Pair = tuple[ReadRow, RowReport]


def take_survey_rows(run: Run, pairs: list[Pair]) -> None:
    """Write the rows that may be taken; every row's report says what became of it."""
    places = places_of(run.site.pk)
    placed: list[tuple[ReadRow, RowReport, MeasuringPoint]] = []
    for row, report in pairs:
        if report.verdict in {RowVerdict.BLANK, RowVerdict.REFUSED}:
            continue
        _check_row(row, report, places)
        point = None if _is_refused(report) else _place(run, row, report, places)
        if point is not None and run.takes(report):
            placed.append((row, report, point))
    fresh = _without_repeats(run, placed, places)
    by_survey: dict[str, list[tuple[NewReading, RowReport, ReadRow]]] = defaultdict(list)
    for item, report, row in fresh:
        by_survey[_survey_code(run, row)].append((item, report, row))
    for code, items in by_survey.items():
        _take_survey(run, code, items)


def _is_refused(report: RowReport) -> bool:
    return report.verdict is RowVerdict.REFUSED


def _check_row(row: ReadRow, report: RowReport, places: Places) -> None:
    """Refuse what cannot be a reading; a blank kind means a quiet point if nothing speaks against it."""
    values = row.values
    if "taken_at" not in values:
        refuse(report, "moment_missing", "when it was taken is blank")
    if not values.get("kind") and any(name in values for name in EVIDENCE):
        refuse(report, "kind_missing", "the kind of finding is blank, yet the row tells of a fault")
    if "flow_m3_per_s" in values and not values.get("flow_method"):
        values["flow_method"] = "stated"
    tool = values.get("instrument")
    if tool and folded(tool) not in places.instruments:
        doubt(report, "unknown_instrument", f"no instrument “{tool}”{_near(tool, places.instruments)}")


def _place(run: Run, row: ReadRow, report: RowReport, places: Places) -> MeasuringPoint | None:
    """Return the measuring point of a row: by its code, or by asset and spot."""
    code = row.values.get("point")
    if code:
        point = places.points.get(folded(code))
        if point is None:
            refuse(report, "unknown_point", f"no measuring point “{code}”{_near(code, places.points)}")
        return point
    asset_code = row.values.get("asset")
    if not asset_code:
        refuse(report, "place_missing", "neither a measuring point nor an asset is named")
        return None
    asset = places.assets.get(folded(asset_code))
    if asset is None:
        refuse(report, "unknown_asset", f"no asset “{asset_code}”{_near(asset_code, places.assets)}")
        return None
    return _place_on(run, row, report, places, asset)


def _place_on(
    run: Run, row: ReadRow, report: RowReport, places: Places, asset: Asset
) -> MeasuringPoint | None:
    spot = row.values.get("spot", "")
    points = places.points_of_asset[asset.pk]
    found = [point for point in points if folded(spot) in {folded(point.name), folded(point.code)}]
    if spot and len(found) == 1:
        return found[0]
    if not spot and len(points) == 1:
        text = f"the row names no spot; the asset's only measuring point {points[0].code} is meant"
        doubt(report, "point_assumed", text)
        return points[0]
    if not spot:
        refuse(
            report, "spot_missing", f"asset {asset.code} has {len(points)} measuring points: name the spot"
        )
        return None
    doubt(report, "new_point", f"“{spot}” on {asset.code} is new: accepting the row makes a measuring point")
    return _new_point(run, row, places, asset, spot) if run.accept_doubtful else None


def _new_point(run: Run, row: ReadRow, places: Places, asset: Asset, spot: str) -> MeasuringPoint:
    number = len(places.points_of_asset[asset.pk]) + 1
    while folded(f"{asset.code}-{number}") in places.points:
        number += 1
    point = add_point(
        actor=run.actor,
        at=run.at,
        site_id=run.site.pk,
        asset_id=asset.pk,
        code=f"{asset.code}-{number}"[:64],
        name=spot,
        method=METHOD_OF.get(row.values.get("kind", ""), Method.AIRBORNE),
        medium=row.values.get("medium", ""),
    )
    places.add_point(point)
    return point


def _without_repeats(
    run: Run, placed: list[tuple[ReadRow, RowReport, MeasuringPoint]], places: Places
) -> list[tuple[NewReading, RowReport, ReadRow]]:
    """Drop rows that stand twice in the file or are in the register already, and say so."""
    items = [(_reading(run, row, point, places), report, row) for row, report, point in placed]
    known = known_client_ids(run.site.pk, [item.client_id for item, _, _ in items])
    seen: dict[str, int] = {}
    fresh = []
    for item, report, row in items:
        if item.client_id in known:
            report.verdict, report.outcome = RowVerdict.KNOWN, "known"
        elif item.client_id in seen:
            report.verdict, report.outcome = RowVerdict.KNOWN, f"same as row {seen[item.client_id]}"
        else:
            seen[item.client_id] = row.number
            fresh.append((item, report, row))
    return fresh


def _reading(run: Run, row: ReadRow, point: MeasuringPoint, places: Places) -> NewReading:
    values = row.values
    instrument = places.instruments.get(folded(values.get("instrument", "")))
    return NewReading(
        client_id=values.get("client_id") or _content_id(point, values),
        point_id=point.pk,
        taken_at=values["taken_at"],
        kind=values.get("kind", ""),
        medium=values.get("medium", ""),
        instrument_id=instrument.pk if instrument else None,
        edge=values.get("edge", ""),
        flow_method=values.get("flow_method", ""),
        severity=values.get("severity"),
        pattern=values.get("pattern", ""),
        attachment=values.get("attachment", ""),
        leak_family=values.get("leak_family", ""),
        probe=values.get("probe", ""),
        greasing=values.get("greasing", ""),
        note=values.get("note", ""),
        as_sent={"file": run.file_name, "row": row.number, "cells": row.as_sent},
        **{name: values.get(name) for name in NUMBERS},
    )


def _content_id(point: MeasuringPoint, values: Mapping[str, Any]) -> str:
    """Name a reading by what it says, so that the same row in any file is the same reading."""
    said = {name: value for name, value in values.items() if name not in {"survey", "point", "asset", "spot"}}
    return f"row-{hashlib.sha256(canonical({**said, 'point': point.pk})).hexdigest()[:48]}"


def _survey_code(run: Run, row: ReadRow) -> str:
    """Return the survey's own code, or one from the file's name and the local day."""
    given = row.values.get("survey")
    if given:
        return str(given)
    day = row.values["taken_at"].astimezone(ZoneInfo(run.site.time_zone)).date()
    return f"{PurePath(run.file_name).stem[:50]} {day.isoformat()}"


def _take_survey(run: Run, code: str, items: list[tuple[NewReading, RowReport, ReadRow]]) -> None:
    times = [item.taken_at for item, _, _ in items]
    survey = survey_by_code(run.site.pk, code)
    is_new = survey is None
    if survey is None:
        survey = start_survey(
            actor=run.actor,
            at=run.at,
            site_id=run.site.pk,
            code=code,
            started_at=min(times),
            inspector_name=next(
                (str(row.values["inspector"]) for _, _, row in items if row.values.get("inspector")), ""
            ),
        )
    # In the order in which they were taken, so that a leak's history builds up as it happened.
    items.sort(key=lambda item: (item[0].taken_at, item[2].number))
    taken = 0
    for start in range(0, len(items), CHUNK):
        taken += _take_chunk(run, survey, items[start : start + CHUNK])
    if is_new and taken:
        end_survey(
            actor=run.actor, at=run.at, survey_id=survey.pk, version=survey.version, ended_at=max(times)
        )


def _take_chunk(run: Run, survey: Survey, items: Sequence[tuple[NewReading, RowReport, ReadRow]]) -> int:
    results = take_readings(
        actor=run.actor,
        at=run.at,
        survey_id=survey.pk,
        items=[item for item, _, _ in items],
        all_or_nothing=False,
    )
    taken = 0
    for (_, report, _), result in zip(items, results, strict=True):
        if isinstance(result, Refusal):
            refuse(report, result.code, result.detail)
            continue
        taken += 1
        report.outcome = result.outcome
        for warning in result.reading.warnings:
            report.notes.append(Note("", warning["code"], warning["text"]))
        if result.finding is not None:
            report.made_kind, report.made_id = "finding", result.finding.pk
        else:
            report.made_kind, report.made_id = "reading", result.reading.pk
    return taken


def _near(code: str, known: Mapping[str, Any]) -> str:
    near = difflib.get_close_matches(folded(code), known, n=2, cutoff=0.75)
    return f"; did you mean {' or '.join(f'“{known[name].code}”' for name in near)}?" if near else ""
