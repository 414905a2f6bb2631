"""The shape of the source: one idea a file, rooms named from the trade."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(
    path
    for top in ("plantcare", "findings", "workorders")
    for path in (ROOT / top).rglob("*.py")
    if "migrations" not in path.parts
)
LEFTOVERS = {"utils", "common", "helpers", "misc", "core", "manager", "managers", "stuff", "base_utils"}
LONGEST_FILE = 400
LONGEST_FUNCTION = 50


def named(paths: list[Path]) -> list[str]:
    return [str(path.relative_to(ROOT)) for path in paths]


def test_no_file_is_longer_than_one_idea() -> None:
    long = [path for path in SOURCES if len(path.read_text().splitlines()) > LONGEST_FILE]

    assert named(long) == []


def test_no_room_of_leftovers() -> None:
    left = [path for path in SOURCES if path.stem in LEFTOVERS or path.parent.name in LEFTOVERS]

    assert named(left) == []


def test_no_function_is_longer_than_a_page() -> None:
    long = [
        f"{path.relative_to(ROOT)}:{node.name}"
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef) and (node.end_lineno or 0) - node.lineno + 1 > LONGEST_FUNCTION
    ]

    assert long == []


def test_no_import_hides_in_a_function() -> None:
    hidden = []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef):
                inner = [one for one in ast.walk(node) if isinstance(one, ast.Import | ast.ImportFrom)]
                hidden += [f"{path.relative_to(ROOT)}:{one.lineno}" for one in inner]

    assert hidden == []


def test_no_signal_is_wired() -> None:
    wired = [
        path
        for path in SOURCES
        if "django.db.models.signals" in path.read_text() or "@receiver" in path.read_text()
    ]

    assert named(wired) == []


@pytest.mark.parametrize("path", [path for path in SOURCES if path.name in {"api.py", "tasks.py"}], ids=str)
def test_a_door_never_names_a_table(path: Path) -> None:
    imported = {
        node.module
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.ImportFrom) and node.module
    }

    assert not {name for name in imported if name.endswith(".models") and name != "django.db.models"}
