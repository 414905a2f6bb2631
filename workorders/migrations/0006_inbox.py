"""News of a site, notices of it to people, what they wish, and the mails that go out; with their laws."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import kept, only_added, same_site

# What is told comes out of the logbook: the place in the chain names an entry of the same site.
FROM_THE_LOGBOOK = """
ALTER TABLE workorders_news ADD CONSTRAINT news_names_its_entry FOREIGN KEY (site_id, sequence)
    REFERENCES findings_entry (site_id, sequence) DEFERRABLE INITIALLY DEFERRED;
"""
ONLY_ADDED = {
    "workorders_news": ["taken_by_id", "taken_at"],
    "workorders_notice": ["seen_at", "mail_id"],
}
KEPT = ["workorders_mail", "workorders_preference", "workorders_newsmark"]
SAME_SITE = [
    ("workorders_news", "finding_id", "findings_finding"),
    ("workorders_news", "order_id", "workorders_workorder"),
    ("workorders_news", "escalation_id", "workorders_escalation"),
    ("workorders_notice", "news_id", "workorders_news"),
    ("workorders_notice", "mail_id", "workorders_mail"),
]


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0008_more_ways_to_measure"),
        ("workorders", "0005_openings_released"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddConstraint(
            model_name="escalation",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="escalation_with_site"),
        ),
        migrations.CreateModel(
            name="NewsMark",
            fields=[
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        primary_key=True,
                        related_name="+",
                        serialize=False,
                        to="findings.site",
                    ),
                ),
                ("sequence", models.PositiveBigIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="Mail",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=plantcare.api.identifiers.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                ("message_id", models.CharField(max_length=320, unique=True)),
                ("is_safety", models.BooleanField(default=False)),
                ("subject", models.CharField(max_length=200)),
                ("text", models.TextField()),
                ("html", models.TextField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting"),
                            ("sent", "sent"),
                            ("parked", "parked"),
                            ("dropped", "dropped"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("next_try_at", models.DateTimeField()),
                ("lease", models.UUIDField(blank=True, null=True)),
                ("leased_until", models.DateTimeField(blank=True, null=True)),
                ("last_error", models.CharField(blank=True, default="", max_length=300)),
                ("version", models.PositiveIntegerField(default=1)),
                ("created_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="News",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=plantcare.api.identifiers.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                ("sequence", models.PositiveBigIntegerField()),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("escalated", "escalated"),
                            ("safety_found", "safety_found"),
                            ("worsened", "worsened"),
                            ("assigned", "assigned"),
                            ("resumed", "resumed"),
                            ("repair_failed", "repair_failed"),
                            ("deferral_asked", "deferral_asked"),
                            ("deferral_answered", "deferral_answered"),
                            ("deferral_ending", "deferral_ending"),
                            ("deferral_ended", "deferral_ended"),
                            ("month_closed", "month_closed"),
                        ],
                        max_length=24,
                    ),
                ),
                ("is_safety", models.BooleanField(default=False)),
                ("month_on", models.DateField(null=True)),
                ("headline", models.CharField(max_length=300)),
                ("todo", models.CharField(max_length=300)),
                ("at", models.DateTimeField()),
                ("taken_at", models.DateTimeField(null=True)),
                (
                    "escalation",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workorders.escalation",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.finding",
                    ),
                ),
                (
                    "order",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workorders.workorder",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "taken_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "news",
            },
        ),
        migrations.CreateModel(
            name="Notice",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=plantcare.api.identifiers.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("seen_at", models.DateTimeField(null=True)),
                ("mail_from_at", models.DateTimeField(null=True)),
                (
                    "mail",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="workorders.mail",
                    ),
                ),
                (
                    "news",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workorders.news"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Preference",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=plantcare.api.identifiers.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                (
                    "mail",
                    models.CharField(
                        choices=[("off", "off"), ("daily", "daily"), ("at_once", "at_once")],
                        default="daily",
                        max_length=8,
                    ),
                ),
                ("digest_hour", models.PositiveSmallIntegerField(default=7)),
                ("quiet_from_hour", models.PositiveSmallIntegerField(blank=True, default=21, null=True)),
                ("quiet_until_hour", models.PositiveSmallIntegerField(blank=True, default=6, null=True)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.AddIndex(
            model_name="mail",
            index=models.Index(
                condition=models.Q(("state", "waiting")),
                fields=["-is_safety", "next_try_at"],
                name="mail_waiting",
            ),
        ),
        migrations.AddIndex(
            model_name="mail",
            index=models.Index(fields=["site", "-created_at", "-id"], name="mail_newest"),
        ),
        migrations.AddConstraint(
            model_name="mail",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="mail_with_site"),
        ),
        migrations.AddConstraint(
            model_name="mail",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended_at__isnull", True), ("state", "waiting")),
                    models.Q(models.Q(("state", "waiting"), _negated=True), ("ended_at__isnull", False)),
                    _connector="OR",
                ),
                name="mail_ended_unless_waiting",
            ),
        ),
        migrations.AddConstraint(
            model_name="mail",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state__in", ["parked", "dropped"]), _negated=True),
                    models.Q(("last_error", ""), _negated=True),
                    _connector="OR",
                ),
                name="mail_given_up_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="news",
            constraint=models.UniqueConstraint(fields=("site", "sequence"), name="news_once_per_entry"),
        ),
        migrations.AddConstraint(
            model_name="news",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="news_with_site"),
        ),
        migrations.AddConstraint(
            model_name="news",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("taken_at__isnull", True), ("taken_by__isnull", True)),
                    models.Q(("taken_at__isnull", False), ("taken_by__isnull", False)),
                    _connector="OR",
                ),
                name="news_taken_whole",
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(fields=["user", "-at", "-id"], name="notice_newest"),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                condition=models.Q(("seen_at__isnull", True)), fields=["user", "site"], name="notice_not_seen"
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(
                condition=models.Q(
                    ("mail__isnull", True), ("mail_from_at__isnull", False), ("seen_at__isnull", True)
                ),
                fields=["site", "mail_from_at"],
                name="notice_to_mail",
            ),
        ),
        migrations.AddConstraint(
            model_name="notice",
            constraint=models.UniqueConstraint(fields=("news", "user"), name="notice_once_per_person"),
        ),
        migrations.AddConstraint(
            model_name="preference",
            constraint=models.UniqueConstraint(fields=("site", "user"), name="preference_once_per_person"),
        ),
        migrations.AddConstraint(
            model_name="preference",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("digest_hour__lte", 23),
                    models.Q(
                        ("quiet_from_hour__isnull", True), ("quiet_from_hour__lte", 23), _connector="OR"
                    ),
                    models.Q(
                        ("quiet_until_hour__isnull", True), ("quiet_until_hour__lte", 23), _connector="OR"
                    ),
                ),
                name="preference_hours_of_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="preference",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("quiet_from_hour__isnull", True), ("quiet_until_hour__isnull", True)),
                    models.Q(("quiet_from_hour__isnull", False), ("quiet_until_hour__isnull", False)),
                    _connector="OR",
                ),
                name="preference_quiet_hours_whole",
            ),
        ),
        migrations.RunSQL(
            FROM_THE_LOGBOOK, "ALTER TABLE workorders_news DROP CONSTRAINT news_names_its_entry;"
        ),
        *(only_added(table, columns) for table, columns in ONLY_ADDED.items()),
        *(kept(table) for table in KEPT),
        *(same_site(*row) for row in SAME_SITE),
    ]
