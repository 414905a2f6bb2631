"""What must hold of every month, whatever the leaks did."""

import json
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.workorders.statements.histories import BERLIN, PRAGUE, Leak, dated, on, prices
from workorders.statements.rules import (
    KnownFinding,
    MonthFigures,
    StepFunction,
    clip,
    credits_of,
    digest,
    month_bounds,
    month_figures,
    quantise,
    seconds_between,
    share_out,
    to_json,
)

YEAR = [date(2025, month, 1) for month in range(1, 13)]
JUNE = date(2025, 6, 1)
AFTER = on(1, 2, year=2026)
SERIES = prices(dated("0.15"), dated("0.1837", on(14, 4, 7)), dated("0.2101", on(26, 10, 5)))
NEARLY = Fraction(1, 10**30)


def hours(low: int, high: int) -> st.SearchStrategy[timedelta]:
    return st.integers(low, high).map(lambda count: timedelta(hours=count))


@st.composite
def leaks(draw: st.DrawFn) -> Leak:
    """Draw a leak of 2025 that may grow, be repaired, judged, and (when it was closed) leak again."""
    flow = draw(st.integers(1, 60))
    at = on(1, 1) + draw(hours(1, 6000))
    leak = Leak(
        f"L{draw(st.uuids())}", flow, at, area=draw(st.sampled_from(["Dough", "Wrapping", "Utilities"]))
    )
    for _ in range(draw(st.integers(0, 3))):
        at += draw(hours(1, 900))
        if draw(st.booleans()):
            leak.grew(draw(st.integers(1, 60)), at)
        at += draw(hours(1, 900))
        verdict = draw(st.sampled_from(["open", "passed", "partial", "failed"]))
        leak.repaired(at)
        at += draw(hours(1, 400))
        if verdict == "open":
            break
        if verdict == "passed":
            leak.passed(at)
            if not draw(st.booleans()):
                break
            at += draw(hours(1, 900))
            leak.reopened(draw(st.integers(1, 60)), at)
        elif verdict == "partial":
            before = KnownFinding(leak.history, at).repairs[-1].rate_before_m3_per_s * 3600
            leak.partial(draw(st.integers(0, int(before))), at)
        else:
            leak.failed(draw(st.integers(1, 60)), at)
    return leak


def figures(found: list[Leak], month: date, as_of: datetime = AFTER) -> MonthFigures:
    return month_figures([leak.history for leak in found], SERIES, month, PRAGUE, as_of)


def exact(value: Decimal) -> Fraction:
    return Fraction(value)


