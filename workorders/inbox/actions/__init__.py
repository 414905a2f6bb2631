"""Tell people, write and send their mails, and take what they answer."""

from workorders.inbox.actions.answering import (
    NothingAsked,
    NoticeTaken,
    PersonNeeded,
    QuietHoursHalf,
    choose,
    mark_seen,
    see_all,
    take,
)
from workorders.inbox.actions.sending import MailNotParked, retry_mail, send_mails
from workorders.inbox.actions.telling import tell

__all__ = [
    "MailNotParked",
    "NothingAsked",
    "NoticeTaken",
    "PersonNeeded",
    "QuietHoursHalf",
    "choose",
    "mark_seen",
    "retry_mail",
    "see_all",
    "send_mails",
    "take",
    "tell",
]
