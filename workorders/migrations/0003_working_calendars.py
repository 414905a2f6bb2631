"""Working weeks and a site's own days: rows that are only added, and voided once."""

import django.db.models.deletion
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added

LISTS = """
ALTER TABLE workorders_workingweek ADD CONSTRAINT working_week_holds_shifts CHECK (
    CASE WHEN jsonb_typeof(shifts) = 'array' THEN jsonb_array_length(shifts) BETWEEN 1 AND 40 ELSE false END
);
ALTER TABLE workorders_siteday ADD CONSTRAINT site_day_lists_shifts CHECK (jsonb_typeof(shifts) = 'array');
"""
DROP_LISTS = """
ALTER TABLE workorders_siteday DROP CONSTRAINT site_day_lists_shifts;
ALTER TABLE workorders_workingweek DROP CONSTRAINT working_week_holds_shifts;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0008_more_ways_to_measure"),
        ("workorders", "0002_laws"),
    ]

    operations = [
        migrations.CreateModel(
            name="SiteDay",
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
                    "kind",
                    models.CharField(
                        choices=[("closed", "closed"), ("worked", "worked"), ("shutdown", "shutdown")],
                        max_length=8,
                    ),
                ),
                ("first_on", models.DateField()),
                ("last_on", models.DateField()),
                ("name", models.CharField(max_length=120)),
                ("shifts", models.JSONField(blank=True, default=list)),
                ("recorded_at", models.DateTimeField()),
                ("source", models.CharField(max_length=300)),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["site", "first_on"], name="site_day_by_day")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("void_at__isnull", True)),
                        fields=("site", "kind", "first_on"),
                        name="site_day_once_per_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("last_on__gte", models.F("first_on"))),
                        name="site_day_ends_after_it_begins",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True), name="site_day_has_a_name"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("source", ""), _negated=True), name="site_day_names_its_source"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("kind", "worked"), ("shifts", []), _connector="OR"),
                        name="site_day_hours_where_worked",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("void_at__isnull", True),
                            models.Q(("void_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="site_day_void_has_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WorkingWeek",
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
                ("from_on", models.DateField()),
                ("shifts", models.JSONField()),
                ("country", models.CharField(blank=True, default="", max_length=2)),
                ("subdivision", models.CharField(blank=True, default="", max_length=6)),
                ("known_until_on", models.DateField()),
                ("recorded_at", models.DateTimeField()),
                ("source", models.CharField(max_length=300)),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("void_at__isnull", True)),
                        fields=("site", "from_on"),
                        name="working_week_once_per_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("source", ""), _negated=True),
                        name="working_week_names_its_source",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("known_until_on__gte", models.F("from_on"))),
                        name="working_week_known_for_a_time",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("subdivision", ""), models.Q(("country", ""), _negated=True), _connector="OR"
                        ),
                        name="working_week_part_of_a_country",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("void_at__isnull", True),
                            models.Q(("void_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="working_week_void_has_reason",
                    ),
                ],
            },
        ),
        migrations.RunSQL(LISTS, DROP_LISTS),
        only_added("workorders_workingweek", ["void_at", "void_reason"]),
        only_added("workorders_siteday", ["void_at", "void_reason"]),
    ]
