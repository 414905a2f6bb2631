"""What a job could not do, once per thing, with its reason."""

from django.db import migrations, models

import plantcare.api.identifiers


class Migration(migrations.Migration):
    dependencies = [("jobs", "0003_lease")]
    operations = [
        migrations.CreateModel(
            name="Stumble",
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
                ("job", models.CharField(max_length=80)),
                ("site_id", models.UUIDField(blank=True, null=True)),
                ("item_id", models.UUIDField()),
                ("failures", models.PositiveIntegerField(default=1)),
                ("reason", models.CharField(max_length=300)),
                ("first_at", models.DateTimeField()),
                ("last_at", models.DateTimeField()),
                ("parked_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=["job", "item_id"], name="stumble_once_per_item")
                ],
            },
        ),
    ]
