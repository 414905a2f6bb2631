"""When a mail is tried again, and when it is given up."""

import hashlib
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final
from uuid import UUID


class MailState(StrEnum):
    """Where a mail stands."""

    WAITING = "waiting"
    SENT = "sent"
    PARKED = "parked"
    DROPPED = "dropped"


PAUSES: Final = (
    timedelta(minutes=1),
    timedelta(minutes=5),
    timedelta(minutes=15),
    timedelta(hours=1),
    timedelta(hours=4),
    timedelta(hours=8),
    timedelta(hours=16),
    timedelta(hours=24),
    timedelta(hours=24),
)
"""After each failed try: ten tries in a little over three days. RFC 5321 section 4.5.4.1 (from memory) asks
to give up after four to five days at the earliest; the queue that it means is the mail server's own."""

JITTER: Final = 0.1
"""Up to this share of a pause is added, so that mails which failed together don't come back together."""


def retry_at(at: datetime, attempts: int, mail_id: UUID) -> datetime | None:
    """Return when a mail that failed for the n-th time is tried again; None: no more."""
    if attempts > len(PAUSES):
        return None
    pause = PAUSES[attempts - 1]
    drawn = hashlib.sha256(f"{mail_id}:{attempts}".encode()).digest()[0] / 255
    return at + pause * (1 + JITTER * drawn)


def is_final(code: int) -> bool:
    """Tell whether a server's answer will be the same tomorrow: 5yz of RFC 5321 section 4.2.1."""
    return 500 <= code <= 599
