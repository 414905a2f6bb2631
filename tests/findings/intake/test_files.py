"""Files that strangers send."""

import io
import zipfile

import openpyxl
import pytest

from findings.intake.files import FileTooLarge, FileUnreadable, open_sheet
from findings.intake.rules import DEFAULT_MAPPING, FileKind, mapping_from_json


def rows_of(content: bytes, settings: dict[str, object] | None = None) -> list[tuple[int, dict[str, object]]]:
    mapping, _ = mapping_from_json(settings or {}, FileKind.SURVEY)
    return list(open_sheet(content, mapping).rows)


def workbook(*lines: list[object]) -> bytes:
    book = openpyxl.Workbook()
    for line in lines:
        book.active.append(line)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_is_read_in_the_usual_encodings(encoding: str) -> None:
    assert rows_of("Gerät;Höhe\nÖler;3".encode(encoding)) == [(2, {"Gerät": "Öler", "Höhe": "3"})]


@pytest.mark.parametrize("mark", [";", ",", "\t", "|"])
def test_the_delimiter_is_told_from_the_header(mark: str) -> None:
    assert rows_of(f"a{mark}b\n1{mark}2".encode()) == [(2, {"a": "1", "b": "2"})]


def test_a_workbook_gives_its_cells_with_their_row_numbers() -> None:
    content = workbook(["Sheet of March"], ["a", "b"], [1.5, "x"])

    assert rows_of(content, {"header_row": 2}) == [(3, {"a": 1.5, "b": "x"})]


def test_a_missing_sheet_is_named() -> None:
    with pytest.raises(FileUnreadable, match="no sheet “Leaks”"):
        rows_of(workbook(["a"]), {"sheet": "Leaks"})


@pytest.mark.parametrize(
    "content",
    [b"", b"   \n", b"PK\x03\x04broken", b"a;a\n1;2", b"\n\n", b"\xff\xfe\x00", b'a;b\n"1;2'],
    ids=["empty", "blank", "broken zip", "column twice", "no header", "half utf-16", "open quote"],
)
def test_an_unreadable_file_is_refused(content: bytes) -> None:
    with pytest.raises(FileUnreadable):
        rows_of(content)


def test_a_zip_that_is_no_workbook_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("notes.txt", "nothing")

    with pytest.raises(FileUnreadable):
        rows_of(out.getvalue())


def test_a_bomb_is_refused_by_its_directory() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * (65 * 1024 * 1024))

    with pytest.raises(FileTooLarge):
        open_sheet(out.getvalue(), DEFAULT_MAPPING)


def test_a_forged_size_is_refused() -> None:
    content = bytearray(workbook(["a"], ["b"]))
    at = content.rfind(b"xl/worksheets/sheet1.xml") - 46
    assert content[at : at + 4] == b"PK\x01\x02"
    content[at + 24 : at + 28] = (10).to_bytes(4, "little")

    with pytest.raises(FileUnreadable):
        rows_of(bytes(content))


def test_too_many_rows_are_refused() -> None:
    with pytest.raises(FileTooLarge, match="split the file"):
        rows_of(b"a\n" + b"1\n" * 5_001)
