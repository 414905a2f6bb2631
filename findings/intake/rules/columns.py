"""What each column of a sheet means: a saved mapping, or one read from the headers themselves."""

from __future__ import annotations

import dataclasses
import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from findings.intake.rules.fields import FIELDS, FileKind, Form
from findings.intake.rules.numbers import DecimalMark
from findings.physics.quantities import UnknownUnit, parse_unit

DECIBEL: Final = "dB"
LONGEST_HEADER: Final = 120

ALIASES: Final[Mapping[FileKind, Mapping[str, str]]] = MappingProxyType(
    {
        FileKind.SURVEY: {
            "level": "level_db",
            "background": "background_db",
            "distance": "distance_m",
            "pressure": "pressure_gauge_pa",
            "temperature": "temperature_k",
            "hole": "hole_diameter_m",
            "hole_diameter": "hole_diameter_m",
            "diameter": "hole_diameter_m",
            "flow": "flow_m3_per_s",
            "leak_rate": "flow_m3_per_s",
            "measured_by": "flow_method",
            "date_time": "taken_at",
            "measuring_point": "point",
            "remark": "note",
            "remarks": "note",
            "notes": "note",
            "gas": "medium",
            "opening": "leak_family",
            "air_temperature": "air_temperature_k",
            "humidity": "relative_humidity",
            "band": "band_centre_hz",
            "speed": "shaft_speed_hz",
            "shaft_speed": "shaft_speed_hz",
            "load": "load_share",
        },
        FileKind.SUPPLY_SYSTEMS: {"pressure": "pressure_gauge_pa", "temperature": "temperature_k"},
        FileKind.INSTRUMENTS: {
            "calibration_due": "calibration_due_on",
            "certificate": "calibration_certificate",
        },
        FileKind.ASSETS: {"class": "asset_class", "access": "access_restrictions"},
        FileKind.ROUTE_STOPS: {"stop": "position"},
    }
)
"""Plain words that a header may use for a field (common practice)."""


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """One column: the field it fills, the unit its numbers are in, the meaning of its words."""

    field: str
    unit: str = ""
    words: Mapping[str, str] = dataclasses.field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ColumnMapping:
    """How a sheet is read. ``columns`` is keyed by the header as it stands, without outer blanks."""

    columns: Mapping[str, ColumnRule]
    decimal: DecimalMark = DecimalMark.AUTO
    date_formats: tuple[str, ...] = ()
    zone: ZoneInfo | None = None
    constants: Mapping[str, str] = dataclasses.field(default_factory=dict)
    sheet: str = ""
    header_row: int = 1
    delimiter: str = ""


@dataclass(frozen=True, slots=True)
class MappingProblem:
    """What is wrong with a mapping, and where (a JSON pointer into it)."""

    pointer: str
    text: str


DEFAULT_MAPPING: Final = ColumnMapping(columns={})
"""Read the meaning from the headers."""

_KNOWN: Final = frozenset(
    {"columns", "decimal", "date_formats", "time_zone", "constants", "sheet", "header_row", "delimiter"}
)


def mapping_from_json(document: Any, kind: FileKind) -> tuple[ColumnMapping, list[MappingProblem]]:
    """Read a saved mapping; every problem is listed, and the mapping is only good when there is none."""
    if not isinstance(document, Mapping):
        return DEFAULT_MAPPING, [MappingProblem("", "a mapping is a JSON object")]
    problems = [
        MappingProblem(f"/{name}", "is not a member of a mapping") for name in document if name not in _KNOWN
    ]
    columns = _columns(document.get("columns", {}), kind, problems)
    constants = _constants(document.get("constants", {}), kind, problems)
    mapping = ColumnMapping(
        columns=columns,
        decimal=_decimal(document.get("decimal", "auto"), problems),
        date_formats=_strings(document.get("date_formats", []), "/date_formats", problems),
        zone=_zone(document.get("time_zone"), problems),
        constants=constants,
        sheet=_one_string(document.get("sheet", ""), "/sheet", problems),
        header_row=_header_row(document.get("header_row", 1), problems),
        delimiter=_delimiter(document.get("delimiter", ""), problems),
    )
    return mapping, problems


