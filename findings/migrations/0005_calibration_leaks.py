"""Readings say what the sound came through; leaks whose level and flow are both known; no money of a guess."""

import django.db.models.deletion
import django.db.models.expressions
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site

NO_MONEY_OF_A_GUESS = """
CREATE FUNCTION plantcare_segment_of_a_figure() RETURNS trigger LANGUAGE plpgsql AS $$
-- An indicative assessment is an order of magnitude: no loss, and so no money, rests on it.
BEGIN
    IF NEW.assessment_id IS NOT NULL AND EXISTS (
        SELECT 1 FROM findings_assessment a WHERE a.id = NEW.assessment_id AND a.status = 'indicative'
    ) THEN
        RAISE EXCEPTION 'no loss is made of an indicative leak rate'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'segment_not_indicative', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER segment_of_a_figure BEFORE INSERT ON findings_losssegment
    FOR EACH ROW EXECUTE FUNCTION plantcare_segment_of_a_figure();
"""
NO_LAW_OF_MONEY = """
DROP TRIGGER segment_of_a_figure ON findings_losssegment;
DROP FUNCTION plantcare_segment_of_a_figure();
"""


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0004_standing_assessments"),
    ]

    operations = [
        migrations.CreateModel(
            name="CalibrationLeak",
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
                    "attachment",
                    models.CharField(choices=[("open_horn", "open_horn"), ("dish", "dish")], max_length=16),
                ),
                (
                    "gas",
                    models.CharField(
                        choices=[
                            ("air", "air"),
                            ("nitrogen", "nitrogen"),
                            ("oxygen", "oxygen"),
                            ("argon", "argon"),
                            ("carbon_dioxide", "carbon_dioxide"),
                            ("hydrogen", "hydrogen"),
                            ("helium", "helium"),
                            ("methane", "methane"),
                            ("propane", "propane"),
                        ],
                        max_length=24,
                    ),
                ),
                (
                    "leak_family",
                    models.CharField(
                        choices=[
                            ("hole", "hole"),
                            ("slot", "slot"),
                            ("thread", "thread"),
                            ("packing", "packing"),
                            ("unknown", "unknown"),
                        ],
                        max_length=12,
                    ),
                ),
                ("taken_at", models.DateTimeField()),
                ("level_db", models.FloatField()),
                ("background_db", models.FloatField(blank=True, null=True)),
                ("distance_m", models.FloatField()),
                ("band_centre_hz", models.FloatField(blank=True, null=True)),
                ("air_temperature_k", models.FloatField(blank=True, null=True)),
                ("relative_humidity", models.FloatField(blank=True, null=True)),
                ("air_pressure_pa", models.FloatField()),
                ("normalised_level_db", models.FloatField()),
                ("pressure_ratio", models.FloatField()),
                ("flow_m3_per_s", models.FloatField()),
                ("flow_u_m3_per_s", models.FloatField()),
                (
                    "flow_method",
                    models.CharField(
                        choices=[
                            ("bag", "bag"),
                            ("flow_meter", "flow_meter"),
                            ("pressure_decay", "pressure_decay"),
                        ],
                        max_length=24,
                    ),
                ),
                ("note", models.TextField(blank=True, default="")),
                ("recorded_at", models.DateTimeField()),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
            ],
        ),
        migrations.AddField(
            model_name="reading",
            name="air_temperature_k",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="attachment",
            field=models.CharField(
                blank=True,
                choices=[("open_horn", "open_horn"), ("dish", "dish"), ("contact_probe", "contact_probe")],
                default="",
                max_length=16,
            ),
        ),
        migrations.AddField(
            model_name="reading",
            name="band_centre_hz",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="reading",
            name="leak_family",
            field=models.CharField(
                blank=True,
                choices=[
                    ("hole", "hole"),
                    ("slot", "slot"),
                    ("thread", "thread"),
                    ("packing", "packing"),
                    ("unknown", "unknown"),
                ],
                default="",
                max_length=12,
            ),
        ),
        migrations.AddField(
            model_name="reading",
            name="relative_humidity",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("leak_rate_status", "indicative"), _negated=True),
                    models.Q(
                        ("leak_rate_high_m3_per_s__isnull", False),
                        ("leak_rate_low_m3_per_s__isnull", False),
                        ("leak_rate_m3_per_s__isnull", True),
                    ),
                    _connector="OR",
                ),
                name="finding_indicative_is_an_interval",
            ),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("air_temperature_k__isnull", True),
                    models.Q(("air_temperature_k__gte", 220), ("air_temperature_k__lte", 340)),
                    _connector="OR",
                ),
                name="reading_air_temperature_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("relative_humidity__isnull", True),
                    models.Q(("relative_humidity__gte", 0), ("relative_humidity__lte", 1)),
                    _connector="OR",
                ),
                name="reading_humidity_a_share",
            ),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("band_centre_hz__isnull", True),
                    models.Q(("band_centre_hz__gte", 1000), ("band_centre_hz__lte", 200000)),
                    _connector="OR",
                ),
                name="reading_band_plausible",
            ),
        ),
        migrations.AddField(
            model_name="calibrationleak",
            name="instrument",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.instrument"
            ),
        ),
        migrations.AddField(
            model_name="calibrationleak",
            name="reading",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="findings.reading",
            ),
        ),
        migrations.AddField(
            model_name="calibrationleak",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
            ),
        ),
        migrations.AddIndex(
            model_name="calibrationleak",
            index=models.Index(
                fields=["instrument", "-taken_at", "-id"], name="calibration_leak_of_instrument"
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.UniqueConstraint(fields=("reading",), name="calibration_leak_once_per_reading"),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("level_db__gte", -40),
                    ("level_db__lte", 200),
                    ("normalised_level_db__gte", -40),
                    ("normalised_level_db__lte", 200),
                ),
                name="calibration_leak_level_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("background_db__isnull", True),
                    (
                        "level_db__gte",
                        django.db.models.expressions.CombinedExpression(
                            models.F("background_db"), "+", models.Value(3)
                        ),
                    ),
                    _connector="OR",
                ),
                name="calibration_leak_above_background",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(("distance_m__gte", 0.1), ("distance_m__lte", 20)),
                name="calibration_leak_distance_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("air_pressure_pa__gt", 0), ("pressure_ratio__gt", 1), ("pressure_ratio__lte", 400)
                ),
                name="calibration_leak_under_pressure",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("flow_m3_per_s__gt", 0),
                    ("flow_m3_per_s__lte", 100),
                    ("flow_u_m3_per_s__gt", 0),
                    (
                        "flow_u_m3_per_s__lte",
                        django.db.models.expressions.CombinedExpression(
                            models.F("flow_m3_per_s"), "*", models.Value(0.3)
                        ),
                    ),
                ),
                name="calibration_leak_flow_measured",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(("attachment__in", ["open_horn", "dish"])),
                name="calibration_leak_heard_through_air",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(("flow_method__in", ["bag", "flow_meter", "pressure_decay"])),
                name="calibration_leak_method_direct",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("air_temperature_k__isnull", True),
                    models.Q(("air_temperature_k__gte", 220), ("air_temperature_k__lte", 340)),
                    _connector="OR",
                ),
                name="calibration_leak_air_temperature",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("relative_humidity__isnull", True),
                    models.Q(("relative_humidity__gte", 0), ("relative_humidity__lte", 1)),
                    _connector="OR",
                ),
                name="calibration_leak_humidity_a_share",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("band_centre_hz__isnull", True),
                    models.Q(("band_centre_hz__gte", 1000), ("band_centre_hz__lte", 200000)),
                    _connector="OR",
                ),
                name="calibration_leak_band_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_at__isnull", True), ("void_reason", "")),
                    models.Q(("void_at__isnull", False), models.Q(("void_reason", ""), _negated=True)),
                    _connector="OR",
                ),
                name="calibration_leak_void_has_reason",
            ),
        ),
        only_added("findings_calibrationleak", ["void_at", "void_reason"]),
        same_site("findings_calibrationleak", "instrument_id", "findings_instrument"),
        same_site("findings_calibrationleak", "reading_id", "findings_reading"),
        migrations.RunSQL(NO_MONEY_OF_A_GUESS, NO_LAW_OF_MONEY),
    ]
