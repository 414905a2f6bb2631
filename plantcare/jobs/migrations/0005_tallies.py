"""Runs since the beginning, counted by outcome; the runs that are still kept are counted in."""

from django.db import migrations, models

_COUNT = """
INSERT INTO jobs_tally (job, outcome, runs, duration_s)
SELECT job, outcome, count(*), coalesce(sum(duration_s), 0) FROM jobs_jobrun
WHERE outcome <> 'running' GROUP BY job, outcome
"""
OUTCOMES = ["running", "done", "failed", "skipped"]


class Migration(migrations.Migration):
    dependencies = [("jobs", "0004_stumbles")]
    operations = [
        migrations.CreateModel(
            name="Tally",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("job", models.CharField(max_length=80)),
                ("outcome", models.CharField(max_length=8, choices=[(word, word) for word in OUTCOMES])),
                ("runs", models.PositiveBigIntegerField(default=0)),
                ("duration_s", models.FloatField(default=0.0)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=["job", "outcome"], name="tally_once_per_outcome")
                ],
            },
        ),
        migrations.RunSQL(_COUNT, migrations.RunSQL.noop),
    ]