def mapping_for_headers(
    mapping: ColumnMapping, headers: Sequence[str], kind: FileKind
) -> tuple[ColumnMapping, list[MappingProblem]]:
    """Complete a mapping from the headers of a sheet.

    Without named columns each header is read for itself ("pressure [psi]", "level_db"); with a saved
    mapping the columns it does not name are left out. A field that two columns claim, a number without
    a unit and a missing required field are problems.
    """
    problems: list[MappingProblem] = []
    columns = dict(mapping.columns)
    for header in headers if not columns else ():
        rule = _rule_from_header(header, kind)
        if rule is not None:
            columns[header] = rule
    _check_units(columns, kind, problems)
    _check_twice(columns, problems)
    for header in mapping.columns:
        if header not in headers:
            near = difflib.get_close_matches(header, headers, n=1)
            hint = f"; did you mean “{near[0]}”?" if near else ""
            problems.append(
                MappingProblem(f"/columns/{_escaped(header)}", f"the sheet has no column “{header}”{hint}")
            )
    given = {rule.field for rule in columns.values()} | set(mapping.constants)
    problems.extend(
        MappingProblem("/columns", f"no column gives “{name}”, which every row needs")
        for name, known in FIELDS[kind].items()
        if known.required and name not in given
    )
    if kind is FileKind.SURVEY:
        _check_survey(given, problems)
    return replace(mapping, columns=columns), problems


def _check_survey(given: set[str], problems: list[MappingProblem]) -> None:
    if not given & {"point", "asset"}:
        problems.append(MappingProblem("/columns", "no column names the measuring point or the asset"))
    if not given & {"taken_at", "date"}:
        problems.append(MappingProblem("/columns", "no column says when a reading was taken"))


def _rule_from_header(header: str, kind: FileKind) -> ColumnRule | None:
    """Read "pressure [psi]" or "pressure (bar)" or "level_db" as a column; None for a word we don't know."""
    match = re.fullmatch(
        r"\s*(?P<name>[^\[(]+?)\s*(?:[\[(](?P<unit>[^\])]*\)?)[\])])?\s*", header[:LONGEST_HEADER]
    )
    if match is None:
        return None
    name = re.sub(r"[^0-9a-z]+", "_", match["name"].strip().lower()).strip("_")
    known = FIELDS[kind]
    target = name if name in known else ALIASES.get(kind, {}).get(name)
    if target is None:
        return None
    unit = (match["unit"] or "").strip()
    if not unit and name == target and known[target].form is Form.NUMBER:
        unit = known[target].unit
    if not unit and known[target].unit == DECIBEL:
        unit = DECIBEL
    return ColumnRule(target, unit)


def _check_units(columns: Mapping[str, ColumnRule], kind: FileKind, problems: list[MappingProblem]) -> None:
    for header, rule in columns.items():
        spec = FIELDS[kind][rule.field]
        pointer = f"/columns/{_escaped(header)}/unit"
        if spec.form is not Form.NUMBER:
            continue
        if not rule.unit:
            text = f"“{header}” is a quantity: say its unit, in the mapping or as “{header} [{spec.unit}]”"
            problems.append(MappingProblem(pointer, text))
        elif spec.unit == DECIBEL:
            if rule.unit.strip().lower() != "db":
                problems.append(MappingProblem(pointer, f"a level is in dB, not in “{rule.unit}”"))
        else:
            _check_dimension(rule.unit, spec.unit, pointer, problems)


def _check_dimension(unit: str, kept_in: str, pointer: str, problems: list[MappingProblem]) -> None:
    try:
        given, kept = parse_unit(unit), parse_unit(kept_in)
    except UnknownUnit as unknown:
        problems.append(MappingProblem(pointer, str(unknown)))
        return
    if given.dimension != kept.dimension:
        problems.append(
            MappingProblem(pointer, f"{given.symbol} is a {given.dimension}, not a {kept.dimension}")
        )


