"""What a file may carry: the fields of each kind of file, how each is read, and in which unit it is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from findings.kinds.base import Kind, Medium
from findings.physics.level_form import LeakFamily
from findings.plant.rules import Criticality, Method
from findings.readings.rules import Attachment, DirectMethod, Edge, Greasing


class FileKind(StrEnum):
    """What a file carries."""

    SURVEY = "survey"
    AREAS = "areas"
    ASSETS = "assets"
    MEASURING_POINTS = "measuring_points"
    SUPPLY_SYSTEMS = "supply_systems"
    INSTRUMENTS = "instruments"
    ROUTE_STOPS = "route_stops"


class Form(StrEnum):
    """How a cell is read."""

    TEXT = "text"
    NUMBER = "number"
    WHOLE = "whole"
    WORD = "word"
    MOMENT = "moment"
    DAY = "day"
    CLOCK = "clock"
    LIST = "list"


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its form, the SI unit it is kept in (numbers), its words, and whether a row needs it."""

    form: Form
    unit: str = ""
    words: tuple[str, ...] = ()
    required: bool = False
    longest: int = 200


def _text(*, required: bool = False, longest: int = 200) -> Field:
    return Field(Form.TEXT, required=required, longest=longest)


def _number(unit: str) -> Field:
    return Field(Form.NUMBER, unit=unit)


def _words(words: type[StrEnum]) -> Field:
    return Field(Form.WORD, words=tuple(word.value for word in words))


CODE: Final = _text(required=True, longest=64)

FIELDS: Final[Mapping[FileKind, Mapping[str, Field]]] = MappingProxyType(
    {
        FileKind.SURVEY: {
            "survey": _text(longest=64),
            "taken_at": Field(Form.MOMENT),
            "date": Field(Form.DAY),
            "time": Field(Form.CLOCK),
            "point": _text(longest=64),
            "asset": _text(longest=64),
            "spot": _text(longest=64),
            "kind": _words(Kind),
            "medium": _words(Medium),
            "level_db": _number("dB"),
            "background_db": _number("dB"),
            "distance_m": _number("m"),
            "pressure_gauge_pa": _number("Pa"),
            "temperature_k": _number("K"),
            "hole_diameter_m": _number("m"),
            "edge": _words(Edge),
            "flow_m3_per_s": _number("m3/s"),
            "flow_u_m3_per_s": _number("m3/s"),
            "flow_method": _words(DirectMethod),
            "attachment": _words(Attachment),
            "leak_family": _words(LeakFamily),
            "air_temperature_k": _number("K"),
            "relative_humidity": _number("1"),
            "band_centre_hz": _number("Hz"),
            "probe": _text(longest=60),
            "shaft_speed_hz": _number("Hz"),
            "load_share": _number("1"),
            "greasing": _words(Greasing),
            "severity": Field(Form.WHOLE),
            "pattern": _text(longest=24),
            "instrument": _text(longest=64),
            "inspector": _text(),
            "note": _text(longest=2000),
            "client_id": _text(longest=100),
        },
        FileKind.AREAS: {"code": _text(required=True, longest=32), "name": _text(required=True)},
        FileKind.ASSETS: {
            "code": CODE,
            "name": _text(required=True),
            "area": _text(required=True, longest=32),
            "parent": _text(longest=64),
            "asset_class": _text(longest=64),
            "criticality": _words(Criticality),
            "access_restrictions": Field(Form.LIST),
            "supply": Field(Form.LIST),
        },
        FileKind.MEASURING_POINTS: {
            "code": CODE,
            "asset": _text(required=True, longest=64),
            "name": _text(),
            "method": _words(Method),
            "medium": _words(Medium),
        },
        FileKind.SUPPLY_SYSTEMS: {
            "code": _text(required=True, longest=32),
            "name": _text(required=True),
            "medium": Field(Form.WORD, words=tuple(word.value for word in Medium), required=True),
            "gas_name": _text(longest=64),
            "pressure_gauge_pa": Field(Form.NUMBER, unit="Pa", required=True),
            "temperature_k": _number("K"),
        },
        FileKind.INSTRUMENTS: {
            "code": CODE,
            "name": _text(required=True),
            "serial": _text(longest=100),
            "scale": Field(Form.WORD, words=("absolute", "relative")),
            "calibration_due_on": Field(Form.DAY),
            "calibration_certificate": _text(),
        },
        FileKind.ROUTE_STOPS: {
            "route": _text(required=True, longest=32),
            "route_name": _text(),
            "position": Field(Form.WHOLE, required=True),
            "point": _text(required=True, longest=64),
        },
    }
)
"""Every field name that a mapping may name, per kind of file."""
