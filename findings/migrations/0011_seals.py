"""Seams, walks along them with a tone source inside, their places and what each walk came to."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site

TABLES = ["findings_seam", "findings_seamwalk", "findings_seamplace", "findings_seamresult"]
SAME_SITE = [
    ("findings_seam", "point_id", "findings_measuringpoint"),
    ("findings_seamwalk", "seam_id", "findings_seam"),
    ("findings_seamwalk", "survey_id", "findings_survey"),
    ("findings_seamwalk", "instrument_id", "findings_instrument"),
    ("findings_seamwalk", "corrects_id", "findings_seamwalk"),
    ("findings_seamplace", "walk_id", "findings_seamwalk"),
    ("findings_seamresult", "walk_id", "findings_seamwalk"),
    ("findings_seamresult", "reading_id", "findings_reading"),
]
PLACES = """
CREATE FUNCTION plantcare_seam_place() RETURNS trigger LANGUAGE plpgsql AS $$
-- A place lies on its seam, and none comes to a walk that was judged. The lock makes a judgement and a new
-- place of one walk wait for each other.
DECLARE
    length_m double precision;
BEGIN
    SELECT s.length_m INTO length_m FROM findings_seamwalk w JOIN findings_seam s ON s.id = w.seam_id
        WHERE w.id = NEW.walk_id FOR SHARE OF w;
    IF NEW.position_m > length_m THEN
        RAISE EXCEPTION 'the place lies off the seam'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'seam_place_on_the_seam', TABLE = TG_TABLE_NAME;
    END IF;
    IF EXISTS (SELECT 1 FROM findings_seamresult r WHERE r.walk_id = NEW.walk_id) THEN
        RAISE EXCEPTION 'the walk is finished'
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'seam_place_of_a_finished_walk',
                  TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER seam_place BEFORE INSERT ON findings_seamplace
    FOR EACH ROW EXECUTE FUNCTION plantcare_seam_place();
"""
NO_PLACES = "DROP TRIGGER seam_place ON findings_seamplace; DROP FUNCTION plantcare_seam_place();"
RESULTS = """
CREATE FUNCTION plantcare_seam_result() RETURNS trigger LANGUAGE plpgsql AS $$
-- A source too weak lets nothing pass; the reading of a walk was taken at its seam, when it ended.
DECLARE
    walk record;
BEGIN
    SELECT w.nothing_can_pass, w.begun_at, s.point_id INTO walk
        FROM findings_seamwalk w JOIN findings_seam s ON s.id = w.seam_id WHERE w.id = NEW.walk_id;
    IF walk.nothing_can_pass AND NEW.verdict NOT IN ('fail', 'not_determined') THEN
        RAISE EXCEPTION 'nothing passes with a source too weak'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'seam_result_of_a_weak_source',
                  TABLE = TG_TABLE_NAME;
    END IF;
    IF NEW.finished_at < walk.begun_at OR NOT EXISTS (
        SELECT 1 FROM findings_reading r
        WHERE r.id = NEW.reading_id AND r.point_id = walk.point_id AND r.taken_at = NEW.finished_at
    ) THEN
        RAISE EXCEPTION 'the reading is none of this walk'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'seam_result_of_its_reading',
                  TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER seam_result BEFORE INSERT ON findings_seamresult
    FOR EACH ROW EXECUTE FUNCTION plantcare_seam_result();
