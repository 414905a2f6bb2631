"""Hand mails to the mail server: at least once each, again after a pause, given up at last with a reason."""

from __future__ import annotations

import smtplib
import uuid
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any, Final

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.db import transaction
from django.db.models import F
from django.urls import reverse

from findings.logbook import actions as logbook
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import Conflict, NotFound
from workorders.inbox.actions.mailing import address
from workorders.inbox.models import Mail
from workorders.inbox.queries import mails
from workorders.inbox.rules import MailState, is_final, retry_at

LEASE: Final = timedelta(minutes=5)
MOST_AT_ONCE: Final = 20
_LONGEST_REASON: Final = 300


class MailNotParked(Conflict):
    """Only a mail that was given up is taken up again."""

    code = "mail_not_parked"
    title = "This mail was not given up."


def send_mails(
    *,
    actor: Actor,
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None = None,
    limit: int = MOST_AT_ONCE,
) -> dict[str, int]:
    """Send the mails that are due, danger first; return how many were sent, put off, parked and dropped.

    Each is claimed by a lease in a transaction of its own, so that no connection to a slow server holds
    one. A server that cannot be reached at all ends the run: the others would fail alike.
    """
    counts = {"sent": 0, "again_later": 0, "parked": 0, "dropped": 0}
    connection = get_connection()
    try:
        for _ in range(limit):
            mail = _claim(at, site_ids)
            if mail is None:
                break
            outcome, reachable = _try(connection, mail, actor, at)
            counts[outcome] += 1
            if not reachable:
                break
    finally:
        with suppress(OSError, smtplib.SMTPException):
            connection.close()
    return counts


def retry_mail(*, actor: Actor, at: datetime, mail_id: uuid.UUID, version: int | None = None) -> Mail:
    """Take up a parked mail again. Raises NotFound, MailNotParked, PreconditionFailed."""
    with transaction.atomic():
        mail = mails.mails().select_for_update(of=("self",)).filter(pk=mail_id).first()
        if mail is None:
            raise NotFound
        if version is not None and mail.version != version:
            raise stale(mail.version)
        if mail.state != MailState.PARKED:
            raise MailNotParked
        fields = {"state": MailState.WAITING, "attempts": 0, "next_try_at": at, "ended_at": None}
        Mail.objects.filter(pk=mail.pk).update(**fields, version=F("version") + 1)
        _log(mail, actor, at, "mail.retried")
    return mails.mails().get(pk=mail_id)


@transaction.atomic
def _claim(at: datetime, site_ids: Sequence[uuid.UUID] | None) -> Mail | None:
    """Take one mail in hand: the try counts from now on, whatever becomes of us."""
    mail = mails.to_send(at, site_ids).select_for_update(skip_locked=True).first()
    if mail is None:
        return None
    Mail.objects.filter(pk=mail.pk).update(
        lease=uuid.uuid4(), leased_until=mails.lease_until(LEASE), attempts=F("attempts") + 1
    )
    return mails.mails().get(pk=mail.pk)


def _try(connection: Any, mail: Mail, actor: Actor, at: datetime) -> tuple[str, bool]:
    """Hand a mail over and write down what came of it; the second word: was the server there."""
    if not mail.user.email or not mails.works_there(mail):
        why = "The person has no address." if not mail.user.email else "The person works there no longer."
        return _end(mail, MailState.DROPPED, actor, at, why), True
    try:
        connection.send_messages([_message(mail, connection)])
    except smtplib.SMTPRecipientsRefused as exc:
        code, said = next(iter(exc.recipients.values()))
        return _failed(mail, actor, at, f"{code} {_text(said)}", final=is_final(code)), True
    except smtplib.SMTPAuthenticationError as exc:
        # Not this mail's fault, and mended by whoever keeps the settings: the mail waits for that.
        return _failed(mail, actor, at, f"The server refused the log-in ({exc.smtp_code})."), False
    except smtplib.SMTPResponseException as exc:
        final = is_final(exc.smtp_code) and not isinstance(
            exc, smtplib.SMTPConnectError | smtplib.SMTPHeloError
        )
        _close(connection)
        return _failed(mail, actor, at, f"{exc.smtp_code} {_text(exc.smtp_error)}", final=final), True
    except (smtplib.SMTPException, OSError) as exc:
        _close(connection)
        return _failed(mail, actor, at, f"The server was not there ({type(exc).__name__})."), False
    return _end(mail, MailState.SENT, actor, at, ""), True


def _message(mail: Mail, connection: Any) -> EmailMultiAlternatives:
    place = address(reverse("desk_inbox", kwargs={"code": mail.site.code}))
    headers = {
        "Message-ID": mail.message_id,
        "List-Unsubscribe": f"<{place}#wishes>",  # RFC 2369
        "Auto-Submitted": "auto-generated",  # RFC 3834
    }
    message = EmailMultiAlternatives(
        mail.subject, mail.text, settings.DEFAULT_FROM_EMAIL, [mail.user.email], headers=headers
    )
    message.connection = connection
    message.attach_alternative(mail.html, "text/html")
    return message


def _failed(mail: Mail, actor: Actor, at: datetime, why: str, *, final: bool = False) -> str:
    again_at = None if final else retry_at(at, mail.attempts, mail.pk)
    if again_at is None:
        return _end(mail, MailState.PARKED, actor, at, why)
    _mine(mail).update(next_try_at=again_at, lease=None, leased_until=None, last_error=why[:_LONGEST_REASON])
    return "again_later"


@transaction.atomic
def _end(mail: Mail, state: MailState, actor: Actor, at: datetime, why: str) -> str:
    ended = _mine(mail).update(
        state=state,
        ended_at=at,
        lease=None,
        leased_until=None,
        last_error=why[:_LONGEST_REASON],
        version=F("version") + 1,
    )
    if ended and state is MailState.PARKED:
        _log(mail, actor, at, "mail.parked", why)
    return state.value


def _mine(mail: Mail) -> Any:
    """Return the row as long as our lease is the last one: a sender that slept too long writes nothing."""
    return Mail.objects.filter(pk=mail.pk, lease=mail.lease, state=MailState.WAITING)


def _close(connection: Any) -> None:
    with suppress(OSError, smtplib.SMTPException):
        connection.close()


def _text(said: bytes | str) -> str:
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
    return " ".join(text.split())[:200]


def _log(mail: Mail, actor: Actor, at: datetime, act: str, reason: str = "") -> None:
    logbook.write(
        site_id=mail.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="mail",
        subject_id=mail.pk,
        reason=reason,
        detail={"subject": mail.subject, "attempts": mail.attempts, "message_id": mail.message_id},
    )
