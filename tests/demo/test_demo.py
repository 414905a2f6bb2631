"""The demo plant: a short story, played in full."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from django.db import transaction

from findings.balance.queries import leak_balance
from findings.calibration.queries import fits_of
from findings.calibration.rules import Setup
from findings.detectors.queries import instruments
from findings.kinds.base import Kind
from findings.logbook.queries import check_chain
from findings.plant.queries import sites
from findings.register.models import Assessment
from findings.register.queries import findings
from findings.supply.queries import systems
from plantcare.demo.load import Loaded, load
from plantcare.demo.sample import ROWS, sample_survey
from plantcare.people.models import User
from workorders.orders.queries import orders
from workorders.statements.models import ClosedMonth
from workorders.verification.queries import verifications

NOW = datetime(2026, 6, 20, 9, tzinfo=UTC)
DAYS = 80


@pytest.fixture(scope="module")
def told(django_db_setup: None, django_db_blocker: object) -> Iterator[Loaded]:
    """Play the story once for all tests of this file, and take it back."""
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]
        yield load(now_at=NOW, progress=lambda _: None, days=DAYS)
        transaction.set_rollback(True)


# A database is set up only for tests that ask for one by the mark.
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("told")]


def test_it_finds_faults_of_several_kinds() -> None:
    heard = set(findings().values_list("kind", flat=True))

    assert heard >= {Kind.PRESSURE_LEAK.value, Kind.VACUUM_LEAK.value, Kind.MECHANICAL_WEAR.value}


def test_repairs_are_judged_both_ways() -> None:
    assert set(verifications().values_list("verdict", flat=True)) >= {"passed", "failed"}


def test_orders_have_run_their_course() -> None:
    assert set(orders().values_list("state", flat=True)) >= {"ready", "closed"}


def test_ended_months_are_closed_with_money() -> None:
    month = ClosedMonth.objects.filter(site__code="TBW").latest("month_on")

    assert month.month_on.isoformat() == "2026-05-01"
    assert month.accrued_cost > 0


def test_the_first_detector_shows_a_fit() -> None:
    detector = instruments().get(site__code="TBW", code="D-1")

    by_setup = {one.fit.setup: one for one in fits_of(detector, NOW)}

    nozzles = by_setup[Setup("open_horn", "air", "hole")]
    assert (len(nozzles.leaks), nozzles.fit.model.label) == (12, "calibrated")
    assert nozzles.fit.next_leak is not None


def test_a_level_tells_a_flow_where_the_detector_was_calibrated_and_indicates_where_not() -> None:
    by_level = Assessment.objects.filter(method="level").select_related("reading__instrument")

    said = {(one.reading.instrument.code, one.status) for one in by_level}

    assert said >= {("D-1", "estimated"), ("D-3", "indicative")}


@pytest.mark.parametrize("code", ["TBW", "CML"])
def test_the_logbook_is_one_whole_chain(code: str) -> None:
    check = check_chain(sites().get(code=code).pk)

    assert (check.whole, check.length > 30) == (True, True)


def test_a_second_load_finds_it_there(told: Loaded) -> None:
    assert told.was_there is False
    assert load(now_at=NOW, progress=lambda _: None, days=DAYS) == Loaded(was_there=True)


def test_every_role_has_an_account() -> None:
    assert (
        User.objects.filter(username__in=["ines.falk", "petra.kern", "tomas.weiss", "marta.lindner"]).count()
        == 4
    )


def test_the_sample_sheet_holds_a_repeat_a_stranger_and_a_new_spot() -> None:
    lines = sample_survey(NOW.date()).splitlines()

    assert len(lines) == len(ROWS) + 1
    assert lines[1] == lines[7]


def test_the_measured_leakage_is_more_than_was_found() -> None:
    air = systems().get(code="AIR7")

    told = leak_balance(air, NOW)

    assert told["test"]["method"] == "base_flow"
    assert 0.0 < told["unexplained_share"]["value"] < 0.9
    assert told["cost_of_measured"]["expected"]["per_year"] is not None
