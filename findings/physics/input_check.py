"""What every method asks of its numbers before it looks at their meaning."""

import math
from collections.abc import Iterable
from typing import Any

from findings.physics.estimate import Reason
from findings.physics.uncertainty import Uncertain

NOT_FINITE = Reason("not_finite", "An input isn't a finite number.")
NEGATIVE = Reason("uncertainty_negative", "A standard uncertainty is never negative.")
TOO_LARGE = Reason("uncertainty_too_large", "A standard uncertainty is larger than its value.")


def number_problems(quantities: Iterable[Uncertain], exact: Iterable[float] = ()) -> tuple[Reason, ...]:
    """Return why these numbers can't be computed with: not finite, or with an impossible uncertainty.

    First-order propagation says nothing where the uncertainty exceeds the value; a zero is exempt.
    """
    kept = tuple(quantities)
    if not all(math.isfinite(number) for number in (*(n for pair in kept for n in pair), *exact)):
        return (NOT_FINITE,)
    if any(quantity.u < 0.0 for quantity in kept):
        return (NEGATIVE,)
    if any(quantity.u > abs(quantity.value) > 0.0 for quantity in kept):
        return (TOO_LARGE,)
    return ()


def finite_or_none(value: Any) -> Any:
    """Return the value, or None for a number JSON can't carry."""
    return None if isinstance(value, float) and not math.isfinite(value) else value