"""
NO_RESULTS = "DROP TRIGGER seam_result ON findings_seamresult; DROP FUNCTION plantcare_seam_result();"


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0010_recordings"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Seam",
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
                ("recorded_at", models.DateTimeField()),
                ("shape", models.CharField(choices=[("ring", "ring"), ("line", "line")], max_length=8)),
                ("length_m", models.FloatField()),
                ("outline", models.JSONField(blank=True, default=dict)),
                ("source_description", models.CharField(max_length=200)),
                ("source_band_centre_hz", models.FloatField(blank=True, null=True)),
                ("source_level_db", models.FloatField(blank=True, null=True)),
                ("distance_m", models.FloatField()),
                (
                    "criterion",
                    models.CharField(
                        choices=[("amplitude", "amplitude"), ("displayed_number", "displayed_number")],
                        default="amplitude",
                        max_length=20,
                    ),
                ),
                ("note", models.TextField(blank=True, default="")),
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
        ),
        migrations.CreateModel(
            name="SeamWalk",
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
                ("client_id", models.CharField(max_length=100)),
                ("fingerprint", models.BinaryField(max_length=32)),
                ("begun_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
                ("open_level_db", models.FloatField()),
                ("background_db", models.FloatField()),
                ("distance_m", models.FloatField()),
                (
                    "strength",
                    models.CharField(
                        choices=[
                            ("not_determined", "not_determined"),
                            ("too_weak", "too_weak"),
                            ("just_enough", "just_enough"),
                            ("strong", "strong"),
                        ],
                        max_length=16,
                    ),
                ),
                ("nothing_can_pass", models.BooleanField(default=False)),
                ("source_reasons", models.JSONField(blank=True, default=list)),
                ("note", models.TextField(blank=True, default="")),
                ("actor_name", models.CharField(max_length=200)),
                (
                    "corrects",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.seamwalk",
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.instrument",
                    ),
                ),
                (
                    "seam",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.seam"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="findings.survey",
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
        ),
        migrations.CreateModel(
            name="SeamResult",
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
                    "verdict",
                    models.CharField(
                        choices=[
                            ("pass", "pass"),
                            ("watch", "watch"),
                            ("fail", "fail"),
                            ("not_determined", "not_determined"),
                        ],
                        max_length=16,
                    ),
                ),
                ("method", models.CharField(max_length=32)),
                ("method_version", models.CharField(max_length=16)),
                ("smallest_drop_db", models.FloatField()),
                ("smallest_drop_u_db", models.FloatField()),
                ("limit_level_db", models.FloatField()),
                ("intact_level_db", models.FloatField()),
                ("excess_rule_used", models.BooleanField()),
                ("places", models.JSONField()),
                ("leaks", models.JSONField()),
                ("gaps", models.JSONField()),
                ("inputs", models.JSONField()),
                ("reasons", models.JSONField()),
                ("finished_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
                ("actor_name", models.CharField(max_length=200)),
                (
                    "reading",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.reading"
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
                (
                    "walk",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.seamwalk"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SeamPlace",
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
                ("client_id", models.CharField(max_length=100)),
                ("fingerprint", models.BinaryField(max_length=32)),
                ("position_m", models.FloatField()),
                ("level_db", models.FloatField()),
                ("background_db", models.FloatField(blank=True, null=True)),
                ("note", models.CharField(blank=True, default="", max_length=500)),
                ("recorded_at", models.DateTimeField()),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "walk",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.seamwalk"
                    ),
                ),
            ],
        ),
        migrations.AddIndex(
            model_name="seam",
            index=models.Index(fields=["site", "-from_at", "-id"], name="seam_newest"),
        ),
        migrations.AddConstraint(
            model_name="seam",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="seam_with_site"),
        ),
        migrations.AddConstraint(
            model_name="seam",
            constraint=models.UniqueConstraint(fields=("point", "from_at"), name="seam_once_per_moment"),
        ),
        migrations.AddConstraint(
            model_name="seam",
            constraint=models.CheckConstraint(
                condition=models.Q(("length_m__gt", 0), ("length_m__lte", 200)), name="seam_length_plausible"
            ),
        ),
        migrations.AddConstraint(
            model_name="seam",
            constraint=models.CheckConstraint(
                condition=models.Q(("distance_m__gte", 0.01), ("distance_m__lte", 5)),
                name="seam_distance_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="seam",
            constraint=models.CheckConstraint(
                condition=models.Q(("source_description", ""), _negated=True), name="seam_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="seam",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("source_band_centre_hz__isnull", True),
                    models.Q(("source_band_centre_hz__gte", 1000), ("source_band_centre_hz__lte", 200000)),
                    _connector="OR",
                ),
                name="seam_band_plausible",
            ),
        ),
        migrations.AddIndex(
            model_name="seamwalk",
            index=models.Index(fields=["seam", "-begun_at"], name="seam_walk_of_seam"),
        ),
        migrations.AddIndex(
            model_name="seamwalk",
            index=models.Index(fields=["site", "-begun_at", "-id"], name="seam_walk_newest"),
        ),
        migrations.AddConstraint(
            model_name="seamwalk",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="seam_walk_with_site"),
        ),
        migrations.AddConstraint(
            model_name="seamwalk",
            constraint=models.UniqueConstraint(
                fields=("site", "client_id"), name="seam_walk_client_id_once_per_site"
            ),
        ),
        migrations.AddConstraint(
            model_name="seamwalk",
            constraint=models.UniqueConstraint(fields=("corrects",), name="seam_walk_corrected_once"),
        ),
        migrations.AddConstraint(
            model_name="seamwalk",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("background_db__gte", -40),
                    ("background_db__lte", 200),
                    ("open_level_db__gte", -40),
                    ("open_level_db__lte", 200),
                ),
                name="seam_walk_levels_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="seamwalk",
            constraint=models.CheckConstraint(
                condition=models.Q(("distance_m__gte", 0.01), ("distance_m__lte", 5)),
                name="seam_walk_distance_plausible",
            ),
        ),
        migrations.AddConstraint(
            model_name="seamwalk",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("nothing_can_pass", True), ("strength", "too_weak")),
                    models.Q(("nothing_can_pass", False), ("strength__in", ["just_enough", "strong"])),
                    _connector="OR",
                ),
                name="seam_walk_says_when_nothing_can_pass",
            ),
        ),
        migrations.AddConstraint(
            model_name="seamresult",
            constraint=models.UniqueConstraint(fields=("walk",), name="seam_walk_finished_once"),
        ),
        migrations.AddConstraint(
            model_name="seamresult",
            constraint=models.UniqueConstraint(fields=("reading",), name="seam_result_once_per_reading"),
        ),
        migrations.AddIndex(
            model_name="seamplace",
            index=models.Index(fields=["walk", "position_m"], name="seam_place_along_walk"),
        ),
        migrations.AddConstraint(
            model_name="seamplace",
            constraint=models.UniqueConstraint(
                fields=("walk", "client_id"), name="seam_place_client_id_once_per_walk"
            ),
        ),
        migrations.AddConstraint(
            model_name="seamplace",
            constraint=models.CheckConstraint(
                condition=models.Q(("position_m__gte", 0)), name="seam_place_not_before_start"
            ),
        ),
        migrations.AddConstraint(
            model_name="seamplace",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("level_db__gte", -40),
                    ("level_db__lte", 200),
                    models.Q(
                        ("background_db__isnull", True),
                        models.Q(("background_db__gte", -40), ("background_db__lte", 200)),
                        _connector="OR",
                    ),
                ),
                name="seam_place_levels_plausible",
            ),
        ),
        *(only_added(table, []) for table in TABLES),
        *(same_site(*row) for row in SAME_SITE),
        migrations.RunSQL(PLACES, NO_PLACES),
        migrations.RunSQL(RESULTS, NO_RESULTS),
    ]
