"""Finding numbers survive a reading that is refused after its number was reserved."""

import pytest

from findings.register.actions import hearing, take_readings
from findings.register.models import Finding
from plantcare.api.problems import Conflict, Refusal
from tests.findings.chain import ACTOR, LATER, Plant
from tests.makers import new_reading

pytestmark = pytest.mark.django_db

LEAK = {"flow_m3_per_s": 0.003, "flow_u_m3_per_s": 0.0, "flow_method": "flow_meter"}


def test_a_sites_first_finding_refused_half_way_takes_no_number(monkeypatch: pytest.MonkeyPatch) -> None:
    plant = Plant()
    attach, calls = hearing.attach, []

    def refuse_the_first(*args: object) -> None:
        calls.append(args)
        if len(calls) == 1:
            raise Conflict
        attach(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(hearing, "attach", refuse_the_first)
    items = [new_reading(plant.another_point(), **LEAK) for _ in range(2)]
    results = take_readings(
        actor=ACTOR, at=LATER, survey_id=plant.survey.pk, items=items, all_or_nothing=False
    )
    plant.leak(point=plant.another_point())

    assert [isinstance(result, Refusal) for result in results] == [True, False]
    assert sorted(Finding.objects.values_list("number", flat=True)) == [1, 2]