class TestSums:
    @given(st.lists(leaks(), max_size=5))
    def test_lines_add_up_to_the_total_and_areas_too(self, found: list[Leak]) -> None:
        month = figures(found, JUNE)

        for name in ("accrued", "avoided_verified", "avoided_claimed", "cost_past_due", "volume_m3"):
            total = exact(getattr(month.total, name))
            assert sum(exact(getattr(line, name)) for line in month.lines) == total
            assert sum(exact(getattr(area, name)) for area in month.areas.values()) == total

    @given(leaks())
    def test_the_months_add_up_to_the_year(self, leak: Leak) -> None:
        known = KnownFinding(leak.history, AFTER)
        year = (month_bounds(YEAR[0], PRAGUE)[0], month_bounds(YEAR[-1], PRAGUE)[1])
        parts = [(loss.rate_m3_per_s, clip(loss.started_at, loss.ended_at, year)) for loss in known.losses]
        whole = sum(
            (Fraction(rate) * seconds_between(*part) for rate, part in parts if part is not None), Fraction(0)
        )

        months = sum((exact(figures([leak], month).total.volume_m3) for month in YEAR), Fraction(0))

        assert abs(months - whole) < NEARLY

    @given(st.lists(leaks(), max_size=5), st.sampled_from(YEAR))
    def test_the_ledger_balances_and_hands_over(self, found: list[Leak], month: date) -> None:
        following = date(month.year + month.month // 12, month.month % 12 + 1, 1)

        assert figures(found, month).total.balances
        assert figures(found, month).total.open_end == figures(found, following).total.open_start

    @given(st.lists(leaks(), max_size=5), st.sampled_from(YEAR))
    def test_no_money_is_negative(self, found: list[Leak], month: date) -> None:
        for line in figures(found, month).lines:
            assert min(line.accrued, line.avoided_verified, line.avoided_claimed, line.cost_past_due) >= 0

    @given(st.lists(leaks(), max_size=4), st.randoms(use_true_random=False))
    def test_the_order_of_facts_changes_nothing(self, found: list[Leak], chance: object) -> None:
        histories = [leak.history for leak in found]
        shuffled = [
            replace(item, events=tuple(reversed(item.events)), losses=tuple(reversed(item.losses)))
            for item in histories
        ]

        one = month_figures(histories, SERIES, JUNE, PRAGUE, AFTER)

        assert month_figures(shuffled, SERIES, JUNE, PRAGUE, AFTER) == one


@st.composite
def steady_leaks(draw: st.DrawFn) -> tuple[Leak, int]:
    """Draw a leak that never grows: repaired in part once or twice, then wholly, checked or not."""
    flow = draw(st.integers(2, 60))
    at = on(1, 5) + draw(hours(1, 700))
    leak, left = Leak("1", flow, at), flow
    for _ in range(draw(st.integers(0, 2))):
        at += draw(hours(1, 300))
        left = draw(st.integers(1, left))
        leak.repaired(at)
        at += draw(hours(1, 100))
        leak.partial(left, at)
    if draw(st.booleans()):
        at += draw(hours(1, 300))
        leak.repaired(at)
        if draw(st.booleans()):
            leak.passed(at + draw(hours(1, 100)))
    return leak, flow


class TestNothingDone:
    @given(steady_leaks(), st.sampled_from(YEAR[4:]))
    def test_accrued_and_avoided_are_what_it_had_cost_unrepaired(
        self, drawn: tuple[Leak, int], month: date
    ) -> None:
        """Holds while every credit runs: no repair is a year old, nothing leaked again."""
        leak, flow = drawn
        untouched = Leak("1", flow, leak.events[0].at)

        done, nothing = figures([leak], month).total, figures([untouched], month).total

        came = exact(done.accrued) + exact(done.avoided_verified) + exact(done.avoided_claimed)
        assert abs(came - exact(nothing.accrued)) < NEARLY

    @given(leaks())
    def test_no_credit_outlives_its_year_or_the_next_leak(self, leak: Leak) -> None:
        known = KnownFinding(leak.history, AFTER)

        for credit in credits_of(known):
            again = known.first_after("reopened", credit.start)  # type: ignore[arg-type]
            assert credit.end <= credit.start + timedelta(days=365)
            assert again is None or credit.end <= again


class TestAsKnown:
    @given(st.lists(leaks(), max_size=4), hours(0, 8000))
    def test_a_month_as_closed_never_changes_by_what_came_later(
        self, found: list[Leak], later: timedelta
    ) -> None:
        as_of = on(1, 7)
        grown = [
            replace(
                leak.history,
                events=tuple(event for event in leak.history.events if event.recorded_at <= as_of + later),
            )
            for leak in found
        ]

        then = month_figures(grown, SERIES, JUNE, PRAGUE, as_of)

        assert then == figures(found, JUNE, as_of)


class TestMonthBounds:
    @pytest.mark.parametrize(
        ("zone", "month", "length"),
        [
            ("Europe/Berlin", date(2026, 3, 1), 743),
            ("Europe/Berlin", date(2026, 10, 31), 745),
            ("Europe/Berlin", date(2026, 2, 1), 672),
            ("America/Chicago", date(2026, 3, 1), 743),
            ("America/Chicago", date(2026, 11, 1), 721),
            ("Australia/Lord_Howe", date(2026, 4, 1), 720.5),
            ("Australia/Lord_Howe", date(2026, 10, 1), 743.5),
            ("UTC", date(2026, 12, 31), 744),
        ],
    )
    def test_elapsed_hours(self, zone: str, month: date, length: float) -> None:
        start, end = month_bounds(month, ZoneInfo(zone))

        assert (end - start) / timedelta(hours=1) == length

    def test_starts_at_local_midnight(self) -> None:
        assert month_bounds(date(2026, 3, 15), BERLIN)[0] == datetime(2026, 3, 1, tzinfo=BERLIN)

    @given(
        st.dates(date(1990, 1, 1), date(2060, 1, 1)), st.sampled_from(["Europe/Berlin", "America/Chicago"])
    )
    def test_months_follow_each_other_without_gap(self, month: date, zone: str) -> None:
        _, end = month_bounds(month, ZoneInfo(zone))

        assert month_bounds(end.astimezone(ZoneInfo(zone)).date(), ZoneInfo(zone))[0] == end


class TestStepFunction:
    def test_the_value_holds_from_its_moment_on(self) -> None:
        price = StepFunction("price", (dated("2", on(16)), dated("1", on(1))))

        assert [price.at(on(15)), price.at(on(16)), price.at(on(17))] == [1, 2, 2]

    def test_changes_are_those_strictly_inside(self) -> None:
        price = StepFunction("price", tuple(dated("1", on(day)) for day in (1, 5, 9, 12)))

        assert price.changes(on(1), on(12)) == (on(5), on(9))

    def test_of_two_for_one_moment_the_later_recorded_holds(self) -> None:
        price = StepFunction("price", (dated("2", on(1), on(9)), dated("1", on(1), on(2))))

        assert price.at(on(1)) == 2


class TestRounding:
    @pytest.mark.parametrize(
        ("value", "found"), [("2.675", "2.68"), ("2.665", "2.67"), ("0.005", "0.01"), ("-0.005", "-0.01")]
    )
    def test_halves_go_up_once(self, value: str, found: str) -> None:
        assert str(quantise(Decimal(value))) == found

    @given(st.lists(st.decimals(0, 10**9, places=7), max_size=30))
    def test_shown_lines_add_up_to_the_shown_total(self, parts: list[Decimal]) -> None:
        shown = share_out(parts)

        assert sum(shown, Decimal(0)) == quantise(sum(parts, Decimal(0)))
        assert all(abs(line - part) < Decimal("0.01") for line, part in zip(shown, parts, strict=True))

    def test_the_cent_left_over_goes_to_the_line_that_lost_most(self) -> None:
        assert [str(line) for line in share_out([Decimal("0.334"), Decimal("0.338"), Decimal("0.328")])] == [
            "0.33",
            "0.34",
            "0.33",
        ]


class TestJson:
    FIGURES = figures([Leak("1", 10, on(11)).repaired(on(20))], JUNE)

    def test_money_is_text_and_everything_is_plain(self) -> None:
        plain = json.loads(json.dumps(to_json(self.FIGURES), allow_nan=False))

        assert Decimal(plain["total"]["accrued"]) == self.FIGURES.total.accrued
        assert plain["lines"][0]["state_at_end"] == "repaired"
        assert plain["start"] == "2025-05-31T22:00:00Z"

    def test_the_digest_follows_the_inputs(self) -> None:
        leak = Leak("1", 10, on(11))

        same = digest([leak.history], SERIES)

        assert same == digest([Leak("1", 10, on(11)).history], SERIES)
        assert same != digest([Leak("1", 11, on(11)).history], SERIES)

    @pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN")])
    def test_a_figure_that_is_no_number_is_refused(self, value: float | Decimal) -> None:
        with pytest.raises(ValueError, match="finite"):
            to_json(value)

    def test_a_stranger_is_refused(self) -> None:
        with pytest.raises(TypeError, match="no place"):
            to_json(object())


class TestWallClock:
    def test_two_moments_of_one_zone_are_subtracted_as_they_elapse(self) -> None:
        night = seconds_between(on(30, 3, 0, 2025), on(30, 3, 6, 2025))

        assert night == 5 * 3600

    def test_a_moment_without_offset_is_refused(self) -> None:
        with pytest.raises(ValueError, match="offset"):
            dated("1", datetime(2025, 6, 1))  # noqa: DTZ001
