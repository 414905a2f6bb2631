"""Whether a level has risen against earlier ones."""

from findings.kinds.level_rise import LevelTrend, level_rise


def trend(level_db, earlier_db):
    return level_rise(level_db, earlier_db).trend


def test_nothing_is_told_without_a_level_or_anything_earlier():
    assert trend(None, [30.0]) is trend(30.0, []) is LevelTrend.UNKNOWN


def test_six_decibels_above_the_median_are_a_rise():
    assert trend(36.0, [30.0, 29.0, 31.0]) is LevelTrend.RISING
    assert trend(35.9, [30.0, 29.0, 31.0]) is LevelTrend.NOT_RISING


def test_one_loud_reading_of_the_past_does_not_hide_a_rise():
    assert trend(37.0, [30.0, 48.0, 30.0]) is LevelTrend.RISING


def test_three_rises_in_a_row_are_one_where_the_median_creeps_along():
    assert trend(38.0, [30.0, 32.0, 34.0, 36.0]) is LevelTrend.RISING
    assert trend(33.0, [30.0, 31.0, 32.0]) is LevelTrend.NOT_RISING


def test_the_rise_is_told_with_how_many_it_rests_on():
    found = level_rise(33.0, [30.0, 31.0])

    assert (found.rise_db, found.compared) == (2.5, 2)
