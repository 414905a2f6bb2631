"""How a calculation takes a time-of-use table, an operating calendar, a zone and a stretch of time."""

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from findings.kinds import cost
from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import rounded
from findings.kinds.calculations.calculation import InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem, decimal_of
from findings.kinds.local_hours import DAY_KINDS, WEEKDAYS
from findings.kinds.operating_calendar import CalendarWrong, OperatingCalendar
from findings.kinds.tariff import Part, TariffTable
from findings.kinds.tariff_reading import (
    FIRST_YEAR,
    LAST_YEAR,
    MOST_BANDS,
    MOST_DAYS,
    MOST_WINDOWS,
    TariffWrong,
    calendar_of,
    table_of,
)

LONGEST_YEARS: Final = 20
_FIRST, _LAST = datetime(FIRST_YEAR, 1, 1, tzinfo=UTC), datetime(LAST_YEAR, 1, 1, tzinfo=UTC)


WINDOW: Final = schemas.member(
    ["start", "end"],
    {"start": schemas.text("HH:MM.", 5, 5), "end": schemas.text("HH:MM, to 24:00, later than start.", 5, 5)},
    "A stretch of the local day.",
)
WINDOWS: Final = schemas.listed(
    WINDOW, "Stretches of the local day; write one past midnight as two.", MOST_WINDOWS
)
BANDS: Final = schemas.listed(
    schemas.member(
        ["name", "price_per_kwh", "windows"],
        {
            "name": schemas.text("Its name."),
            "price_per_kwh": schemas.exact(10**6, "Its price per kWh."),
            "windows": WINDOWS,
            "months": schemas.listed(
                {"type": "integer", "minimum": 1, "maximum": 12}, "Months it holds in; else all.", 12, 1
            ),
            "days": schemas.listed(
                schemas.choice(list(DAY_KINDS), ""), "Kinds of day it holds on; else all.", 8, 1
            ),
        },
        "One price with its hours.",
    ),
    "Bands that cover every hour of every day exactly once.",
    MOST_BANDS,
    1,
)
DAYS: Final = schemas.listed(
    schemas.text("YYYY-MM-DD.", 10, 10), "Days that count as holidays in the tariff.", MOST_DAYS
)
WEEKLY: Final = schemas.member(
    [],
    dict.fromkeys(WEEKDAYS, WINDOWS),
    "Hours in use by weekday; a weekday left out is closed. Without it: every hour.",
)
ZONE: Final = schemas.text("The site's time zone, such as Europe/Berlin.", 60)
MOMENT: Final = schemas.text("ISO 8601 with its offset.", 40)
CURRENCY: Final = schemas.text("ISO 4217 code of the prices.", 3, 3)

PARTS: Final = schemas.listing(
    schemas.answer(
        {
            "name": {"type": "string", "description": "The band."},
            "price_per_kwh": schemas.money("Its price per kWh."),
            "hours": schemas.money("Hours it has."),
            "share": schemas.money("Its share of all hours, 0 to 1."),
        }
    ),
    "The prices in force with their hours.",
)


def read_table(
    bands: Any, holidays: Any, bands_at: str = "/bands", holidays_at: str = "/holidays"
) -> TariffTable:
    """Return the checked table; raises InvalidInput at the places named."""
    plain = [{**band, "price_per_kwh": str(decimal_of(band["price_per_kwh"]))} for band in bands]
    try:
        return table_of(plain, holidays)
    except TariffWrong as wrong:
        places = {"/bands": bands_at, "/holidays": holidays_at}
        raise InvalidInput(
            *(_moved(problem.pointer, problem.text, places) for problem in wrong.problems)
        ) from None


def _moved(pointer: str, told: str, places: Mapping[str, str]) -> Problem:
    for stem, place in places.items():
        if pointer.startswith(stem):
            return Problem(place + pointer.removeprefix(stem), told)
    return Problem(pointer, told)


def read_calendar(data: Mapping[str, Any]) -> OperatingCalendar | None:
    """Return the calendar of ``weekly`` and ``closed_days``, None without; raises InvalidInput."""
    if "weekly" not in data:
        return None
    try:
        return calendar_of(data["weekly"], data.get("closed_days", []))
    except TariffWrong as wrong:
        raise InvalidInput(*(Problem(one.pointer, one.text) for one in wrong.problems)) from None
    except CalendarWrong as wrong:
        raise InvalidInput(Problem("/weekly", str(wrong))) from None


def read_zone(data: Mapping[str, Any]) -> ZoneInfo:
    """Return the zone; raises InvalidInput for a name that no zone has."""
    name = data["time_zone"]
    if name != "UTC" and ("/" not in name or name.startswith("Etc/")):
        raise InvalidInput(Problem("/time_zone", "must be a place's zone, such as Europe/Berlin"))
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InvalidInput(Problem("/time_zone", "is no time zone, such as Europe/Berlin")) from None


def read_stretch(data: Mapping[str, Any]) -> tuple[datetime, datetime]:
    """Return ``start_at`` and ``end_at``; raises InvalidInput unless they follow each other."""
    start, end = (_moment(data[name], f"/{name}") for name in ("start_at", "end_at"))
    if not start < end or end.year - start.year > LONGEST_YEARS:
        told = f"must be later than the start, by at most {LONGEST_YEARS} years"
        raise InvalidInput(Problem("/end_at", told))
    return start, end


def _moment(written: str, pointer: str) -> datetime:
    told = f"must be a moment with its offset between {FIRST_YEAR} and {LAST_YEAR}, as 2026-03-01T00:00+01:00"
    try:
        moment = datetime.fromisoformat(written)
        if moment.utcoffset() is not None and _FIRST <= moment <= _LAST:
            return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    raise InvalidInput(Problem(pointer, told))


def rounded_fraction(value: Fraction, places: str) -> str:
    """Return an exact fraction rounded half up, as a string."""
    return rounded(cost.EXACT.divide(Decimal(value.numerator), Decimal(value.denominator)), places)


def parts_told(parts: tuple[Part, ...]) -> list[Json]:
    """Return the prices in force with their hours; ``PARTS`` describes them."""
    return [
        {
            "name": part.band.name,
            "price_per_kwh": str(part.band.price_per_kwh),
            "hours": rounded_fraction(part.hours, "0.0001"),
            "share": rounded_fraction(part.share, "0.000001"),
        }
        for part in parts
    ]
