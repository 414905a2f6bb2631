"""What is said of panels, who is qualified, who released an opening; what keeps an enclosure shut."""

import datetime as dt

import django.db.models.deletion
import django.db.models.expressions
from django.conf import settings
from django.db import migrations, models
from django.db.migrations import RunSQL

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site

TABLES = ["panelparticulars", "openingrelease", "electricalqualification"]
VOIDED_ONCE = ["void_at", "void_reason", "void_by_id"]

# The one place that says whether an enclosure is kept shut: the acts ask it, and so do the orders' laws.
KEPT_SHUT = """
CREATE FUNCTION plantcare_kept_shut(at_point uuid, moment timestamptz) RETURNS boolean
LANGUAGE sql STABLE AS $$
SELECT EXISTS (
    SELECT 1
    FROM findings_condition judged
    JOIN findings_finding finding
      ON finding.point_id = judged.point_id AND finding.kind = judged.kind
     AND finding.opened_at <= judged.at AND finding.status <> 'closed'
    WHERE judged.point_id = at_point AND judged.keeps_shut AND NOT EXISTS (
        SELECT 1
        FROM findings_openingrelease release
        WHERE release.point_id = judged.point_id AND release.void_at IS NULL
          AND release.at >= judged.recorded_at AND release.at <= moment AND release.until_at > moment
    )
)
$$;
"""

BY_THE_QUALIFIED = """
CREATE FUNCTION plantcare_released_by_the_qualified() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (
        SELECT 1
        FROM findings_electricalqualification held
        WHERE held.id = NEW.qualification_id AND held.site_id = NEW.site_id AND held.user_id = NEW.by_id
          AND held.void_at IS NULL AND held.at <= NEW.at AND held.until_at > NEW.at
    ) THEN
        RAISE EXCEPTION 'an opening is released by a qualified electrical person'
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'opening_release_by_the_qualified',
                  TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER by_the_qualified BEFORE INSERT ON findings_openingrelease
FOR EACH ROW EXECUTE FUNCTION plantcare_released_by_the_qualified();
"""

