"""Read a time-of-use table from plain data, and say in plain words where it doesn't cover every hour once."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, Final, NamedTuple

from findings.kinds.local_hours import (
    DAY_KINDS,
    MINUTES_OF_A_DAY,
    WEEKDAYS,
    Window,
    minutes_of,
)
from findings.kinds.operating_calendar import OperatingCalendar
from findings.kinds.tariff import ALL_DAYS, ALL_MONTHS, Band, TariffTable

MOST_BANDS: Final = 40
MOST_WINDOWS: Final = 24
MOST_DAYS: Final = 600
MOST_PROBLEMS: Final = 20
HIGHEST_PRICE: Final = Decimal(10) ** 6
MOST_PLACES: Final = 10
FIRST_YEAR, LAST_YEAR = 1990, 2200
MONTH_NAMES: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class TariffProblem(NamedTuple):
    """What is wrong at a place, named by its JSON pointer, with a stable code."""

    pointer: str
    code: str
    text: str


class TariffWrong(ValueError):
    """A table that can't be; ``problems`` lists each place and what is wrong there."""

    def __init__(self, problems: Iterable[TariffProblem]) -> None:
        """Keep the first problems."""
        self.problems = tuple(problems)[:MOST_PROBLEMS]
        super().__init__("; ".join(f"{one.pointer} {one.text}" for one in self.problems))


def table_of(bands: Any, holidays: Any = ()) -> TariffTable:
    """Return the checked table of plain data; raises TariffWrong with every problem that was found.

    ``bands``: a list of {"name", "price_per_kwh": decimal text, "windows": [{"start": "06:00", "end":
    "22:00"}], "months": [1, 2] (else all), "days": ["mon", "holiday"] (else all)}. ``holidays``: a list of
    "YYYY-MM-DD"; only with it must the bands cover the kind "holiday".
    """
    problems: list[TariffProblem] = []
    days = _days(holidays, "/holidays", problems)
    read = _bands(bands, problems)
    if not problems:
        problems += coverage_problems(read, with_holidays=bool(days))
    if problems:
        raise TariffWrong(problems)
    return TariffTable(tuple(read), days)


def calendar_of(weekly: Any, closed_days: Any = ()) -> OperatingCalendar:
    """Return the calendar of {"mon": [{"start", "end"}]} and a list of days.

    Raises TariffWrong for data of the wrong form, and CalendarWrong for windows that no week can have.
    """
    problems: list[TariffProblem] = []
    days = _days(closed_days, "/closed_days", problems)
    if not isinstance(weekly, Mapping) or len(weekly) > len(WEEKDAYS):
        problems.append(TariffProblem("/weekly", "not_an_object", "must give windows by weekday"))
        raise TariffWrong(problems)
    windows = {
        str(name): _windows(given, f"/weekly/{str(name)[:20]}", problems) for name, given in weekly.items()
    }
    if problems:
        raise TariffWrong(problems)
    return OperatingCalendar(windows, days)


