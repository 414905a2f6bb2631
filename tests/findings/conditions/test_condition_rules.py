"""Which judgement stands: the gravest of each method's newest word."""

from datetime import UTC, datetime, timedelta

from findings.conditions.rules import Standing, standing_of

DAY = datetime(2026, 3, 2, tzinfo=UTC)


def word(method: str, severity: int | None, day: int, *, overruled: bool = False) -> Standing:
    at = DAY + timedelta(days=day)
    return Standing(method, severity, at, at, overruled)


def test_nothing_stands_where_nothing_was_judged():
    assert standing_of([]) is None


def test_a_method_is_heard_with_its_newest_word():
    words = [("old", word("level", 4, 0)), ("new", word("level", 2, 5))]
    assert standing_of(words) == "new"
    assert standing_of(reversed(words)) == "new"


def test_a_quiet_level_does_not_unsay_what_a_recording_showed():
    assert standing_of([("recording", word("sound", 4, 0)), ("level", word("level", 1, 5))]) == "recording"


def test_a_word_that_cannot_tell_stands_only_where_no_other_can():
    unknown, slight = ("unknown", word("level", None, 9)), ("slight", word("sound", 1, 0))
    assert standing_of([unknown, slight]) == "slight"
    assert standing_of([unknown]) == "unknown"


def test_an_overruled_word_lets_the_one_before_it_stand_again():
    assert (
        standing_of([("set_aside", word("sound", 5, 3, overruled=True)), ("first", word("sound", 2, 0))])
        == "first"
    )


def test_among_equals_the_newest_stands():
    assert standing_of([("older", word("sound", 3, 0)), ("newer", word("level", 3, 1))]) == "newer"
