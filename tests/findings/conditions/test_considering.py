"""What a judged condition means for the findings at its measuring point."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from findings.conditions.models import Condition
from findings.kinds.base import Kind
from findings.logbook.models import Entry
from findings.readings.models import Reading
from findings.register.actions.conditions import consider
from findings.register.models import Finding
from tests.findings.chain import ACTOR, LATER, Plant
from tests.findings.conditions.judged import keep
from tests.people import make_user

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def quiet(plant: Plant, **values: object) -> Reading:
    """Take a reading of which whoever took it said that nothing was found."""
    return plant.take(kind="", medium="", level_db=40.0, **values).reading


def worn(plant: Plant, **values: object) -> Finding:
    """Take a reading that names wear."""
    return plant.take(kind=Kind.MECHANICAL_WEAR, medium="", level_db=50.0, **values).finding


class TestACondition:
    def test_opens_the_finding_that_nobody_named(self):
        condition = keep(quiet(Plant()))

        finding = consider(actor=ACTOR, at=LATER, condition=condition)

        assert (finding.kind, finding.status) == ("mechanical_wear", "open")
        assert (finding.condition_id, finding.condition_severity) == (condition.pk, 4)

    def test_opens_none_where_it_does_not_ask_for_one(self):
        condition = keep(quiet(Plant()), severity=1, opens_finding=False, order_due=False)

        assert consider(actor=ACTOR, at=LATER, condition=condition) is None
        assert not Finding.objects.exists()

    def test_becomes_that_of_the_open_finding_of_its_kind(self):
        plant = Plant()
        finding = worn(plant)
        condition = keep(Reading.objects.get(), severity=3)

        consider(actor=ACTOR, at=LATER, condition=condition)

        finding.refresh_from_db()
        assert (finding.condition_id, finding.condition_severity, finding.version) == (condition.pk, 3, 2)
        assert Finding.objects.count() == 1

    def test_that_is_milder_by_another_method_leaves_the_graver_standing(self):
        finding = worn(Plant())
        grave = keep(Reading.objects.get(), method="recording", severity=5)
        consider(actor=ACTOR, at=LATER, condition=grave)

        mild = keep(Reading.objects.get(), method="level", severity=1, at=LATER)
        consider(actor=ACTOR, at=LATER, condition=mild)

        finding.refresh_from_db()
        assert finding.condition_id == grave.pk

    def test_writes_one_entry_beside_the_one_of_the_finding_that_it_opens(self):
        condition = keep(quiet(Plant()))
        before = Entry.objects.count()

        consider(actor=ACTOR, at=LATER, condition=condition)

        acts = [entry.act for entry in Entry.objects.order_by("sequence")[before:]]
        assert acts == ["finding.opened", "finding.condition_judged"]

    def test_considered_twice_changes_nothing_more(self):
        condition = keep(quiet(Plant()))
        first = consider(actor=ACTOR, at=LATER, condition=condition)

        again = consider(actor=ACTOR, at=LATER, condition=condition)

        assert (again.pk, again.version) == (first.pk, first.version)


class TestAnOverruledCondition:
    def test_makes_way_and_both_are_kept(self):
        finding = worn(Plant())
        computed = keep(Reading.objects.get(), severity=5)
        consider(actor=ACTOR, at=LATER, condition=computed)
        person = make_user()

        heard = keep(Reading.objects.get(), severity=2, judged_by_id=person.pk, overrules=computed, at=LATER)
        consider(actor=ACTOR, at=LATER, condition=heard)

        finding.refresh_from_db()
        assert (finding.condition_id, Condition.objects.count()) == (heard.pk, 2)

    def test_is_set_aside_once(self):
        worn(Plant())
        computed, person = keep(Reading.objects.get()), make_user()
        keep(Reading.objects.get(), judged_by_id=person.pk, overrules=computed)

        with pytest.raises(IntegrityError, match="condition_overruled_once"), transaction.atomic():
            keep(Reading.objects.get(), judged_by_id=person.pk, overrules=computed)

    def test_is_set_aside_by_a_person_only(self):
        worn(Plant())
        computed = keep(Reading.objects.get())

        with pytest.raises(IntegrityError, match="condition_overruled_by_a_person"):
            keep(Reading.objects.get(), overrules=computed)


class TestTheDatabase:
    def test_keeps_conditions_as_they_were_written(self):
        worn(Plant())
        keep(Reading.objects.get())

        with pytest.raises(IntegrityError, match="only added"):
            Condition.objects.update(severity=1)

    def test_refuses_a_condition_of_another_sites_reading(self):
        worn(Plant())
        reading = Reading.objects.get()
        reading.site_id = Plant().site.pk
        keep(reading)

        with pytest.raises(IntegrityError, match="same_site"), connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")

    def test_refuses_a_severity_beyond_five(self):
        worn(Plant())
        reading = Reading.objects.get()

        with pytest.raises(ValueError, match="1 to 5"):
            keep(reading, severity=6)