def _bands(given: Any, problems: list[TariffProblem]) -> list[Band]:
    if not isinstance(given, list) or not 1 <= len(given) <= MOST_BANDS:
        text = f"must be a list of 1 to {MOST_BANDS} bands"
        problems.append(TariffProblem("/bands", "not_a_list", text))
        return []
    found = [_band(one, f"/bands/{place}", problems) for place, one in enumerate(given)]
    names = [band.name for band in found if band is not None]
    problems += [
        TariffProblem("/bands", "name_twice", f"two bands are named {name!r}")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    return [band for band in found if band is not None]


_MEMBERS: Final = frozenset({"name", "price_per_kwh", "windows", "months", "days"})


def _band(given: Any, pointer: str, problems: list[TariffProblem]) -> Band | None:
    if not isinstance(given, Mapping):
        problems.append(TariffProblem(pointer, "not_an_object", "must be an object"))
        return None
    problems += [
        TariffProblem(f"{pointer}/{member[:40]}", "unknown", "is not known here")
        for member in sorted(str(key) for key in given if key not in _MEMBERS)[:3]
    ]
    name = given.get("name")
    if not isinstance(name, str) or not 1 <= len(name.strip()) <= 60 or not name.isprintable():
        problems.append(TariffProblem(f"{pointer}/name", "name_missing", "needs a name of 1 to 60 signs"))
        name = "?"
    return Band(
        name.strip(),
        _price(given.get("price_per_kwh"), f"{pointer}/price_per_kwh", problems),
        _windows(given.get("windows"), f"{pointer}/windows", problems),
        frozenset(_chosen(given, "months", ALL_MONTHS, pointer, problems)),
        frozenset(_chosen(given, "days", ALL_DAYS, pointer, problems)),
    )


def _price(given: Any, pointer: str, problems: list[TariffProblem]) -> Decimal:
    try:
        price = Decimal(given) if isinstance(given, str) and len(given) <= 40 else Decimal("NaN")
    except InvalidOperation:
        price = Decimal("NaN")
    exponent = price.as_tuple().exponent
    if not (price.is_finite() and 0 <= price <= HIGHEST_PRICE and -int(exponent) <= MOST_PLACES):
        text = "must be a decimal per kWh written as a text, such as '0.2145', not below 0"
        problems.append(TariffProblem(pointer, "price_wrong", text))
        return Decimal(0)
    return price


def _windows(given: Any, pointer: str, problems: list[TariffProblem]) -> tuple[Window, ...]:
    if not isinstance(given, list) or len(given) > MOST_WINDOWS:
        text = f"must be a list of at most {MOST_WINDOWS} windows with start and end"
        problems.append(TariffProblem(pointer, "not_a_list", text))
        return ()
    found = []
    for place, one in enumerate(given):
        window = _window(one)
        if window is None:
            text = (
                "must be from a time to a later one of the same day, as {'start': '06:00', 'end': '24:00'}; "
                "write a window that passes midnight as two"
            )
            problems.append(TariffProblem(f"{pointer}/{place}", "window_wrong", text))
        else:
            found.append(window)
    return tuple(found)


def _window(given: Any) -> Window | None:
    if not isinstance(given, Mapping) or set(given) != {"start", "end"}:
        return None
    if not all(isinstance(given[name], str) for name in ("start", "end")):
        return None
    start, end = minutes_of(given["start"]), minutes_of(given["end"])
    return None if start is None or end is None or start >= end else Window(start, end)


def _chosen(
    given: Mapping[str, Any],
    name: str,
    all_of_them: frozenset[Any],
    pointer: str,
    problems: list[TariffProblem],
) -> frozenset[Any]:
    """Return the months or kinds of day that a band names, all where it names none."""
    if name not in given:
        return all_of_them
    chosen = given[name]
    plain = isinstance(chosen, list) and 0 < len(chosen) <= len(all_of_them)
    if not plain or not all(type(one) in {int, str} and one in all_of_them for one in chosen):
        words = "1 to 12" if name == "months" else ", ".join(DAY_KINDS)
        problems.append(TariffProblem(f"{pointer}/{name}", f"{name}_wrong", f"must be a list out of {words}"))
        return frozenset()
    return frozenset(chosen)


def _days(given: Any, pointer: str, problems: list[TariffProblem]) -> frozenset[date]:
    if not isinstance(given, list | tuple) or len(given) > MOST_DAYS:
        problems.append(TariffProblem(pointer, "not_a_list", f"must be a list of at most {MOST_DAYS} days"))
        return frozenset()
    found = set()
    for place, one in enumerate(given):
        try:
            day = one if type(one) is date else date.fromisoformat(one if isinstance(one, str) else "")
        except ValueError:
            day = None
        if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
            text = "must be a day, as '2026-12-25'"
            problems.append(TariffProblem(f"{pointer}/{place}", "day_wrong", text))
        else:
            found.add(day)
    return frozenset(found)


def coverage_problems(bands: Sequence[Band], *, with_holidays: bool) -> Iterator[TariffProblem]:
    """Yield where the bands leave an hour without a price or give it two, told together."""
    by_fault: dict[tuple[Window, str], dict[int, list[str]]] = {}
    for month in sorted(ALL_MONTHS):
        for kind in DAY_KINDS if with_holidays else WEEKDAYS:
            for fault in _faults(bands, month, kind):
                by_fault.setdefault(fault, {}).setdefault(month, []).append(kind)
    for (window, names), by_month in sorted(by_fault.items()):
        code, what = ("two_prices", f"more than one price ({names})") if names else ("no_price", "no price")
        by_kinds: dict[tuple[str, ...], list[int]] = {}
        for month, kinds in by_month.items():
            by_kinds.setdefault(tuple(kinds), []).append(month)
        for same, months in by_kinds.items():
            text = f"there is {what} from {window} on {_days_told(same)} in {_months_told(months)}"
            yield TariffProblem("/bands", code, text)


def _faults(bands: Sequence[Band], month: int, kind: str) -> Iterator[tuple[Window, str]]:
    """Yield gaps (no names) and overlaps (the bands' names) of one kind of day."""
    laid = sorted(
        (window, band.name)
        for band in bands
        if month in band.months and kind in band.days
        for window in band.windows
    )
    reached, last = 0, ""
    for window, name in [*laid, (Window(MINUTES_OF_A_DAY, MINUTES_OF_A_DAY), "")]:
        if window.start > reached:
            yield Window(reached, window.start), ""
        elif window.start < reached:
            yield Window(window.start, min(reached, window.end)), " and ".join(sorted({last, name}))
        if window.end > reached:
            reached, last = window.end, name


def _days_told(kinds: Sequence[str]) -> str:
    return "every day" if set(kinds) >= set(WEEKDAYS) else ", ".join(kinds)


def _months_told(months: Sequence[int]) -> str:
    return "every month" if len(months) == 12 else ", ".join(MONTH_NAMES[month - 1] for month in months)
