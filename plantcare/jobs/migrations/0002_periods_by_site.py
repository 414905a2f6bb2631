"""A run knows when it was due, how long it took and what it had in hand; a period is done once per site."""

from django.db import migrations, models
from django.db.models import Q

# Going back, a period may be named once only: runs for one site lose theirs, the record of them stays.
_ONE_NAME = "UPDATE jobs_jobrun SET period = '' WHERE site_id IS NOT NULL AND period <> ''"


class Migration(migrations.Migration):
    dependencies = [("jobs", "0001_initial")]
    operations = [
        migrations.AddField("jobrun", "due_at", models.DateTimeField(blank=True, null=True)),
        migrations.AddField("jobrun", "duration_s", models.FloatField(blank=True, null=True)),
        migrations.AddField("jobrun", "in_hand_id", models.UUIDField(blank=True, null=True)),
        migrations.RemoveConstraint("jobrun", "job_run_once_per_period"),
        migrations.RunSQL(migrations.RunSQL.noop, _ONE_NAME),
        migrations.AddConstraint(
            "jobrun",
            models.UniqueConstraint(
                fields=["job", "period", "site_id"],
                condition=~Q(period="") & Q(outcome__in=["running", "done"]),
                nulls_distinct=False,
                name="job_run_once_per_site_period",
            ),
        ),
    ]