ANALYSIS_JUDGED_ONCE = """
CREATE UNIQUE INDEX condition_of_analysis_once ON findings_condition ((inputs ->> 'analysis_id'))
WHERE kind = 'electrical_discharge' AND source = 'recording';
"""
READING_JUDGED_ONCE = """
CREATE UNIQUE INDEX discharge_of_reading_once ON findings_condition (reading_id)
WHERE kind = 'electrical_discharge' AND source = 'reading';
"""


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0013_greasings"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ElectricalQualification",
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
                ("ground", models.CharField(max_length=300)),
                ("at", models.DateTimeField()),
                ("until_at", models.DateTimeField()),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "confirmed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
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
                (
                    "void_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="OpeningRelease",
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
                    "technique",
                    models.CharField(
                        choices=[
                            ("thermography", "thermography"),
                            ("ultraviolet_camera", "ultraviolet_camera"),
                            ("electrical_measurement", "electrical_measurement"),
                            ("radio_frequency", "radio_frequency"),
                            ("dead_and_proven", "dead_and_proven"),
                            ("other", "other"),
                        ],
                        max_length=24,
                    ),
                ),
                ("found", models.TextField()),
                ("conditions", models.TextField()),
                ("at", models.DateTimeField()),
                ("until_at", models.DateTimeField()),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "condition",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.condition",
                    ),
                ),
                (
                    "finding",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.finding"
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
                    "qualification",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.electricalqualification",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "void_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PanelParticulars",
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
                ("from_at", models.DateTimeField()),
                ("nominal_v", models.FloatField(blank=True, null=True)),
                ("mains_hz", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "enclosure",
                    models.CharField(
                        choices=[
                            ("switchgear", "switchgear"),
                            ("motor_control", "motor_control"),
                            ("cabinet", "cabinet"),
                            ("busbar_trunking", "busbar_trunking"),
                            ("terminal_box", "terminal_box"),
                            ("transformer_housing", "transformer_housing"),
                            ("other", "other"),
                        ],
                        max_length=24,
                    ),
                ),
                ("openings_to_scan", models.CharField(blank=True, default="", max_length=500)),
                ("approach_note", models.CharField(blank=True, default="", max_length=500)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_by", models.CharField(max_length=200)),
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
                    "void_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.AddIndex(
            model_name="electricalqualification",
            index=models.Index(fields=["user", "site"], name="qualification_by_person"),
        ),
        migrations.AddConstraint(
            model_name="electricalqualification",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="qualification_with_site"),
        ),
        migrations.AddConstraint(
            model_name="electricalqualification",
            constraint=models.CheckConstraint(
                condition=models.Q(("confirmed_by", models.F("user")), _negated=True),
                name="qualification_by_somebody_else",
            ),
        ),
        migrations.AddConstraint(
            model_name="electricalqualification",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("until_at__gt", models.F("at")),
                    (
                        "until_at__lte",
                        django.db.models.expressions.CombinedExpression(
                            models.F("at"), "+", models.Value(dt.timedelta(days=1098))
                        ),
                    ),
                ),
                name="qualification_has_a_term",
            ),
        ),
        migrations.AddConstraint(
            model_name="electricalqualification",
            constraint=models.CheckConstraint(
                condition=models.Q(("ground", ""), _negated=True), name="qualification_has_ground"
            ),
        ),
        migrations.AddConstraint(
            model_name="electricalqualification",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_at__isnull", True), ("void_by__isnull", True), ("void_reason", "")),
                    models.Q(
                        ("void_at__isnull", False),
                        ("void_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="qualification_void_has_reason",
            ),
        ),
        migrations.AddIndex(
            model_name="openingrelease",
            index=models.Index(fields=["point", "-at"], name="opening_release_by_point"),
        ),
        migrations.AddIndex(
            model_name="openingrelease",
            index=models.Index(fields=["finding"], name="opening_release_by_finding"),
        ),
        migrations.AddConstraint(
            model_name="openingrelease",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="opening_release_with_site"),
        ),
        migrations.AddConstraint(
            model_name="openingrelease",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("until_at__gt", models.F("at")),
                    (
                        "until_at__lte",
                        django.db.models.expressions.CombinedExpression(
                            models.F("at"), "+", models.Value(dt.timedelta(days=31))
                        ),
                    ),
                ),
                name="opening_release_has_a_term",
            ),
        ),
        migrations.AddConstraint(
            model_name="openingrelease",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("found", ""), _negated=True), models.Q(("conditions", ""), _negated=True)
                ),
                name="opening_release_says_what",
            ),
        ),
        migrations.AddConstraint(
            model_name="openingrelease",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_at__isnull", True), ("void_by__isnull", True), ("void_reason", "")),
                    models.Q(
                        ("void_at__isnull", False),
                        ("void_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="opening_release_void_has_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="panelparticulars",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="panel_particulars_with_site"),
        ),
        migrations.AddConstraint(
            model_name="panelparticulars",
            constraint=models.UniqueConstraint(
                condition=models.Q(("void_at__isnull", True)),
                fields=("point", "from_at"),
                name="panel_particulars_once_per_moment",
            ),
        ),
        migrations.AddConstraint(
            model_name="panelparticulars",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("nominal_v__isnull", True),
                    models.Q(("nominal_v__gt", 0), ("nominal_v__lte", 2000000.0)),
                    _connector="OR",
                ),
                name="panel_voltage_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="panelparticulars",
            constraint=models.CheckConstraint(
                condition=models.Q(("mains_hz__isnull", True), ("mains_hz__in", [50, 60]), _connector="OR"),
                name="panel_mains_50_or_60",
            ),
        ),
        migrations.AddConstraint(
            model_name="panelparticulars",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_at__isnull", True), ("void_by__isnull", True), ("void_reason", "")),
                    models.Q(
                        ("void_at__isnull", False),
                        ("void_by__isnull", False),
                        models.Q(("void_reason", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="panel_particulars_void_has_reason",
            ),
        ),
        *(only_added(f"findings_{table}", VOIDED_ONCE) for table in TABLES),
        *(same_site(f"findings_{table}", "point_id", "findings_measuringpoint") for table in TABLES[:2]),
        same_site("findings_openingrelease", "finding_id", "findings_finding"),
        same_site("findings_openingrelease", "condition_id", "findings_condition"),
        same_site("findings_openingrelease", "qualification_id", "findings_electricalqualification"),
        RunSQL(KEPT_SHUT, "DROP FUNCTION plantcare_kept_shut(uuid, timestamptz);"),
        RunSQL(
            BY_THE_QUALIFIED,
            "DROP TRIGGER by_the_qualified ON findings_openingrelease; "
            "DROP FUNCTION plantcare_released_by_the_qualified();",
        ),
        RunSQL(ANALYSIS_JUDGED_ONCE, "DROP INDEX condition_of_analysis_once;"),
        RunSQL(READING_JUDGED_ONCE, "DROP INDEX discharge_of_reading_once;"),
    ]
