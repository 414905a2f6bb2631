"""A short run of the harness, and the proof that its count can fail. The long runs are made by hand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest
from django.db import connection

from tests.faults.counting import faults
from tests.faults.driving import run
from tests.faults.planting import PLANTERS
from tests.faults.stage import Stage, staged
from tests.faults.walking import Book

# The limit only ends a run that hangs; nothing here asks how long something takes.
# A database to copy the tables from is set up only for tests that ask for one by the mark.
pytestmark = [pytest.mark.django_db, pytest.mark.processes, pytest.mark.timeout(900)]
SECONDS = 6.0
SEED = 20261125

Broken = tuple[Stage, dict[str, Any], Book]


@pytest.fixture(scope="module")
def broken(django_db_setup: None) -> Iterator[Broken]:
    """A service that was broken for some seconds under work and has come to rest."""
    at = connection.settings_dict
    login = f"{quote(str(at['USER']))}:{quote(str(at['PASSWORD']))}"
    source = f"postgres://{login}@{at['HOST']}:{at['PORT']}/{at['NAME']}"
    with staged(points=200, copy_of=source) as (stage, plant):
        figures, book = run(stage, plant, seconds=SECONDS, seed=SEED, clients=2, gap_s=0.3)
        yield stage, figures, book


def test_nothing_is_lost_doubled_forbidden_or_left_undone(broken: Broken) -> None:
    _, figures, _ = broken

    assert figures["faults"] == [], figures


def test_something_was_done_and_something_was_broken(broken: Broken) -> None:
    _, figures, _ = broken

    assert figures["acts_acknowledged"] > 0
    assert sum(figures["broken"].values()) > 0


@pytest.mark.parametrize("name", PLANTERS)
def test_a_planted_fault_is_counted(broken: Broken, name: str) -> None:
    stage, _, book = broken
    check, plant = PLANTERS[name]
    with stage.connect(superuser=True) as db, db.transaction(force_rollback=True):
        plant(db)
        found = faults(db, book.acts)

    assert any(what.startswith(f"{check}:") for what in found), found
