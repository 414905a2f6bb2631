"""The rules of the inbox: who hears of what, in which words, when by mail, and what if a mail fails."""

from workorders.inbox.rules.kinds import (
    ASKING,
    DEFERRAL_ENDING_ACT,
    TOLD,
    NoticeKind,
    People,
    Telling,
    addressees,
)
from workorders.inbox.rules.retries import PAUSES, MailState, is_final, retry_at
from workorders.inbox.rules.timing import MOST_SINGLE_MAILS, USUAL, MailWish, Wishes, is_quiet, mail_from
from workorders.inbox.rules.wording import Matter, Words, words_of

__all__ = [
    "ASKING",
    "DEFERRAL_ENDING_ACT",
    "MOST_SINGLE_MAILS",
    "PAUSES",
    "TOLD",
    "USUAL",
    "MailState",
    "MailWish",
    "Matter",
    "NoticeKind",
    "People",
    "Telling",
    "Wishes",
    "Words",
    "addressees",
    "is_final",
    "is_quiet",
    "mail_from",
    "retry_at",
    "words_of",
]
