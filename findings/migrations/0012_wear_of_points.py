"""What is known of bearings, since when machines were good, and the sites' own ladders of wear."""

import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site

TOP_STEP_ACTS_AT_ONCE = """
ALTER TABLE findings_wearladder ADD CONSTRAINT wear_ladder_top_step_acts_at_once CHECK (
    jsonb_typeof(steps) = 'array' AND coalesce(steps -> -1 ->> 'one_reading', '') = 'true'
);
"""
NO_LAW_OF_STEPS = """
ALTER TABLE findings_wearladder DROP CONSTRAINT wear_ladder_top_step_acts_at_once;
"""


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("findings", "0011_seals"),
    ]

    operations = [
        migrations.CreateModel(
            name="BearingParticulars",
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
                    "bearing_type",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("ball", "ball"),
                            ("cylindrical_or_needle", "cylindrical_or_needle"),
                            ("spherical_tapered_or_thrust", "spherical_tapered_or_thrust"),
                        ],
                        default="",
                        max_length=32,
                    ),
                ),
                ("designation", models.CharField(blank=True, default="", max_length=60)),
                ("bore_m", models.FloatField(blank=True, null=True)),
                ("outer_diameter_m", models.FloatField(blank=True, null=True)),
                ("width_m", models.FloatField(blank=True, null=True)),
                ("elements", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("element_diameter_m", models.FloatField(blank=True, null=True)),
                ("pitch_diameter_m", models.FloatField(blank=True, null=True)),
                ("contact_angle_rad", models.FloatField(blank=True, null=True)),
                ("shaft_speed_hz", models.FloatField(blank=True, null=True)),
                ("speed_varies", models.BooleanField(blank=True, null=True)),
                ("grease_speed_limit_hz", models.FloatField(blank=True, null=True)),
                ("gear_teeth", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("vertical_shaft", models.BooleanField(blank=True, null=True)),
                (
                    "temperature_class",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("up_to_70_c", "up_to_70_c"),
                            ("up_to_85_c", "up_to_85_c"),
                            ("up_to_100_c", "up_to_100_c"),
                            ("up_to_120_c", "up_to_120_c"),
                        ],
                        default="",
                        max_length=16,
                    ),
                ),
                ("note", models.TextField(blank=True, default="")),
                ("source", models.CharField(max_length=300)),
                ("from_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
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
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("void_at__isnull", True)),
                        fields=("point", "from_at"),
                        name="bearing_once_per_moment",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("source", ""), _negated=True), name="bearing_names_its_source"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("bore_m__isnull", True),
                            ("outer_diameter_m__isnull", True),
                            models.Q(("bore_m__gt", 0), ("bore_m__lt", models.F("outer_diameter_m"))),
                            _connector="OR",
                        ),
                        name="bearing_bore_inside",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("shaft_speed_hz__isnull", True),
                            models.Q(("shaft_speed_hz__gt", 0), ("shaft_speed_hz__lte", 5000)),
                            _connector="OR",
                        ),
                        name="bearing_speed_plausible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("void_at__isnull", True), ("void_reason", "")),
                            models.Q(
                                ("void_at__isnull", False), models.Q(("void_reason", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="bearing_void_has_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="GoodState",
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
                    "cause",
                    models.CharField(
                        choices=[
                            ("new_bearing", "new_bearing"),
                            ("new_point", "new_point"),
                            ("confirmed_good", "confirmed_good"),
                        ],
                        max_length=16,
                    ),
                ),
                ("from_at", models.DateTimeField()),
                ("until_at", models.DateTimeField(blank=True, null=True)),
                ("reason", models.CharField(max_length=500)),
                ("actor_name", models.CharField(max_length=200)),
                ("recorded_at", models.DateTimeField()),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
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
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("void_at__isnull", True)),
                        fields=("point", "from_at"),
                        name="good_state_once_per_moment",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("until_at__isnull", True), ("until_at__gt", models.F("from_at")), _connector="OR"
                        ),
                        name="good_state_until_after_from",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason__regex", "\\S.{8,}\\S")), name="good_state_has_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("void_at__isnull", True), ("void_reason", "")),
                            models.Q(
                                ("void_at__isnull", False), models.Q(("void_reason", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="good_state_void_has_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WearLadder",
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
                ("steps", models.JSONField()),
                ("from_at", models.DateTimeField()),
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
                        fields=("site", "from_at"),
                        name="wear_ladder_once_per_moment",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("source", ""), _negated=True), name="wear_ladder_names_its_source"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("void_at__isnull", True), ("void_reason", "")),
                            models.Q(
                                ("void_at__isnull", False), models.Q(("void_reason", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="wear_ladder_void_has_reason",
                    ),
                ],
            },
        ),
        only_added("findings_bearingparticulars", ["void_at", "void_reason"]),
        same_site("findings_bearingparticulars", "point_id", "findings_measuringpoint"),
        only_added("findings_goodstate", ["void_at", "void_reason"]),
        same_site("findings_goodstate", "point_id", "findings_measuringpoint"),
        migrations.RunSQL(TOP_STEP_ACTS_AT_ONCE, NO_LAW_OF_STEPS),
        only_added("findings_wearladder", ["void_at", "void_reason"]),
    ]
