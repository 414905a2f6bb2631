"""Grease that was given by ear, and how the level answered."""

import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("findings", "0012_wear_of_points"),
    ]

    operations = [
        migrations.CreateModel(
            name="Greasing",
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
                ("grease_kg", models.FloatField()),
                ("during_grease_kg", models.FloatField(blank=True, null=True)),
                ("rose_during", models.BooleanField(default=False)),
                ("grease_name", models.CharField(blank=True, default="", max_length=120)),
                ("at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
                ("actor_name", models.CharField(max_length=200)),
                ("note", models.TextField(blank=True, default="")),
                ("method", models.CharField(max_length=48)),
                ("method_version", models.CharField(max_length=16)),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("not_determined", "not_determined"),
                            ("under_way", "under_way"),
                            ("back_at_baseline", "back_at_baseline"),
                            ("lower", "lower"),
                            ("unchanged", "unchanged"),
                            ("higher", "higher"),
                        ],
                        max_length=24,
                    ),
                ),
                (
                    "advice",
                    models.CharField(
                        choices=[
                            ("add_a_portion", "add_a_portion"),
                            ("stop_and_read_again", "stop_and_read_again"),
                            ("done", "done"),
                            ("inspect", "inspect"),
                            ("ask", "ask"),
                        ],
                        max_length=24,
                    ),
                ),
                ("change_db", models.FloatField(blank=True, null=True)),
                ("change_low_db", models.FloatField(blank=True, null=True)),
                ("change_high_db", models.FloatField(blank=True, null=True)),
                ("charge_kg", models.FloatField(blank=True, null=True)),
                ("left_kg", models.FloatField(blank=True, null=True)),
                ("reasons", models.JSONField(default=list)),
                ("inputs", models.JSONField()),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "after",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.reading"
                    ),
                ),
                (
                    "before",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.reading"
                    ),
                ),
                (
                    "during",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.reading",
                    ),
                ),
                (
                    "point",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.measuringpoint",
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
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["point", "-at"], name="greasing_of_point")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("void_at__isnull", True)),
                        fields=("after",),
                        name="greasing_once_per_reading",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("grease_kg__gte", 0),
                            ("grease_kg__lte", 100),
                            models.Q(
                                ("during_grease_kg__isnull", True),
                                ("during_grease_kg__lte", models.F("grease_kg")),
                                _connector="OR",
                            ),
                        ),
                        name="greasing_mass_plausible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("before", models.F("after")), _negated=True),
                            models.Q(("before", models.F("during")), _negated=True),
                            models.Q(("during", models.F("after")), _negated=True),
                        ),
                        name="greasing_of_different_readings",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("void_at__isnull", True), ("void_reason", "")),
                            models.Q(
                                ("void_at__isnull", False), models.Q(("void_reason", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="greasing_void_has_reason",
                    ),
                ],
            },
        ),
        only_added("findings_greasing", ["void_at", "void_reason"]),
        same_site("findings_greasing", "point_id", "findings_measuringpoint"),
        same_site("findings_greasing", "before_id", "findings_reading"),
        same_site("findings_greasing", "during_id", "findings_reading"),
        same_site("findings_greasing", "after_id", "findings_reading"),
    ]
