"""Somebody writes the same fault between our look and our write: we look again and attach."""

from __future__ import annotations

import pytest

from findings.register.actions.casefile import Casefile
from findings.register.models import Finding
from tests.findings.chain import Plant
from tests.makers import NOW

pytestmark = pytest.mark.django_db


class TestAFindingThatAppearedMeanwhile:
    def test_takes_the_reading(self, monkeypatch):
        plant = Plant()
        standing = plant.leak(10)
        looked = Casefile.known_at
        blind = iter([None])

        def first_sees_nothing(casefile, point_id, kind):
            return next(blind, looked(casefile, point_id, kind))

        monkeypatch.setattr(Casefile, "known_at", first_sees_nothing)

        taken = plant.take(level_db=40.0, taken_at=NOW)

        assert (taken.outcome, taken.finding) == ("heard_again", standing)
        assert Finding.objects.count() == 1
