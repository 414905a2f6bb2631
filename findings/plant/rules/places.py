"""What a site and a code may be called."""

from datetime import date, datetime
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo, available_timezones

_CURRENCIES = """
    AED AFN ALL AMD ANG AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD
    CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD
    GNF GTQ GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT
    LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR
    NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP
    STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU UZS VED VES VND VUV WST XAF XCD
    XCG XOF XPF YER ZAR ZMW ZWG
"""
CURRENCIES: Final = frozenset(_CURRENCIES.split())
"""Currencies in use (ISO 4217, from memory): a slip like EUE would otherwise pass for one."""


class PlaceRefused(ValueError):
    """A name that cannot be what it should be; ``code`` is stable."""

    def __init__(self, code: str, text: str) -> None:
        super().__init__(text)
        self.code = code


@lru_cache(maxsize=1)
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def check_time_zone(name: str) -> str:
    """Return the name of a place's zone in the tz database, like Europe/Berlin. Raises PlaceRefused.

    Only places are taken: a fixed offset such as EST or Etc/GMT-1 would miss every change of the clocks.
    """
    name = name.strip()
    if name != "UTC" and ("/" not in name or name.startswith("Etc/") or name not in _zones()):
        code = "time_zone_unknown"
        text = "Name a place's zone of the tz database, like Europe/Berlin."
        raise PlaceRefused(code, text)
    return name


def check_currency(code: str) -> str:
    """Return the ISO 4217 code. Raises PlaceRefused."""
    if code not in CURRENCIES:
        name = "currency_unknown"
        text = "Name a currency in use by its three capitals, like EUR."
        raise PlaceRefused(name, text)
    return code


def clean_code(text: str) -> str:
    """Return a code without blanks around it and with single ones inside. Raises PlaceRefused when empty."""
    cleaned = " ".join(text.split())
    if not cleaned:
        name = "code_missing"
        raise PlaceRefused(name, "A code is needed.")
    return cleaned


def local_day(at: datetime, time_zone: str) -> date:
    """Return the day that a moment falls on by the site's clocks."""
    return at.astimezone(ZoneInfo(time_zone)).date()
