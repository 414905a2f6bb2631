"""Laws of seams and walks in the database itself, and two who finish one walk at once."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import DatabaseError, transaction

from findings.readings.models import Reading
from findings.register.models import Finding
from findings.seals import actions, queries
from findings.seals.models import SeamPlace, SeamResult, SeamWalk
from findings.seals.rules import NewPlace, NewWalk
from tests.findings.seals.door import LEVELS, make_seam
from tests.people import actor_at
from tests.workorders.scene import at_once

BEGUN = datetime(2026, 3, 2, 9, tzinfo=UTC)
ENDED = datetime(2026, 3, 2, 9, 20, tzinfo=UTC)


def begun(seam=None, **said) -> SeamWalk:
    seam = seam or make_seam()
    new = {"client_id": "w-1", "begun_at": BEGUN, "open_level_db": 52.0, "background_db": 5.0, **said}
    levels = [
        NewPlace(client_id=f"p{index}", position_m=0.25 * index, level_db=level)
        for index, level in enumerate(LEVELS)
    ]
    by = actor_at(seam.site, "inspector")
    return actions.begin_walk(actor=by, at=ENDED, seam_id=seam.pk, walk=NewWalk(**new), places=levels).walk


def finished(walk: SeamWalk) -> SeamResult:
    by = actor_at(walk.site, "inspector")
    return actions.finish_walk(actor=by, at=ENDED, walk_id=walk.pk, finished_at=ENDED)


def refused(work) -> str:
    with pytest.raises(DatabaseError) as caught, transaction.atomic():
        work()
    return str(getattr(caught.value.__cause__, "diag", None).constraint_name)


@pytest.mark.django_db
class TestLaws:
    @pytest.mark.parametrize("model", [SeamWalk, SeamPlace, SeamResult])
    def test_nothing_is_changed(self, model):
        finished(begun())

        assert refused(lambda: model.objects.update(recorded_at=BEGUN)) == "rows_are_only_added"

    def test_no_place_comes_to_a_finished_walk(self):
        walk = begun()
        finished(walk)

        place = SeamPlace(
            site=walk.site,
            walk=walk,
            client_id="x",
            fingerprint=b"",
            position_m=1,
            level_db=1,
            recorded_at=ENDED,
        )
        assert refused(lambda: place.save(force_insert=True)) == "seam_place_of_a_finished_walk"

    def test_no_place_lies_off_its_seam(self):
        walk = begun()

        place = SeamPlace(
            site=walk.site,
            walk=walk,
            client_id="x",
            fingerprint=b"",
            position_m=5,
            level_db=1,
            recorded_at=ENDED,
        )
        assert refused(lambda: place.save(force_insert=True)) == "seam_place_on_the_seam"

    def test_a_weak_source_lets_nothing_pass(self):
        weak = begun(background_db=40.0, insist=True)
        result = finished(weak)
        other = begun(weak.seam, client_id="w-2", background_db=40.0, insist=True)

        result.pk, result.walk, result.verdict = None, other, "pass"
        result.id = other.pk
        assert refused(lambda: result.save(force_insert=True)) == "seam_result_of_a_weak_source"

    def test_a_weak_source_is_never_kept_unseen(self):
        walk = begun()
        walk.pk, walk.client_id, walk.strength = walk.seam_id, "w-2", "too_weak"

        assert refused(lambda: walk.save(force_insert=True)) == "seam_walk_says_when_nothing_can_pass"


@pytest.mark.django_db(transaction=True)
def test_a_walk_finished_twice_at_once_is_finished_once():
    walk = begun()
    by = actor_at(walk.site, "inspector")

    def finish():
        return actions.finish_walk(actor=by, at=ENDED, walk_id=walk.pk, finished_at=ENDED)

    results = at_once(finish, finish)

    assert sorted(type(result).__name__ for result in results) == ["SeamResult", "WalkFinished"]
    assert [model.objects.count() for model in (SeamResult, Reading, Finding)] == [1, 1, 1]


@pytest.mark.django_db
def test_a_result_kept_by_an_older_method_is_told_apart():
    result = finished(begun())
    assert queries.gives_the_same(result)

    result.places[0]["drop_db"] += 1.0

    assert not queries.gives_the_same(result)
