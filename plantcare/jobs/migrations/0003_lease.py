"""Whose turn it is to send the schedule."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_periods_by_site")]
    operations = [
        migrations.CreateModel(
            name="Lease",
            fields=[
                ("name", models.CharField(max_length=40, primary_key=True, serialize=False)),
                ("holder", models.CharField(max_length=120)),
                ("token", models.PositiveBigIntegerField(default=1)),
                ("until_at", models.DateTimeField()),
            ],
        ),
    ]
