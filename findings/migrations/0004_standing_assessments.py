"""A finding names the assessment that its rate rests on, and since when the leak is the one it is now."""

import django.db.models.deletion
from django.db import migrations, models

from plantcare.api.laws import same_site

FILL_OPENED = """
UPDATE findings_finding f SET opened_at = coalesce(
    (SELECT max(s.started_at) FROM findings_losssegment s
     WHERE s.finding_id = f.id AND s.void_at IS NULL
       AND s.start_reason IN ('reopened', 'repair_failed', 'partly_repaired')),
    f.found_at);
"""
# The kept decimal has twelve places, the assessment's number as many as a float has.
FILL_STANDING = """
UPDATE findings_finding f SET standing_id = (
    SELECT a.id FROM findings_assessment a
    WHERE a.finding_id = f.id AND abs(a.leak_rate_m3_per_s - f.leak_rate_m3_per_s) < 1e-12
    ORDER BY a.at DESC, a.recorded_at DESC, a.id DESC LIMIT 1)
WHERE f.leak_rate_m3_per_s IS NOT NULL;
"""


class Migration(migrations.Migration):
    dependencies = [("findings", "0003_laws")]
    operations = [
        migrations.AddField("finding", "opened_at", models.DateTimeField(null=True)),
        migrations.RunSQL(FILL_OPENED, migrations.RunSQL.noop),
        migrations.AlterField("finding", "opened_at", models.DateTimeField()),
        migrations.AddField(
            "finding",
            "standing",
            models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="findings.assessment",
            ),
        ),
        migrations.AddConstraint(
            "assessment", models.UniqueConstraint(fields=("id", "site"), name="assessment_with_site")
        ),
        migrations.AddConstraint(
            "finding",
            models.CheckConstraint(
                condition=models.Q(
                    ("standing__isnull", True), ("leak_rate_m3_per_s__isnull", False), _connector="OR"
                ),
                name="finding_standing_has_rate",
            ),
        ),
        same_site("findings_finding", "standing_id", "findings_assessment"),
        migrations.RunSQL(FILL_STANDING, migrations.RunSQL.noop),
    ]
