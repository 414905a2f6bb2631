"""What repairs avoid: credit from the repair on, in buckets that are never mixed."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import Final

from workorders.statements.rules.history import EventKind, KnownFinding, Repair
from workorders.statements.rules.money import Amount, amount_at_rate
from workorders.statements.rules.series import KnownPrices
from workorders.statements.rules.time import clip

CREDIT_TIME: Final = timedelta(hours=365 * 24)
"""How long a repair earns: a year of elapsed time. A convention, the site's to change, printed beside."""


class Bucket(StrEnum):
    """How sure a saving is: shown by a reading afterwards, or only claimed so far."""

    VERIFIED = "verified"
    CLAIMED = "claimed"


@dataclass(frozen=True, slots=True)
class Credit:
    """What one repair took away, for how long it earns, and how sure that is."""

    repair: Repair
    bucket: Bucket
    drop_m3_per_s: Decimal
    system: str
    start: datetime
    end: datetime


def credits_of(finding: KnownFinding, credit_time: timedelta = CREDIT_TIME) -> Iterator[Credit]:
    """Give the credits of a finding's repairs as they were known.

    A repair earns until the spot leaks again, until asset or branch goes out of service, or until the
    credit time is over, whichever is first. A failed one earns nothing; one that passed in part earns
    the part; one not yet checked is claimed.
    """
    for repair in finding.repairs:
        drop = repair.drop_m3_per_s
        if repair.verdict is EventKind.FAILED or repair.system is None or drop == 0:
            continue
        bucket = Bucket.CLAIMED if repair.verdict is None else Bucket.VERIFIED
        ends = [
            finding.first_after(EventKind.REOPENED, repair.repaired_at),
            finding.first_after(EventKind.REMOVED, repair.repaired_at),
        ]
        end = min([repair.repaired_at + credit_time, *(moment for moment in ends if moment is not None)])
        yield Credit(repair, bucket, drop, repair.system, repair.repaired_at, end)


def avoided_in(
    finding: KnownFinding,
    window: tuple[datetime, datetime],
    prices: KnownPrices,
    credit_time: timedelta = CREDIT_TIME,
) -> dict[Bucket, Amount]:
    """Integrate a finding's credits over a window at the prices actually in force."""
    totals = {bucket: Amount() for bucket in Bucket}
    for credit in credits_of(finding, credit_time):
        part = clip(credit.start, credit.end, window)
        if part is not None:
            totals[credit.bucket] += amount_at_rate(credit.drop_m3_per_s, credit.system, *part, prices)
    return totals
