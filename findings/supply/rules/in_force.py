"""A price or factor that holds at a moment, with where it comes from."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from findings.supply.rules.stated import Quantity


class InForce(NamedTuple):
    """A dated value at a moment: money has its currency, a grid factor its year."""

    quantity: Quantity
    value: Decimal
    currency: str
    from_at: datetime
    source: str
    source_year: int | None


Known = Mapping[Quantity, InForce]


def numbers(known: Known) -> dict[Quantity, Decimal]:
    """Return the bare values."""
    return {quantity: one.value for quantity, one in known.items()}
