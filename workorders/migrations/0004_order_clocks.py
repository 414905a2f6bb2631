"""Service levels in working hours and by kind, what pauses a clock, and how each order ran and waited."""

from decimal import Decimal

import django.contrib.postgres.fields
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import kept, only_added, same_site

LAWS = """
ALTER TABLE workorders_clocksegment ADD CONSTRAINT clock_segment_one_at_a_time
    EXCLUDE USING gist (order_id WITH =, tstzrange(began_at, ended_at) WITH &&);
ALTER TABLE workorders_workorder ADD CONSTRAINT order_safety_day_and_night CHECK (
    NOT is_safety OR NOT jsonb_path_exists(promise, '$.*.unit ? (@ == "working_minutes")')
);
"""
DROP_LAWS = """
ALTER TABLE workorders_workorder DROP CONSTRAINT order_safety_day_and_night;
ALTER TABLE workorders_clocksegment DROP CONSTRAINT clock_segment_one_at_a_time;
"""
# When an older order was answered is known from its first repair on; the others stay unanswered.
ANSWERED = """
UPDATE workorders_workorder SET responded_at = coalesce(started_at, repaired_at)
    WHERE coalesce(started_at, repaired_at) IS NOT NULL;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0008_more_ways_to_measure"),
        ("workorders", "0003_working_calendars"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ClockSegment",
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
                ("began_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "wait_reason",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("parts", "parts"),
                            ("shutdown", "shutdown"),
                            ("access", "access"),
                            ("permit", "permit"),
                            ("trade", "trade"),
                        ],
                        default="",
                        max_length=16,
                    ),
                ),
                ("text", models.CharField(blank=True, default="", max_length=300)),
                (
                    "pauses",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(max_length=16), blank=True, default=list, size=None
                    ),
                ),
                ("pauses_until_at", models.DateTimeField(blank=True, null=True)),
                ("for_safety", models.BooleanField()),
                ("by_name", models.CharField(blank=True, default="", max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name="PauseRule",
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
                    "wait_reason",
                    models.CharField(
                        choices=[
                            ("parts", "parts"),
                            ("shutdown", "shutdown"),
                            ("access", "access"),
                            ("permit", "permit"),
                            ("trade", "trade"),
                        ],
                        max_length=16,
                    ),
                ),
                ("for_safety", models.BooleanField()),
                (
                    "pauses",
                    django.contrib.postgres.fields.ArrayField(
                        base_field=models.CharField(max_length=16), blank=True, default=list, size=None
                    ),
                ),
                ("source", models.CharField(max_length=300)),
                ("version", models.PositiveIntegerField(default=1)),
                ("created_at", models.DateTimeField()),
            ],
        ),
        migrations.RemoveConstraint(
            model_name="servicelevel",
            name="service_level_once_per_priority",
        ),
        migrations.RemoveConstraint(
            model_name="servicelevel",
            name="service_level_hours_or_days",
        ),
        migrations.AddField(
            model_name="servicelevel",
            name="kind",
            field=models.CharField(
                blank=True,
                choices=[
                    ("pressure_leak", "pressure_leak"),
                    ("vacuum_leak", "vacuum_leak"),
                    ("enclosure_leak", "enclosure_leak"),
                    ("mechanical_wear", "mechanical_wear"),
                    ("electrical_discharge", "electrical_discharge"),
                ],
                default="",
                max_length=24,
            ),
        ),
        migrations.AddField(
            model_name="servicelevel",
            name="repair_working_hours",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True),
        ),
        migrations.AddField(
            model_name="servicelevel",
            name="respond_days",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="servicelevel",
            name="respond_working_hours",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True),
        ),
        migrations.AddField(
            model_name="servicelevel",
            name="verify_hours",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True),
        ),
        migrations.AddField(
            model_name="servicelevel",
            name="verify_working_hours",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True),
        ),
        migrations.AddField(
            model_name="workorder",
            name="clock_paused_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="workorder",
            name="clock_paused_until_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="workorder",
            name="promise",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name="workorder",
            name="responded_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="servicelevel",
            name="respond_hours",
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=8, null=True),
        ),
        migrations.AlterField(
            model_name="servicelevel",
            name="verify_days",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name="servicelevel",
            constraint=models.UniqueConstraint(
                fields=("site", "priority", "kind"), name="service_level_once_per_priority_and_kind"
            ),
        ),
        migrations.AddConstraint(
            model_name="servicelevel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("respond_days__isnull", True),
                        ("respond_hours__isnull", False),
                        ("respond_working_hours__isnull", True),
                    ),
                    models.Q(
                        ("respond_days__isnull", True),
                        ("respond_hours__isnull", True),
                        ("respond_working_hours__isnull", False),
                    ),
                    models.Q(
                        ("respond_days__isnull", False),
                        ("respond_hours__isnull", True),
                        ("respond_working_hours__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="service_level_one_respond_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="servicelevel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("repair_days__isnull", True),
                        ("repair_hours__isnull", False),
                        ("repair_working_hours__isnull", True),
                    ),
                    models.Q(
                        ("repair_days__isnull", True),
                        ("repair_hours__isnull", True),
                        ("repair_working_hours__isnull", False),
                    ),
                    models.Q(
                        ("repair_days__isnull", False),
                        ("repair_hours__isnull", True),
                        ("repair_working_hours__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="service_level_one_repair_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="servicelevel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("verify_days__isnull", True),
                        ("verify_hours__isnull", False),
                        ("verify_working_hours__isnull", True),
                    ),
                    models.Q(
                        ("verify_days__isnull", True),
                        ("verify_hours__isnull", True),
                        ("verify_working_hours__isnull", False),
                    ),
                    models.Q(
                        ("verify_days__isnull", False),
                        ("verify_hours__isnull", True),
                        ("verify_working_hours__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="service_level_one_verify_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="servicelevel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("priority", "P1"), _negated=True),
                    models.Q(
                        ("respond_hours__isnull", False),
                        ("respond_hours__lte", Decimal("0.25")),
                        models.Q(
                            models.Q(("repair_hours__isnull", False), ("repair_hours__lte", 24)),
                            models.Q(("repair_days__isnull", False), ("repair_days__lte", 1)),
                            _connector="OR",
                        ),
                        models.Q(
                            models.Q(("verify_days__isnull", False), ("verify_days__lte", 1)),
                            models.Q(("verify_hours__isnull", False), ("verify_hours__lte", 24)),
                            _connector="OR",
                        ),
                    ),
                    _connector="OR",
                ),
                name="service_level_p1_limit",
            ),
        ),
        migrations.AddConstraint(
            model_name="servicelevel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("priority", "P2"), _negated=True),
                    models.Q(
                        ("respond_hours__isnull", False),
                        ("respond_hours__lte", Decimal("4")),
                        models.Q(
                            models.Q(("repair_hours__isnull", False), ("repair_hours__lte", 360)),
                            models.Q(("repair_days__isnull", False), ("repair_days__lte", 15)),
                            _connector="OR",
                        ),
                        models.Q(
                            models.Q(("verify_days__isnull", False), ("verify_days__lte", 7)),
                            models.Q(("verify_hours__isnull", False), ("verify_hours__lte", 168)),
                            _connector="OR",
                        ),
                    ),
                    _connector="OR",
                ),
                name="service_level_p2_limit",
            ),
        ),
        migrations.AddConstraint(
            model_name="workorder",
            constraint=models.CheckConstraint(
                condition=models.Q(("clock_paused_at__isnull", True), ("state", "waiting"), _connector="OR"),
                name="order_paused_while_waiting",
            ),
        ),
        migrations.AddField(
            model_name="clocksegment",
            name="order",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="workorders.workorder"
            ),
        ),
        migrations.AddField(
            model_name="clocksegment",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
            ),
        ),
        migrations.AddField(
            model_name="clocksegment",
            name="user",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="pauserule",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
            ),
        ),
        migrations.AddIndex(
            model_name="clocksegment",
            index=models.Index(fields=["order", "began_at"], name="clock_segment_by_order"),
        ),
        migrations.AddConstraint(
            model_name="clocksegment",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at__isnull", True)),
                fields=("order",),
                name="clock_segment_one_goes_on",
            ),
        ),
        migrations.AddConstraint(
            model_name="clocksegment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("ended_at__isnull", True), ("ended_at__gte", models.F("began_at")), _connector="OR"
                ),
                name="clock_segment_ends_after_it_begins",
            ),
        ),
        migrations.AddConstraint(
            model_name="clocksegment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("pauses", []), models.Q(("wait_reason", ""), _negated=True), _connector="OR"
                ),
                name="clock_segment_pauses_for_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="clocksegment",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("for_safety", False),
                    ("pauses", []),
                    models.Q(("pauses_until_at__isnull", False), ("wait_reason", "shutdown")),
                    _connector="OR",
                ),
                name="clock_segment_safety_to_a_shutdown",
            ),
        ),
        migrations.AddConstraint(
            model_name="pauserule",
            constraint=models.UniqueConstraint(
                fields=("site", "wait_reason", "for_safety"), name="pause_rule_once_per_reason"
            ),
        ),
        migrations.AddConstraint(
            model_name="pauserule",
            constraint=models.CheckConstraint(
                condition=models.Q(("pauses__contained_by", ["repair", "verify"])),
                name="pause_rule_of_clocks_that_may",
            ),
        ),
        migrations.AddConstraint(
            model_name="pauserule",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("for_safety", False),
                    ("pauses", []),
                    models.Q(("pauses__contained_by", ["repair"]), ("wait_reason", "shutdown")),
                    _connector="OR",
                ),
                name="pause_rule_safety_for_a_shutdown",
            ),
        ),
        migrations.RunSQL(LAWS, DROP_LAWS),
        same_site("workorders_clocksegment", "order_id", "workorders_workorder"),
        only_added("workorders_clocksegment", ["ended_at"]),
        kept("workorders_pauserule"),
        migrations.RunSQL(ANSWERED, migrations.RunSQL.noop),
    ]
