"""Public holidays by law of a country and its part, from the `holidays` library.

The library writes down laws as they stood when it was released: a holiday decreed later is not in it, and
one that follows the moon is estimated and says so in its name. A site adds its own days.
"""

from collections.abc import Mapping
from datetime import date
from functools import cache
from typing import Any, Final, NoReturn

from findings.physics import lazily

LIBRARY: Final = "holidays"
ENGLISH: Final = "en_US"


class HolidaysUnknown(ValueError):
    """No such country, or no such part of it; `pointer` names the member."""

    def __init__(self, pointer: str, text: str) -> None:
        super().__init__(text)
        self.pointer = pointer


def _refuse(pointer: str, text: str) -> NoReturn:
    raise HolidaysUnknown(pointer, text)


@cache
def _parts() -> Mapping[str, Any]:
    return dict(lazily.load(LIBRARY).list_supported_countries(include_aliases=False))


def check_country(country: str, subdivision: str) -> None:
    """Refuse a country (ISO 3166-1, two letters) or part (ISO 3166-2) that the library does not know.

    No country is allowed: then there are no public holidays. Raises HolidaysUnknown.
    """
    if not country:
        if subdivision:
            _refuse("subdivision", "Name the country too.")
        return
    if country not in _parts():
        _refuse("country", "No public holidays are known for this country code.")
    if subdivision and subdivision not in _parts()[country]:
        _refuse("subdivision", f"{country} has no part with this code.")


@cache
def holidays_of(country: str, subdivision: str, year: int) -> Mapping[date, str]:
    """Return the public holidays of one year with their names; none without a country."""
    if not country or year > last_year(country, subdivision):
        return {}
    load = lazily.load(LIBRARY).country_holidays
    part = subdivision or None
    # Named, because the library would else follow the language of the process.
    english = ENGLISH if ENGLISH in load(country, subdiv=part).supported_languages else None
    found = load(country, subdiv=part, years=year, language=english)
    return {day: name for day, name in sorted(found.items()) if day.year == year}


@cache
def last_year(country: str, subdivision: str) -> int:
    """Return the last year that the library knows of; without a country every year."""
    if not country:
        return 9999
    return int(lazily.load(LIBRARY).country_holidays(country, subdiv=subdivision or None).end_year)


def is_estimated(name: str) -> bool:
    """Say whether a holiday's day is estimated, as the library writes into its name."""
    return "estimated" in name.lower()


def told_source(country: str, subdivision: str) -> str:
    """Return where the public holidays come from, for a reader."""
    part = f"{country}-{subdivision}" if subdivision else country
    return f"public holidays of {part}, {LIBRARY} {lazily.load(LIBRARY).__version__}"
