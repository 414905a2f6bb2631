"""One row of a sheet, read by its mapping: values in SI, doubts and refusals in words."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from decimal import Decimal
from enum import StrEnum
from typing import Any, Final
from zoneinfo import ZoneInfo

from findings.intake.rules.columns import ColumnMapping, ColumnRule
from findings.intake.rules.fields import FIELDS, Field, FileKind, Form
from findings.intake.rules.moments import Moment, join_moment, localised, parse_moment
from findings.intake.rules.numbers import DecimalMark, parse_number
from findings.physics.quantities import convert, parse_unit
from findings.physics.reference_states import DEFAULT_STATE, STATES, convert_flow

Cell = str | float | int | bool | Decimal | datetime | date | time | None
LONGEST_CELL: Final = 4000
NOTHING: Final = frozenset({"", "-", "–", "—", "n/a", "na", "none", "null"})
"""Cells that say that there is nothing (common practice)."""


class RowVerdict(StrEnum):
    """What becomes of a row."""

    TAKEN = "taken"
    DOUBTFUL = "doubtful"
    REFUSED = "refused"
    KNOWN = "known"
    BLANK = "blank"


@dataclass(frozen=True, slots=True)
class Note:
    """Why: the column (its header, or empty for the whole row), a stable code, and words."""

    column: str
    code: str
    text: str


@dataclass(slots=True)
class ReadRow:
    """A row as read: values by field (SI), and the reasons for its verdict."""

    number: int
    values: dict[str, Any] = field(default_factory=dict)
    as_sent: dict[str, str] = field(default_factory=dict)
    refusals: list[Note] = field(default_factory=list)
    doubts: list[Note] = field(default_factory=list)
    is_blank: bool = False

    @property
    def verdict(self) -> RowVerdict:
        """Return the verdict as far as the row itself can tell."""
        if self.is_blank:
            return RowVerdict.BLANK
        if self.refusals:
            return RowVerdict.REFUSED
        return RowVerdict.DOUBTFUL if self.doubts else RowVerdict.TAKEN


def read_row(
    number: int,
    cells: Mapping[str, Cell],
    mapping: ColumnMapping,
    kind: FileKind,
    *,
    zone: ZoneInfo,
    atmosphere_pa: float,
) -> ReadRow:
    """Read the cells of row ``number`` (by header).

    Numbers come out in the field's SI unit (floats), pressures as gauge against ``atmosphere_pa``,
    volume flows at 1 bar and 20 °C, moments in UTC. Nothing is guessed in silence: what could mean two
    things is a doubt.
    """
    row = ReadRow(number)
    fields = FIELDS[kind]
    reader = _Reader(row, mapping.decimal, mapping.date_formats, mapping.zone or zone, atmosphere_pa)
    for header, rule in mapping.columns.items():
        cell = cells.get(header)
        if _is_nothing(cell):
            continue
        row.as_sent[header] = _shown(cell)[:200]
        reader.read(header, rule, fields[rule.field], cell)
    if not row.as_sent:
        row.is_blank = True
        return row
    for name, text in mapping.constants.items():
        if name not in row.values:
            reader.read("", ColumnRule(name), fields[name], text)
    if kind is FileKind.SURVEY:
        reader.join_day_and_clock()
    wrong = {note.column for note in row.refusals}
    for name, spec in fields.items():
        header = next((head for head, rule in mapping.columns.items() if rule.field == name), "")
        if spec.required and name not in row.values and header not in wrong:
            row.refusals.append(Note(header, "missing", f"“{name}” is blank, and every row needs it"))
    return row


@dataclass(slots=True)
class _Reader:
    row: ReadRow
    mark: DecimalMark
    date_formats: tuple[str, ...]
    zone: ZoneInfo
    atmosphere_pa: float

    def read(self, header: str, rule: ColumnRule, spec: Field, cell: Cell) -> None:
        readers = {
            Form.NUMBER: self._number,
            Form.WHOLE: self._whole,
            Form.WORD: self._word,
            Form.MOMENT: self._moment,
            Form.DAY: self._day,
            Form.CLOCK: self._keep,
            Form.LIST: self._list,
            Form.TEXT: self._text,
        }
        value = readers[spec.form](header, rule, spec, cell)
        if value is not None:
            self.row.values[rule.field] = value

    def join_day_and_clock(self) -> None:
        """Make ``taken_at`` of a date column and a time column."""
        values = self.row.values
        day, clock = values.pop("date", None), values.pop("time", None)
        if day is None or "taken_at" in values:
            return
        if isinstance(clock, time):
            moment = localised(datetime.combine(day, clock), self.zone)
        else:
            moment = join_moment(
                day.isoformat(), "" if clock is None else _shown(clock), ("%Y-%m-%d",), self.zone
            )
        value = self._settled("", moment)
        if value is not None:
            values["taken_at"] = value

    def _refuse(self, header: str, code: str, text: str) -> None:
        self.row.refusals.append(Note(header, code, text))

    def _doubt(self, header: str, code: str, text: str) -> None:
        self.row.doubts.append(Note(header, code, text))

    def _decimal(self, header: str, cell: Cell) -> Decimal | None:
        if isinstance(cell, (bool, datetime, date, time)):
            self._refuse(header, "not_a_number", f"“{_shown(cell)[:40]}” is not a number")
            return None
        if isinstance(cell, (int, float, Decimal)):
            # A spreadsheet's own number needs no guess about its decimal mark.
            number = parse_number(repr(cell) if isinstance(cell, float) else str(cell), DecimalMark.POINT)
        else:
            number = parse_number(str(cell), self.mark)
        if number.error:
            self._refuse(header, "not_a_number", number.error)
            return None
        if number.doubt:
            self._doubt(header, "number_ambiguous", number.doubt)
        return number.value

    def _number(self, header: str, rule: ColumnRule, spec: Field, cell: Cell) -> float | None:
        value = self._decimal(header, cell)
        if value is None:
            return None
        if spec.unit == "dB":
            return float(value)
        unit = parse_unit(rule.unit)
        si = float(convert(value, unit, parse_unit(spec.unit)))
        if spec.unit == "Pa" and unit.reference == "absolute":
            si -= self.atmosphere_pa
        if spec.unit == "m3/s" and unit.reference in {"normal", "standard"}:
            us = unit.reference == "standard" and "cf" in unit.symbol
            state = "normal" if unit.reference == "normal" else "us_standard" if us else "metric_standard"
            si = convert_flow(si, STATES[state], DEFAULT_STATE)
        return si

    def _whole(self, header: str, _rule: ColumnRule, _spec: Field, cell: Cell) -> int | None:
        value = self._decimal(header, cell)
        if value is None:
            return None
        if value != value.to_integral_value():
            self._refuse(header, "not_whole", f"“{_shown(cell)[:40]}” is not a whole number")
            return None
        return int(value)

    def _word(self, header: str, rule: ColumnRule, spec: Field, cell: Cell) -> str | None:
        text = _shown(cell).strip()
        meant = rule.words.get(text.casefold(), text)
        plain = meant.strip().casefold().replace(" ", "_").replace("-", "_")
        by_fold = {word.casefold(): word for word in spec.words}
        if plain in by_fold:
            return by_fold[plain]
        near = difflib.get_close_matches(plain, by_fold, n=1)
        hint = f"; did you mean “{by_fold[near[0]]}”?" if near else ""
        self._refuse(header, "unknown_word", f"“{text[:40]}” is none of {', '.join(spec.words)}{hint}")
        return None

    def _moment(self, header: str, _rule: ColumnRule, _spec: Field, cell: Cell) -> datetime | None:
        if isinstance(cell, datetime):
            moment = Moment(cell.astimezone(UTC)) if cell.tzinfo else localised(cell, self.zone)
        elif isinstance(cell, date):
            moment = join_moment(cell.isoformat(), "", ("%Y-%m-%d",), self.zone)
        else:
            moment = parse_moment(_shown(cell), self.date_formats, self.zone)
        return self._settled(header, moment)

    def _settled(self, header: str, moment: Moment) -> datetime | None:
        if moment.error:
            self._refuse(header, "not_a_moment", moment.error)
        if moment.doubt:
            self._doubt(header, "moment_ambiguous", moment.doubt)
        return moment.value

    def _day(self, header: str, _rule: ColumnRule, _spec: Field, cell: Cell) -> date | None:
        if isinstance(cell, datetime):
            return cell.date()
        if isinstance(cell, date):
            return cell
        moment = join_moment(_shown(cell), "12:00", self.date_formats, ZoneInfo("UTC"))
        if moment.error or moment.value is None:
            self._refuse(header, "not_a_date", moment.error)
            return None
        return moment.value.date()

    def _keep(self, _header: str, _rule: ColumnRule, _spec: Field, cell: Cell) -> Cell:
        return cell.time() if isinstance(cell, datetime) else cell

    def _list(self, header: str, rule: ColumnRule, spec: Field, cell: Cell) -> list[str] | None:
        text = self._text(header, rule, spec, cell)
        return None if text is None else [part.strip() for part in text.split(";") if part.strip()]

    def _text(self, header: str, _rule: ColumnRule, spec: Field, cell: Cell) -> str | None:
        text = _shown(cell).strip()
        if "\x00" in text:
            self._refuse(header, "null_character", "holds a null character")
            return None
        if len(text) > spec.longest:
            self._refuse(header, "too_long", f"is longer than {spec.longest} characters")
            return None
        return text


def _is_nothing(cell: Cell) -> bool:
    return cell is None or (isinstance(cell, str) and cell.strip().casefold() in NOTHING)


def _shown(cell: Cell) -> str:
    """Return a cell as its user sees it: 12.0 of a spreadsheet is 12."""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, (datetime, date, time)):
        return cell.isoformat()
    return str(cell)[:LONGEST_CELL]
