"""What a reading has to be to be kept, and what makes two of them the same."""

from __future__ import annotations

import math
import uuid
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from findings.readings.rules import NewReading, fingerprint, problems_of

SURVEY = uuid.UUID(int=1)
READING = NewReading(
    client_id="a",
    point_id=uuid.UUID(int=2),
    taken_at=datetime(2026, 3, 2, 8, tzinfo=UTC),
    kind="pressure_leak",
    medium="compressed_air",
    level_db=40.0,
)


def codes(**values) -> set[tuple[str, str]]:
    """Return member and code of what is wrong with a changed reading."""
    return {(problem.member, problem.code) for problem in problems_of(replace(READING, **values))}


class TestAReading:
    def test_of_a_leak_is_fit_to_be_kept(self):
        assert codes() == set()

    @pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e30, -41.0, 201.0])
    def test_with_an_impossible_level_is_not(self, value):
        assert codes(level_db=value) == {("level_db", "out_of_range")}

    @pytest.mark.parametrize("text", ["", "   ", "x" * 101, "a\x00", "\ud800"])
    def test_without_a_usable_key_is_not(self, text):
        assert {member for member, _ in codes(client_id=text)} == {"client_id"}

    def test_with_a_flow_says_how_it_came_to_be_known(self):
        assert codes(flow_m3_per_s=0.001) == {("flow_method", "required")}

    def test_of_wear_needs_a_level(self):
        assert codes(kind="mechanical_wear", medium="", level_db=None) == {("level_db", "required")}

    def test_of_a_pressure_leak_is_not_on_vacuum(self):
        assert codes(medium="vacuum") == {("medium", "medium_not_of_this_kind")}

    def test_that_is_quiet_needs_nothing(self):
        assert codes(kind="", medium="", level_db=None) == set()


class TestTheFingerprint:
    def test_is_the_same_for_the_same_content_written_otherwise(self):
        east = READING.taken_at.astimezone(timezone(timedelta(hours=1)))

        assert fingerprint(READING, SURVEY) == fingerprint(
            replace(READING, taken_at=east, level_db=40), SURVEY
        )

    @pytest.mark.parametrize("change", [{"level_db": 41.0}, {"note": "loud"}, {"kind": ""}, {"severity": 2}])
    def test_tells_other_content_apart(self, change):
        assert fingerprint(READING, SURVEY) != fingerprint(replace(READING, **change), SURVEY)

    def test_of_a_reading_kept_before_it_could_say_more_stays(self):
        known = "bf7fb89b27dc"  # of this reading, by the release before

        assert fingerprint(READING, SURVEY).hex()[:12] == known

    @pytest.mark.parametrize("change", [{"attachment": "dish"}, {"relative_humidity": 0.0}])
    def test_tells_what_the_sound_came_through_apart(self, change):
        assert fingerprint(READING, SURVEY) != fingerprint(replace(READING, **change), SURVEY)

    def test_tells_other_surveys_apart(self):
        assert fingerprint(READING, SURVEY) != fingerprint(READING, uuid.UUID(int=3))
