"""Doors of the inbox: a person's notices and wishes, and the mails of a site."""

from workorders.inbox.api.mails import MailRetry, Mails
from workorders.inbox.api.notices import Notice, Notices, NoticeSeen, NoticeTake
from workorders.inbox.api.preferences import NoticePreference

__all__ = ["MailRetry", "Mails", "Notice", "NoticePreference", "NoticeSeen", "NoticeTake", "Notices"]
