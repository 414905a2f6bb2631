"""A price or factor that holds at a moment, with where it comes from."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from findings.kinds.tariff import Part
from findings.supply.rules.stated import Quantity


class InForce(NamedTuple):
    """A dated value at a moment: money has its currency, a grid factor its year.

    A time-of-use table counts with its mean over the coming year; ``parts`` are the prices behind it.
    """

    quantity: Quantity
    value: Decimal
    currency: str
    from_at: datetime
    source: str
    source_year: int | None
    parts: tuple[Part, ...] = ()


Known = Mapping[Quantity, InForce]


def numbers(known: Known) -> dict[Quantity, Decimal]:
    """Return the bare values."""
    return {quantity: one.value for quantity, one in known.items()}