def _check_twice(columns: Mapping[str, ColumnRule], problems: list[MappingProblem]) -> None:
    seen: dict[str, str] = {}
    for header, rule in columns.items():
        if rule.field in seen:
            text = f"“{seen[rule.field]}” and “{header}” both give {rule.field}"
            problems.append(MappingProblem(f"/columns/{_escaped(header)}", text))
        seen[rule.field] = header


def _columns(given: Any, kind: FileKind, problems: list[MappingProblem]) -> dict[str, ColumnRule]:
    if not isinstance(given, Mapping):
        problems.append(MappingProblem("/columns", "is an object of header: {field, unit, words}"))
        return {}
    columns = {}
    for header, rule in given.items():
        pointer = f"/columns/{_escaped(str(header))}"
        if not isinstance(rule, Mapping) or not isinstance(rule.get("field"), str):
            problems.append(MappingProblem(pointer, "is an object with at least “field”"))
            continue
        name = rule["field"]
        if name not in FIELDS[kind]:
            near = difflib.get_close_matches(name, FIELDS[kind], n=1)
            hint = f"; did you mean “{near[0]}”?" if near else ""
            problems.append(
                MappingProblem(f"{pointer}/field", f"“{name[:60]}” is no field of a {kind} file{hint}")
            )
            continue
        words = rule.get("words", {})
        if not isinstance(words, Mapping) or not all(isinstance(word, str) for word in words.values()):
            problems.append(MappingProblem(f"{pointer}/words", "is an object of text to text"))
            words = {}
        unit = rule.get("unit", "")
        if not isinstance(unit, str):
            problems.append(MappingProblem(f"{pointer}/unit", "is a text"))
            unit = ""
        folded = {str(key).strip().casefold(): value for key, value in words.items()}
        columns[str(header).strip()] = ColumnRule(name, unit, folded)
    return columns


def _constants(given: Any, kind: FileKind, problems: list[MappingProblem]) -> dict[str, str]:
    if not isinstance(given, Mapping) or not all(isinstance(value, str) for value in given.values()):
        problems.append(MappingProblem("/constants", "is an object of field: text"))
        return {}
    for name in given:
        if name not in FIELDS[kind]:
            problems.append(
                MappingProblem(f"/constants/{_escaped(str(name))}", f"is no field of a {kind} file")
            )
        elif FIELDS[kind][name].form is Form.NUMBER:
            problems.append(
                MappingProblem(
                    f"/constants/{_escaped(name)}", "a quantity cannot be a constant without a unit"
                )
            )
    return {str(name): value for name, value in given.items()}


def _decimal(given: Any, problems: list[MappingProblem]) -> DecimalMark:
    try:
        return DecimalMark(given)
    except ValueError:
        problems.append(MappingProblem("/decimal", "is auto, point or comma"))
        return DecimalMark.AUTO


def _zone(given: Any, problems: list[MappingProblem]) -> ZoneInfo | None:
    if given in (None, ""):
        return None
    try:
        return ZoneInfo(str(given))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        problems.append(MappingProblem("/time_zone", f"“{str(given)[:40]}” is not a time zone name"))
        return None


def _strings(given: Any, pointer: str, problems: list[MappingProblem]) -> tuple[str, ...]:
    if not isinstance(given, list) or not all(isinstance(item, str) and item for item in given):
        problems.append(MappingProblem(pointer, "is a list of texts"))
        return ()
    return tuple(given)


def _one_string(given: Any, pointer: str, problems: list[MappingProblem]) -> str:
    if isinstance(given, str):
        return given
    problems.append(MappingProblem(pointer, "is a text"))
    return ""


def _header_row(given: Any, problems: list[MappingProblem]) -> int:
    if isinstance(given, int) and not isinstance(given, bool) and 1 <= given <= 50:
        return given
    problems.append(MappingProblem("/header_row", "is the number of the header's row, 1 to 50"))
    return 1


def _delimiter(given: Any, problems: list[MappingProblem]) -> str:
    if given in ("", ",", ";", "\t", "|"):
        return str(given)
    problems.append(MappingProblem("/delimiter", "is one of , ; | or a tab"))
    return ""


def _escaped(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")
