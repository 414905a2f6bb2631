"""Words of the deferrals room."""

from __future__ import annotations

from datetime import timedelta
from enum import StrEnum
from typing import Final

LONGEST_SAFETY_DEFERRAL: Final = timedelta(days=30)
"""Our judgement: a safety finding's deferral is looked at again within a month."""

LONGEST_DEFERRAL: Final = timedelta(days=365)
"""Our judgement: whatever waits is looked at again within a year."""


class DeferralReason(StrEnum):
    """Why a fault may wait."""

    SHUTDOWN_NEEDED = "shutdown_needed"
    PARTS = "parts"
    ACCESS = "access"
    ISOLATION_WORSE = "isolation_worse"
    BUDGET = "budget"


NOT_FOR_SAFETY: Final = frozenset({DeferralReason.BUDGET})
"""Money never lets a danger wait."""
