"""Did the mended seal hold? The walk after the repair says, where it may be compared."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from findings.physics.seal_test import Verdict as Walked
from workorders.verification.rules import SeamWalked, Verdict, judge_seal

REPAIRED_AT = datetime(2026, 3, 4, tzinfo=UTC)
BEFORE = SeamWalked(
    observed_at=REPAIRED_AT - timedelta(days=2),
    verdict=Walked.FAIL,
    smallest_drop_db=12.0,
    is_ring=True,
    length_m=6.0,
    criterion="amplitude",
    distance_m=0.1,
    source="Tone source, 40 kHz",
    instrument="D1",
)
AFTER = replace(
    BEFORE, observed_at=REPAIRED_AT + timedelta(days=1), verdict=Walked.PASS, smallest_drop_db=34.0
)


def judged(before=BEFORE, **changes):
    found = judge_seal(before, replace(AFTER, **changes), repaired_at=REPAIRED_AT)
    return found.verdict, [reason.code for reason in found.reasons]


@pytest.mark.parametrize(
    ("walked", "verdict"),
    [
        (Walked.PASS, Verdict.PASSED),
        (Walked.WATCH, Verdict.PARTIAL),
        (Walked.FAIL, Verdict.FAILED),
        (Walked.NOT_DETERMINED, Verdict.CANNOT_TELL),
    ],
)
def test_the_walk_decides(walked, verdict):
    assert judged(verdict=walked)[0] is verdict


def test_a_seam_to_be_watched_as_before_was_not_mended():
    assert judged(replace(BEFORE, verdict=Walked.WATCH), verdict=Walked.WATCH) == (
        Verdict.FAILED,
        ["still_to_watch"],
    )


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"length_m": 5.0}, "other_seam"),
        ({"is_ring": False}, "other_seam"),
        ({"distance_m": 0.2}, "other_distance"),
        ({"source": "Loudspeaker"}, "other_source"),
        ({"instrument": "D2"}, "other_instrument"),
        ({"instrument": None}, "other_instrument"),
        ({"criterion": "displayed_number"}, "other_criterion"),
        ({"observed_at": REPAIRED_AT}, "not_after_repair"),
    ],
)
def test_unlike_walks_cannot_tell(changes, code):
    assert judged(**changes) == (Verdict.CANNOT_TELL, [code])


def test_a_walk_alone_has_the_open_door_as_its_reference():
    assert judged(None) == (Verdict.PASSED, ["walk_passed", "walk_alone"])
