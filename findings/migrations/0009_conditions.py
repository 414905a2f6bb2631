"""What was judged of a bearing, a panel or a seal; readings say what touched and how the machine ran."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0008_more_ways_to_measure"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Condition",
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
                        choices=[
                            ("pressure_leak", "pressure_leak"),
                            ("vacuum_leak", "vacuum_leak"),
                            ("enclosure_leak", "enclosure_leak"),
                            ("mechanical_wear", "mechanical_wear"),
                            ("electrical_discharge", "electrical_discharge"),
                        ],
                        max_length=24,
                    ),
                ),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("reading", "reading"),
                            ("recording", "recording"),
                            ("seam_walk", "seam_walk"),
                            ("inspector", "inspector"),
                        ],
                        max_length=12,
                    ),
                ),
                ("method", models.CharField(max_length=32)),
                ("method_version", models.CharField(max_length=16)),
                ("state", models.CharField(max_length=32)),
                ("severity", models.PositiveSmallIntegerField(null=True)),
                ("opens_finding", models.BooleanField()),
                ("order_due", models.BooleanField(null=True)),
                ("keeps_shut", models.BooleanField(default=False)),
                ("look_again_days", models.PositiveIntegerField(null=True)),
                ("figures", models.JSONField(default=dict)),
                ("inputs", models.JSONField(default=dict)),
                ("reasons", models.JSONField(default=list)),
                ("at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
            ],
        ),
        migrations.AddField(
            model_name="finding",
            name="condition_severity",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="greasing",
            field=models.CharField(
                blank=True,
                choices=[("before", "before"), ("during", "during"), ("after", "after")],
                default="",
                max_length=8,
            ),
        ),
        migrations.AddField(
            model_name="reading",
            name="load_share",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="probe",
            field=models.CharField(blank=True, default="", max_length=60),
        ),
        migrations.AddField(
            model_name="reading",
            name="shaft_speed_hz",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("shaft_speed_hz__isnull", True),
                    models.Q(("shaft_speed_hz__gte", 0), ("shaft_speed_hz__lte", 5000)),
                    _connector="OR",
                ),
                name="reading_shaft_speed_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("load_share__isnull", True),
                    models.Q(("load_share__gte", 0), ("load_share__lte", 1.5)),
                    _connector="OR",
                ),
                name="reading_load_plausible",
            ),
        ),
        migrations.AddField(
            model_name="condition",
            name="judged_by",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="condition",
            name="overrules",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="findings.condition",
            ),
        ),
        migrations.AddField(
            model_name="condition",
            name="point",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.measuringpoint"
            ),
        ),
        migrations.AddField(
            model_name="condition",
            name="reading",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.reading"
            ),
        ),
        migrations.AddField(
            model_name="condition",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
            ),
        ),
        migrations.AddField(
            model_name="finding",
            name="condition",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="findings.condition",
            ),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("condition_severity__isnull", True),
                    models.Q(
                        ("condition__isnull", False),
                        ("condition_severity__gte", 1),
                        ("condition_severity__lte", 5),
                    ),
                    _connector="OR",
                ),
                name="finding_condition_severity_1_to_5",
            ),
        ),
        migrations.AddIndex(
            model_name="condition",
            index=models.Index(fields=["point", "kind", "-at"], name="condition_by_point"),
        ),
        migrations.AddIndex(
            model_name="condition",
            index=models.Index(fields=["reading"], name="condition_by_reading"),
        ),
        migrations.AddConstraint(
            model_name="condition",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="condition_with_site"),
        ),
        migrations.AddConstraint(
            model_name="condition",
            constraint=models.UniqueConstraint(fields=("overrules",), name="condition_overruled_once"),
        ),
        migrations.AddConstraint(
            model_name="condition",
            constraint=models.CheckConstraint(
                condition=models.Q(("overrules", models.F("id")), _negated=True),
                name="condition_not_overruling_itself",
            ),
        ),
        migrations.AddConstraint(
            model_name="condition",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("severity__isnull", True),
                    models.Q(("severity__gte", 1), ("severity__lte", 5)),
                    _connector="OR",
                ),
                name="condition_severity_1_to_5",
            ),
        ),
        migrations.AddConstraint(
            model_name="condition",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("look_again_days__isnull", True), ("look_again_days__gte", 1), _connector="OR"
                ),
                name="condition_next_look_ahead",
            ),
        ),
        migrations.AddConstraint(
            model_name="condition",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("judged_by__isnull", False), ("source", "inspector")),
                    models.Q(
                        models.Q(("source", "inspector"), _negated=True),
                        ("judged_by__isnull", True),
                        ("overrules__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="condition_overruled_by_a_person",
            ),
        ),
        only_added("findings_condition", []),
        same_site("findings_condition", "point_id", "findings_measuringpoint"),
        same_site("findings_condition", "reading_id", "findings_reading"),
        same_site("findings_condition", "overrules_id", "findings_condition"),
        same_site("findings_finding", "condition_id", "findings_condition"),
    ]
