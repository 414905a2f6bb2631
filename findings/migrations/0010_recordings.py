"""Recordings of sound that belong to readings, the tries to hear them, and what was heard."""

import django.db.models.deletion
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0009_conditions"),
    ]

    operations = [
        migrations.CreateModel(
            name="Recording",
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
                ("sha256", models.CharField(max_length=64)),
                ("file_name", models.CharField(max_length=200)),
                ("bytes", models.PositiveBigIntegerField()),
                ("container", models.CharField(choices=[("wav", "wav"), ("flac", "flac")], max_length=8)),
                ("sample_rate_hz", models.PositiveIntegerField()),
                ("channels", models.PositiveSmallIntegerField()),
                ("bits", models.PositiveSmallIntegerField()),
                ("seconds", models.FloatField()),
                ("channel", models.PositiveSmallIntegerField(default=1)),
                (
                    "gain_locked",
                    models.CharField(
                        choices=[("yes", "yes"), ("no", "no"), ("unknown", "unknown")],
                        default="unknown",
                        max_length=8,
                    ),
                ),
                (
                    "sound_band",
                    models.CharField(
                        choices=[
                            ("heterodyned", "heterodyned"),
                            ("full_band", "full_band"),
                            ("unknown", "unknown"),
                        ],
                        default="unknown",
                        max_length=12,
                    ),
                ),
                ("uploaded_at", models.DateTimeField()),
                ("uploaded_by", models.CharField(max_length=200)),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
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
            ],
        ),
        migrations.CreateModel(
            name="AnalysisAttempt",
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
                ("method_version", models.CharField(max_length=20)),
                ("number", models.PositiveSmallIntegerField()),
                ("started_at", models.DateTimeField()),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
                    ),
                ),
                (
                    "recording",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.recording"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="RecordingAnalysis",
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
                ("method_version", models.CharField(max_length=20)),
                ("state", models.CharField(choices=[("done", "done"), ("refused", "refused")], max_length=8)),
                ("result", models.JSONField(blank=True, default=dict)),
                ("reasons", models.JSONField(blank=True, default=list)),
                ("picture_sha256", models.CharField(blank=True, default="", max_length=64)),
                ("picture_words", models.TextField(blank=True, default="")),
                ("started_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField()),
                ("judged_at", models.DateTimeField(blank=True, null=True)),
                (
                    "recording",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.recording"
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
        migrations.AddIndex(
            model_name="recording",
            index=models.Index(fields=["site", "-uploaded_at", "-id"], name="recording_of_site"),
        ),
        migrations.AddIndex(
            model_name="recording",
            index=models.Index(fields=["reading"], name="recording_of_reading"),
        ),
        migrations.AddIndex(
            model_name="recording",
            index=models.Index(fields=["sha256"], name="recording_by_hash"),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.UniqueConstraint(
                condition=models.Q(("void_at__isnull", True)),
                fields=("reading", "sha256"),
                name="recording_once_per_reading",
            ),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="recording_with_site"),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.CheckConstraint(
                condition=models.Q(("sha256__regex", "^[0-9a-f]{64}$")), name="recording_hash_is_one"
            ),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("bits__gt", 0), ("bytes__gt", 0), ("sample_rate_hz__gt", 0), ("seconds__gt", 0)
                ),
                name="recording_holds_sound",
            ),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.CheckConstraint(
                condition=models.Q(("channel__gte", 1), ("channel__lte", models.F("channels"))),
                name="recording_channel_is_there",
            ),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("container__in", ["wav", "flac"]),
                    ("gain_locked__in", ["yes", "no", "unknown"]),
                    ("sound_band__in", ["heterodyned", "full_band", "unknown"]),
                ),
                name="recording_words_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("void_at__isnull", True), ("void_reason", "")),
                    models.Q(("void_at__isnull", False), models.Q(("void_reason", ""), _negated=True)),
                    _connector="OR",
                ),
                name="recording_void_has_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="analysisattempt",
            constraint=models.UniqueConstraint(
                fields=("recording", "method_version", "number"), name="analysis_attempt_numbered"
            ),
        ),
        migrations.AddIndex(
            model_name="recordinganalysis",
            index=models.Index(
                condition=models.Q(("judged_at__isnull", True)),
                fields=["ended_at", "id"],
                name="analysis_not_judged",
            ),
        ),
        migrations.AddIndex(
            model_name="recordinganalysis",
            index=models.Index(fields=["picture_sha256"], name="analysis_by_picture"),
        ),
        migrations.AddConstraint(
            model_name="recordinganalysis",
            constraint=models.UniqueConstraint(
                fields=("recording", "method_version"), name="recording_analysed_once_per_version"
            ),
        ),
        migrations.AddConstraint(
            model_name="recordinganalysis",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="recording_analysis_with_site"),
        ),
        migrations.AddConstraint(
            model_name="recordinganalysis",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["done", "refused"])), name="recording_analysis_state_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="recordinganalysis",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("state", "done"),
                    models.Q(("reasons", []), _negated=True),
                    _connector="OR",
                ),
                name="recording_refused_with_reasons",
            ),
        ),
        migrations.AddConstraint(
            model_name="recordinganalysis",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("picture_sha256", ""), ("picture_sha256__regex", "^[0-9a-f]{64}$"), _connector="OR"
                ),
                name="recording_picture_hash_is_one",
            ),
        ),
        only_added("findings_recording", ["void_at", "void_reason"]),
        only_added("findings_analysisattempt", []),
        only_added("findings_recordinganalysis", ["judged_at"]),
        same_site("findings_recording", "reading_id", "findings_reading"),
        same_site("findings_analysisattempt", "recording_id", "findings_recording"),
        same_site("findings_recordinganalysis", "recording_id", "findings_recording"),
    ]
