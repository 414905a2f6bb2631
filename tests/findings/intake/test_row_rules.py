"""Columns and rows of a technician's sheet."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from findings.intake.rules import (
    DEFAULT_MAPPING,
    FileKind,
    ReadRow,
    RowVerdict,
    mapping_for_headers,
    mapping_from_json,
    read_row,
)

BERLIN = ZoneInfo("Europe/Berlin")
ATMOSPHERE_PA = 101_325.0


def read(
    cells: dict[str, Any], settings: dict[str, Any] | None = None, kind: FileKind = FileKind.SURVEY
) -> ReadRow:
    mapping, wrong = mapping_from_json(settings or {}, kind)
    fitted, unfit = mapping_for_headers(mapping, list(cells), kind)
    assert (wrong, unfit) == ([], [])
    return read_row(2, cells, fitted, kind, zone=BERLIN, atmosphere_pa=ATMOSPHERE_PA)


PLACE = {"Point": "P-1", "Taken at": "2026-03-10 08:00"}


class TestUnits:
    """Each quantity is kept in SI, whatever the sheet's unit."""

    @pytest.mark.parametrize(
        ("header", "cell", "field", "si"),
        [
            ("Pressure [psi]", "100", "pressure_gauge_pa", 689_475.7293),
            ("Pressure [bar]", "7", "pressure_gauge_pa", 700_000.0),
            ("Pressure (kPa)", "650", "pressure_gauge_pa", 650_000.0),
            ("Pressure [bar(a)]", "8", "pressure_gauge_pa", 800_000.0 - ATMOSPHERE_PA),
            ("Temperature [°F]", "68", "temperature_k", 293.15),
            ("Temperature [°C]", "20", "temperature_k", 293.15),
            ("Distance [ft]", "3", "distance_m", 0.9144),
            ("Distance [m]", "0,5", "distance_m", 0.5),
            ("Flow [cfm]", "10", "flow_m3_per_s", 10 * 0.028316846592 / 60),
            ("Flow [l/min]", "60", "flow_m3_per_s", 0.001),
            ("Flow [m³/h]", "3,6", "flow_m3_per_s", 0.001),
            # 1 Nm3/h (0 °C, 101.325 kPa) is 1.01325 * 293.15 / 273.15 m3/h at 1 bar and 20 °C.
            ("Flow [Nm3/h]", "1", "flow_m3_per_s", 1.01325 * 293.15 / 273.15 / 3600),
            ("Hole diameter [in]", "1", "hole_diameter_m", 0.0254),
            ("Level", "62", "level_db", 62.0),
            ("Air temperature [°C]", "23", "air_temperature_k", 296.15),
            ("Humidity [%]", "45", "relative_humidity", 0.45),
            ("Relative humidity", "0,45", "relative_humidity", 0.45),
            ("Band [kHz]", "40", "band_centre_hz", 40_000.0),
        ],
    )
    def test_it_converts(self, header: str, cell: str, field: str, si: float) -> None:
        row = read({**PLACE, header: cell})

        assert row.values[field] == pytest.approx(si, rel=1e-9)

    def test_words_of_the_opening_are_read_as_people_write_them(self) -> None:
        row = read({**PLACE, "Attachment": "Open horn", "Opening": "thread"})

        assert (row.values["attachment"], row.values["leak_family"]) == ("open_horn", "thread")

    def test_a_spreadsheets_own_number_needs_no_guess(self) -> None:
        row = read({**PLACE, "Distance [m]": 1.234})

        assert (row.values["distance_m"], row.doubts) == (1.234, [])


class TestMapping:
    """What a mapping may not say."""

    def test_a_quantity_without_a_unit_is_refused(self) -> None:
        _, problems = mapping_for_headers(DEFAULT_MAPPING, ["Point", "Date", "Pressure"], FileKind.SURVEY)

        assert [(one.pointer, "say its unit" in one.text) for one in problems] == [
            ("/columns/Pressure/unit", True)
        ]

    def test_a_unit_of_another_quantity_is_refused(self) -> None:
        _, problems = mapping_for_headers(
            DEFAULT_MAPPING, ["Point", "Date", "Pressure [ft]"], FileKind.SURVEY
        )

        assert "length, not a pressure" in problems[0].text

    def test_two_columns_for_one_field_are_refused(self) -> None:
        _, problems = mapping_for_headers(
            DEFAULT_MAPPING, ["Point", "Date", "Level", "level_db"], FileKind.SURVEY
        )

        assert "both give level_db" in problems[0].text

    def test_a_misspelt_field_is_named_with_the_nearest(self) -> None:
        _, problems = mapping_from_json({"columns": {"L": {"field": "level_dd"}}}, FileKind.SURVEY)

        assert "did you mean “level_db”" in problems[0].text

    def test_a_sheet_without_a_place_is_refused(self) -> None:
        _, problems = mapping_for_headers(DEFAULT_MAPPING, ["Date", "Level"], FileKind.SURVEY)

        assert "measuring point or the asset" in problems[0].text

    @pytest.mark.parametrize(
        "document",
        [
            None,
            [],
            "x",
            3,
            {"columns": []},
            {"colour": 1},
            {"decimal": "dot"},
            {"time_zone": "Mars/Base"},
            {"header_row": 0},
        ],
    )
    def test_a_wrong_document_is_told_what_is_wrong(self, document: object) -> None:
        assert mapping_from_json(document, FileKind.SURVEY)[1]


class TestRows:
    """What becomes of cells."""

    def test_words_of_the_site_are_translated(self) -> None:
        settings = {
            "columns": {
                "Where": {"field": "point"},
                "When": {"field": "taken_at"},
                "What": {"field": "kind", "words": {"Air": "pressure_leak"}},
            }
        }
        row = read({"Where": "P-1", "When": "2026-03-10 08:00", "What": "air"}, settings)

        assert row.values["kind"] == "pressure_leak"

    def test_an_unknown_word_is_refused_with_the_choices(self) -> None:
        row = read({**PLACE, "Kind": "presure leak"})

        assert row.verdict is RowVerdict.REFUSED
        assert "did you mean “pressure_leak”" in row.refusals[0].text

    def test_date_and_time_columns_are_joined(self) -> None:
        row = read({"Point": "P-1", "Date": "10.03.2026", "Time": "08:00"})

        assert row.values["taken_at"] == datetime(2026, 3, 10, 7, tzinfo=UTC)

    @pytest.mark.parametrize("blank", ["", "  ", "-", "n/a", None])
    def test_a_blank_cell_says_nothing(self, blank: str | None) -> None:
        row = read({**PLACE, "Level": blank})

        assert "level_db" not in row.values
        assert row.verdict is RowVerdict.TAKEN

    def test_a_row_of_blanks_is_blank(self) -> None:
        assert read({"Point": "", "Taken at": None}).verdict is RowVerdict.BLANK

    def test_a_null_character_is_refused(self) -> None:
        assert read({**PLACE, "Note": "a\x00b"}).refusals[0].code == "null_character"

    def test_an_ambiguous_number_makes_the_row_doubtful(self) -> None:
        assert read({**PLACE, "Distance [m]": "1,234"}).verdict is RowVerdict.DOUBTFUL

    def test_a_missing_required_cell_is_refused(self) -> None:
        row = read({"Code": "H9", "Name": ""}, kind=FileKind.AREAS)

        assert [note.code for note in row.refusals] == ["missing"]
