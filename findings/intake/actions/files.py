"""Take a file, or try it: one road for both, so that the dry run tells exactly what the real run will do.

A dry run does everything inside a transaction and takes it back; so does a real run that was asked for
all or nothing and met a row it may not take.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from findings.intake.actions.mappings import pointed
from findings.intake.actions.register_rows import take_register_rows
from findings.intake.actions.report import RowReport, counts_of, report_of
from findings.intake.actions.run import Run
from findings.intake.actions.survey_rows import take_survey_rows
from findings.intake.files import open_sheet
from findings.intake.models import Import
from findings.intake.queries import earlier_import, site_of
from findings.intake.rules import (
    ColumnMapping,
    FileKind,
    ReadRow,
    RowVerdict,
    Strictness,
    mapping_for_headers,
    read_row,
)
from findings.logbook.actions import write
from findings.logbook.rules import canonical
from plantcare.api.actor import Actor
from plantcare.api.problems import Unprocessable


class MappingUnfit(Unprocessable):
    """The mapping does not fit the sheet."""

    code = "mapping_unfit"
    title = "The mapping does not fit this sheet."


class ImportRefused(Unprocessable):
    """All or nothing was asked for, and some row may not be taken; nothing was kept."""

    code = "import_refused"
    title = "Some rows cannot be taken, so nothing was taken."


@dataclass(frozen=True, slots=True)
class ImportResult:
    """The outcome of a run: what would be or was taken, row by row."""

    kind: FileKind
    is_dry_run: bool
    counts: Mapping[str, int]
    rows: list[dict[str, Any]]
    columns: Mapping[str, str] = field(default_factory=dict)
    import_id: uuid.UUID | None = None
    taken_before: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """What makes two runs the same run: the bytes, how they are read, and what a bad row means."""

    content: bytes
    mapping: bytes
    strictness: Strictness


def import_file(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    kind: FileKind,
    content: bytes,
    file_name: str,
    mapping: ColumnMapping,
    strictness: Strictness,
    accept_doubtful: bool = False,
    dry_run: bool = False,
) -> ImportResult:
    """Read ``content`` and take its rows, or tell what taking them would do.

    The same file with the same mapping and options is taken once; sending it again returns the first report.
    Raises FileUnreadable, FileTooLarge, MappingUnfit, ImportRefused.
    """
    site = site_of(site_id)
    sheet = open_sheet(content, mapping)
    fitted, problems = mapping_for_headers(mapping, list(sheet.headers), kind)
    if problems:
        raise MappingUnfit(errors=pointed(problems, "/mapping"))
    run = Run(actor=actor, at=at, site=site, kind=kind, file_name=file_name, accept_doubtful=accept_doubtful)
    mark = Mark(
        hashlib.sha256(content).digest(),
        _digest_of(fitted, kind, accept_doubtful=accept_doubtful),
        strictness,
    )
    columns = {header: rule.field for header, rule in fitted.columns.items()}
    earlier = None if dry_run else earlier_import(site_id, mark.content, mark.mapping, strictness.value)
    if earlier is not None:
        return ImportResult(kind, False, earlier.counts, earlier.report, columns, earlier.pk, True)
    zone = ZoneInfo(site.time_zone)
    read = [
        read_row(number, cells, fitted, kind, zone=zone, atmosphere_pa=site.atmosphere_pa)
        for number, cells in sheet.rows
    ]
    with transaction.atomic():
        reports = _take(run, read)
        rows, counts = [report.to_json() for report in reports], counts_of(reports)
        if dry_run:
            transaction.set_rollback(True)
            return ImportResult(kind, True, counts, rows, columns)
        _refuse_if_incomplete(run, strictness, reports, counts)
        made = _record(run, mark, counts, rows)
    return ImportResult(kind, False, counts, rows, columns, made.pk)


def _take(run: Run, read: list[ReadRow]) -> list[RowReport]:
    """Take the rows that may be taken and report on every filled one."""
    pairs = [(row, report_of(row)) for row in read]
    taker = take_survey_rows if run.kind is FileKind.SURVEY else take_register_rows
    taker(run, pairs)
    return [report for _, report in pairs if report.verdict is not RowVerdict.BLANK]


def _record(run: Run, mark: Mark, counts: Mapping[str, int], rows: list[dict[str, Any]]) -> Import:
    made = Import.objects.create(
        site=run.site,
        kind=run.kind,
        file_name=run.file_name[:255] or "unnamed",
        digest=mark.content,
        mapping_digest=mark.mapping,
        strictness=mark.strictness,
        user_id=run.actor.user_id,
        at=run.at,
        counts=counts,
        report=rows,
    )
    write(
        site_id=run.site.pk,
        actor=run.actor,
        at=run.at,
        act="file.imported",
        subject_kind="import",
        subject_id=made.pk,
        detail={"file": made.file_name, "kind": run.kind, "sha256": mark.content.hex(), "counts": counts},
    )
    return made


def _refuse_if_incomplete(
    run: Run, strictness: Strictness, reports: list[RowReport], counts: Mapping[str, int]
) -> None:
    if strictness is not Strictness.ALL_OR_NOTHING:
        return
    stopping = {RowVerdict.REFUSED} | (set() if run.accept_doubtful else {RowVerdict.DOUBTFUL})
    stopped = [report.to_json() for report in reports if report.verdict in stopping]
    if stopped:
        detail = "Mend or leave out the rows named, accept the doubtful ones, or ask for the good rows only."
        raise ImportRefused(detail, counts=dict(counts), rows=stopped)


def _digest_of(mapping: ColumnMapping, kind: FileKind, *, accept_doubtful: bool) -> bytes:
    """Digest how the file is read, so that another reading of the same bytes is another import."""
    document = {
        "kind": kind,
        "columns": {
            header: [rule.field, rule.unit, dict(rule.words)] for header, rule in mapping.columns.items()
        },
        "decimal": mapping.decimal,
        "date_formats": list(mapping.date_formats),
        "zone": mapping.zone.key if mapping.zone else "",
        "constants": dict(mapping.constants),
        "sheet": mapping.sheet,
        "header_row": mapping.header_row,
        "delimiter": mapping.delimiter,
        "accept_doubtful": accept_doubtful,
    }
    return hashlib.sha256(canonical(document)).digest()
