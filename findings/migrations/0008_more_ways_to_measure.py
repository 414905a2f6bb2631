"""A cylinder over water and a variable-area meter measure a leak as a bag does."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0007_tariff_tables"),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name="calibrationleak",
            name="calibration_leak_method_direct",
        ),
        migrations.AlterField(
            model_name="calibrationleak",
            name="flow_method",
            field=models.CharField(
                choices=[
                    ("bag", "bag"),
                    ("cylinder", "cylinder"),
                    ("flow_meter", "flow_meter"),
                    ("variable_area_meter", "variable_area_meter"),
                    ("pressure_decay", "pressure_decay"),
                ],
                max_length=24,
            ),
        ),
        migrations.AlterField(
            model_name="reading",
            name="flow_method",
            field=models.CharField(
                blank=True,
                choices=[
                    ("stated", "stated"),
                    ("bag", "bag"),
                    ("cylinder", "cylinder"),
                    ("flow_meter", "flow_meter"),
                    ("variable_area_meter", "variable_area_meter"),
                    ("pressure_decay", "pressure_decay"),
                ],
                default="",
                max_length=24,
            ),
        ),
        migrations.AddConstraint(
            model_name="calibrationleak",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "flow_method__in",
                        ["bag", "cylinder", "flow_meter", "variable_area_meter", "pressure_decay"],
                    )
                ),
                name="calibration_leak_method_direct",
            ),
        ),
    ]
