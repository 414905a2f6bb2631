"""Secret addresses at which a person's calendar reads the work; only their digests are kept."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added


class Migration(migrations.Migration):
    dependencies = [
        ("workorders", "0006_inbox"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="CalendarFeed",
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
                ("scope", models.CharField(choices=[("mine", "mine"), ("site", "site")], max_length=8)),
                ("name", models.CharField(max_length=100)),
                ("prefix", models.CharField(max_length=12, unique=True)),
                ("digest", models.BinaryField(max_length=32)),
                ("created_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(null=True)),
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
            options={
                "indexes": [
                    models.Index(fields=["user", "site", "-created_at"], name="calendar_feed_by_person")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("revoked_at__isnull", True),
                            ("revoked_at__gte", models.F("created_at")),
                            _connector="OR",
                        ),
                        name="calendar_feed_revoked_after_made",
                    )
                ],
            },
        ),
        only_added("workorders_calendarfeed", ["revoked_at"]),
    ]
