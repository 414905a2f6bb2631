"""Open a CSV or XLSX file that a stranger sent, in bounded memory, and give its rows by header."""

from __future__ import annotations

import codecs
import csv
import io
import itertools
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from findings.intake.rules import ColumnMapping
from findings.intake.rules.rows import Cell
from findings.physics import lazily
from plantcare.api.problems import FieldError, TooLarge, Unprocessable

MOST_BYTES: Final = 20 * 1024 * 1024
MOST_UNPACKED_BYTES: Final = 64 * 1024 * 1024
MOST_SHARED_TEXT_BYTES: Final = 16 * 1024 * 1024
MOST_PARTS: Final = 1000
MOST_ROWS: Final = 5_000
"""A file is taken within one request; a longer sheet is split by its sender."""
MOST_COLUMNS: Final = 200
LONGEST_FIELD: Final = 20_000
DELIMITERS: Final = ";,\t|"
ZIP_MARK: Final = b"PK\x03\x04"


class FileUnreadable(Unprocessable):
    """The file is not what its content says it is."""

    code = "file_unreadable"
    title = "The file cannot be read."


class FileTooLarge(TooLarge):
    """The file, or what it unpacks to, is larger than the service takes."""

    code = "file_too_large"
    title = "The file is too large."


@dataclass(frozen=True, slots=True)
class Sheet:
    """A header line and the numbered rows under it (numbers as a spreadsheet shows them)."""

    headers: Sequence[str]
    rows: Iterator[tuple[int, dict[str, Cell]]]


def open_sheet(content: bytes, mapping: ColumnMapping) -> Sheet:
    """Return the sheet in ``content``; its kind is told from the bytes, not from a name.

    Raises FileTooLarge, FileUnreadable.
    """
    if len(content) > MOST_BYTES:
        detail = f"At most {MOST_BYTES // 1024 // 1024} MB are taken."
        raise FileTooLarge(detail)
    if not content.strip():
        detail = "The file is empty."
        raise FileUnreadable(detail)
    lines = (
        _xlsx_lines(content, mapping.sheet) if content.startswith(ZIP_MARK) else _csv_lines(content, mapping)
    )
    return _sheet(lines, mapping.header_row)


def _sheet(lines: Iterator[Sequence[Cell]], header_row: int) -> Sheet:
    numbered = _bounded(enumerate(lines, start=1))
    headers: list[str] = []
    for number, line in numbered:
        if number == header_row:
            headers = ["" if cell is None else str(cell).strip() for cell in line]
            break
    while headers and not headers[-1]:
        headers.pop()
    if not headers:
        detail = f"Row {header_row} should hold the column names, but it is blank."
        raise FileUnreadable(detail)
    named = [header for header in headers if header]
    twice = sorted({header for header in named if named.count(header) > 1})
    if twice:
        detail = f"Two columns have the same name: {', '.join(twice[:5])}."
        raise FileUnreadable(detail, errors=[FieldError("/file", "column_twice", detail)])
    rows = (
        (number, {head: cell for head, cell in zip(headers, line, strict=False) if head})
        for number, line in numbered
    )
    return Sheet(named, rows)


def _bounded(lines: Iterator[tuple[int, Sequence[Cell]]]) -> Iterator[tuple[int, Sequence[Cell]]]:
    for number, line in lines:
        if number > MOST_ROWS:
            detail = f"At most {MOST_ROWS} rows are taken; split the file."
            raise FileTooLarge(detail)
        if len(line) > MOST_COLUMNS and any(cell not in (None, "") for cell in line[MOST_COLUMNS:]):
            detail = f"Row {number} has more than {MOST_COLUMNS} columns."
            raise FileUnreadable(detail)
        yield number, line[:MOST_COLUMNS]


def _csv_lines(content: bytes, mapping: ColumnMapping) -> Iterator[Sequence[Cell]]:
    text = _decoded(content)
    csv.field_size_limit(LONGEST_FIELD)
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=mapping.delimiter or _delimiter_of(text), strict=True
    )
    while True:
        try:
            yield next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            detail = f"Line {reader.line_num}: {error}."
            raise FileUnreadable(detail) from None


def _decoded(content: bytes) -> str:
    """Decode UTF-8 (with or without a mark), UTF-16 with a mark, else the Windows western code page."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encodings = ["utf-16"]
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            break
        return text
    detail = "It is neither an XLSX file nor text in UTF-8, UTF-16 or Windows-1252."
    raise FileUnreadable(detail)


def _delimiter_of(text: str) -> str:
    """Return the sign that parts the first filled line most often."""
    first = next((line for line in itertools.islice(io.StringIO(text), 50) if line.strip()), "")
    return max(DELIMITERS, key=first.count)


def _xlsx_lines(content: bytes, sheet_name: str) -> Iterator[Sequence[Cell]]:
    _check_parts(content)
    openpyxl = lazily.load("openpyxl")
    try:
        # Values as last saved, never formulas; links to other files are left alone.
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
        sheet = book[sheet_name] if sheet_name else book.worksheets[0]
    except KeyError:
        detail = f"It has no sheet “{sheet_name[:60]}”."
        raise FileUnreadable(detail) from None
    except (*_BROKEN, lazily.load("openpyxl.utils.exceptions").InvalidFileException) as error:
        raise FileUnreadable(_WHY_BROKEN) from error
    return _cells_of(sheet)


_BROKEN: Final = (
    zipfile.BadZipFile,
    ValueError,
    IndexError,
    TypeError,
    EOFError,
    OSError,
    SyntaxError,
)
_WHY_BROKEN: Final = "It begins like an XLSX file but its parts cannot be read."


def _cells_of(sheet: Any) -> Iterator[Sequence[Cell]]:
    rows = sheet.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True)
    while True:
        try:
            yield next(rows)
        except StopIteration:
            return
        except (*_BROKEN, KeyError) as error:
            raise FileUnreadable(_WHY_BROKEN) from error


def _check_parts(content: bytes) -> None:
    """Refuse an archive by its directory, before unpacking (which stops at the declared size)."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(content)).infolist()
    except (zipfile.BadZipFile, ValueError, EOFError, OSError) as error:
        raise FileUnreadable(_WHY_BROKEN) from error
    shared = sum(part.file_size for part in parts if part.filename.endswith("sharedStrings.xml"))
    if (
        len(parts) > MOST_PARTS
        or sum(part.file_size for part in parts) > MOST_UNPACKED_BYTES
        or shared > MOST_SHARED_TEXT_BYTES
    ):
        detail = f"It unpacks to more than {MOST_UNPACKED_BYTES // 1024 // 1024} MB or too many parts."
        raise FileTooLarge(detail)
