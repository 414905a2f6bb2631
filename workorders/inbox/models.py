"""News of a site, the notices of it to single people, what people wish, and the mails that go out."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from findings.plant.models import Site
from findings.register.models import Finding
from plantcare.api.identifiers import uuid7
from workorders.clocks.models import Escalation
from workorders.inbox.rules import MailState, MailWish, NoticeKind
from workorders.orders.models import WorkOrder


class News(models.Model):
    """What people hear of: one entry of the site's logbook, put into words once. Rows are only added.

    ``sequence`` is the entry's place in the site's chain. Who sees to it is set once; for a step up it
    stands on the escalation, where the first page takes it too.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=24, choices=[(k.value, k.value) for k in NoticeKind])
    is_safety = models.BooleanField(default=False)
    finding = models.ForeignKey(Finding, null=True, on_delete=models.PROTECT, related_name="+")
    order = models.ForeignKey(WorkOrder, null=True, on_delete=models.PROTECT, related_name="+")
    escalation = models.ForeignKey(Escalation, null=True, on_delete=models.PROTECT, related_name="+")
    month_on = models.DateField(null=True)
    headline = models.CharField(max_length=300)
    todo = models.CharField(max_length=300)
    at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name_plural = "news"
        constraints = [
            models.UniqueConstraint(fields=["site", "sequence"], name="news_once_per_entry"),
            models.UniqueConstraint(fields=["id", "site"], name="news_with_site"),
            models.CheckConstraint(
                condition=Q(taken_at__isnull=True, taken_by__isnull=True)
                | Q(taken_at__isnull=False, taken_by__isnull=False),
                name="news_taken_whole",
            ),
        ]

    def __str__(self) -> str:
        return self.headline


class Mail(models.Model):
    """A mail to one person about one or more notices, kept until it is handed to the mail server.

    Handed over at least once: a sender that dies after the hand-over sends it again with the same
    ``message_id``, by which a mailbox knows it.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    message_id = models.CharField(max_length=320, unique=True)
    is_safety = models.BooleanField(default=False)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField()
    state = models.CharField(
        max_length=8, choices=[(s.value, s.value) for s in MailState], default=MailState.WAITING
    )
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField()
    # Who has it in hand, and until when by the database's clock.
    lease = models.UUIDField(null=True, blank=True)
    leased_until = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=300, blank=True, default="")
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="mail_with_site"),
            models.CheckConstraint(
                condition=Q(state="waiting", ended_at__isnull=True)
                | (~Q(state="waiting") & Q(ended_at__isnull=False)),
                name="mail_ended_unless_waiting",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["parked", "dropped"]) | ~Q(last_error=""),
                name="mail_given_up_says_why",
            ),
        ]
        indexes = [
            models.Index(
                fields=["-is_safety", "next_try_at"], condition=Q(state="waiting"), name="mail_waiting"
            ),
            models.Index(fields=["site", "-created_at", "-id"], name="mail_newest"),
        ]

    def __str__(self) -> str:
        return self.subject


class Notice(models.Model):
    """News for one person. Rows are only added; when it was seen and mailed is set once."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    news = models.ForeignKey(News, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    seen_at = models.DateTimeField(null=True)
    # From when on it may be mailed; null: never.
    mail_from_at = models.DateTimeField(null=True)
    mail = models.ForeignKey(Mail, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["news", "user"], name="notice_once_per_person")]
        indexes = [
            models.Index(fields=["user", "-at", "-id"], name="notice_newest"),
            models.Index(fields=["user", "site"], condition=Q(seen_at__isnull=True), name="notice_not_seen"),
            models.Index(
                fields=["site", "mail_from_at"],
                condition=Q(mail__isnull=True, seen_at__isnull=True, mail_from_at__isnull=False),
                name="notice_to_mail",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.news_id} to {self.user_id}"

    @property
    def taker(self) -> Any:
        """Return who sees to it, or None."""
        news = self.news
        return news.escalation.taken_by if news.escalation is not None else news.taken_by


class Preference(models.Model):
    """How one person wants to hear from one site. In the inbox everything stands anyway."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    mail = models.CharField(
        max_length=8, choices=[(w.value, w.value) for w in MailWish], default=MailWish.DAILY
    )
    digest_hour = models.PositiveSmallIntegerField(default=7)
    quiet_from_hour = models.PositiveSmallIntegerField(null=True, blank=True, default=21)
    quiet_until_hour = models.PositiveSmallIntegerField(null=True, blank=True, default=6)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "user"], name="preference_once_per_person"),
            models.CheckConstraint(
                condition=Q(digest_hour__lte=23)
                & (Q(quiet_from_hour__isnull=True) | Q(quiet_from_hour__lte=23))
                & (Q(quiet_until_hour__isnull=True) | Q(quiet_until_hour__lte=23)),
                name="preference_hours_of_a_day",
            ),
            models.CheckConstraint(
                condition=Q(quiet_from_hour__isnull=True, quiet_until_hour__isnull=True)
                | Q(quiet_from_hour__isnull=False, quiet_until_hour__isnull=False),
                name="preference_quiet_hours_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} at {self.site_id}: {self.mail}"


class NewsMark(models.Model):
    """How far a site's logbook has been told; its row lock lets one run tell at a time."""

    site = models.OneToOneField(Site, primary_key=True, on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.site_id} at {self.sequence}"
