"""What a machine does at part load, how much storage a system has, and what its leakage was measured to be."""

import django.db.models.deletion
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added, same_site

POINTS = """
ALTER TABLE findings_compressor ADD CONSTRAINT compressor_points_are_shares CHECK (
    jsonb_typeof(part_load_points) = 'array'
    AND NOT jsonb_path_exists(part_load_points, 'strict $[*] ? (@.type() != "array" || @.size() != 2)', '{}', true)
    AND NOT jsonb_path_exists(
        part_load_points, 'strict $[*][*] ? (@.type() != "number" || @ < 0 || @ > 1)', '{}', true
    )
);
"""
DROP_POINTS = "ALTER TABLE findings_compressor DROP CONSTRAINT compressor_points_are_shares;"


class Migration(migrations.Migration):
    dependencies = [
        ("findings", "0005_calibration_leaks"),
    ]

    operations = [
        migrations.CreateModel(
            name="LeakTest",
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
                    "method",
                    models.CharField(
                        choices=[
                            ("load_unload", "load_unload"),
                            ("base_flow", "base_flow"),
                            ("pressure_decay", "pressure_decay"),
                        ],
                        max_length=16,
                    ),
                ),
                ("method_version", models.CharField(max_length=16)),
                ("taken_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
                ("pressure_gauge_pa", models.FloatField()),
                ("flow_m3_per_s", models.FloatField()),
                ("u_m3_per_s", models.FloatField()),
                ("low_m3_per_s", models.FloatField()),
                ("high_m3_per_s", models.FloatField()),
                ("inputs", models.JSONField()),
                ("as_sent", models.JSONField()),
                ("reasons", models.JSONField(default=list)),
                ("source", models.CharField(max_length=300)),
                ("note", models.TextField(blank=True, default="")),
                ("void_at", models.DateTimeField(blank=True, null=True)),
                ("void_reason", models.CharField(blank=True, default="", max_length=300)),
            ],
        ),
        migrations.AddField(
            model_name="compressor",
            name="least_share",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="compressor",
            name="load_order",
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="compressor",
            name="part_load_points",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AddField(
            model_name="compressor",
            name="unloaded_share",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="supplysystem",
            name="storage_m3",
            field=models.FloatField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="datedvalue",
            name="quantity",
            field=models.CharField(
                choices=[
                    ("electricity_price_per_kwh", "electricity_price_per_kwh"),
                    ("specific_energy_j_per_m3", "specific_energy_j_per_m3"),
                    ("pressurised_share", "pressurised_share"),
                    ("gas_price_per_kg", "gas_price_per_kg"),
                    ("gas_price_per_m3", "gas_price_per_m3"),
                    ("grid_factor_kg_per_kwh", "grid_factor_kg_per_kwh"),
                    ("mean_demand_m3_per_s", "mean_demand_m3_per_s"),
                ],
                max_length=32,
            ),
        ),
        migrations.AddConstraint(
            model_name="compressor",
            constraint=models.UniqueConstraint(fields=("id", "site"), name="compressor_with_site"),
        ),
        migrations.AddConstraint(
            model_name="compressor",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("unloaded_share__isnull", True),
                    models.Q(("unloaded_share__gte", 0), ("unloaded_share__lte", 1)),
                    _connector="OR",
                ),
                name="compressor_unloaded_is_a_share",
            ),
        ),
        migrations.AddConstraint(
            model_name="compressor",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("least_share__isnull", True),
                    models.Q(("least_share__gte", 0), ("least_share__lt", 1)),
                    _connector="OR",
                ),
                name="compressor_least_is_a_share",
            ),
        ),
        migrations.AddConstraint(
            model_name="compressor",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("least_share__isnull", True),
                    models.Q(("control__in", ["load_unload", "start_stop"]), _negated=True),
                    _connector="OR",
                ),
                name="compressor_least_of_a_regulating_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="compressor",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("load_order__isnull", True),
                    models.Q(("load_order__gte", 1), ("load_order__lte", 100)),
                    _connector="OR",
                ),
                name="compressor_order_from_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="compressor",
            constraint=models.UniqueConstraint(
                condition=models.Q(("load_order__isnull", False), ("retired_on__isnull", True)),
                fields=("system", "load_order"),
                name="compressor_order_once_per_system",
            ),
        ),
        migrations.AddConstraint(
            model_name="supplysystem",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("storage_m3__isnull", True),
                    models.Q(("storage_m3__gt", 0), ("storage_m3__lte", 100000)),
                    _connector="OR",
                ),
                name="supply_storage_plausible",
            ),
        ),
        migrations.AddField(
            model_name="leaktest",
            name="compressor",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="findings.compressor",
            ),
        ),
        migrations.AddField(
            model_name="leaktest",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.site"
            ),
        ),
        migrations.AddField(
            model_name="leaktest",
            name="system",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="findings.supplysystem"
            ),
        ),
        migrations.AddIndex(
            model_name="leaktest",
            index=models.Index(fields=["system", "-taken_at"], name="leak_test_newest"),
        ),
        migrations.AddConstraint(
            model_name="leaktest",
            constraint=models.UniqueConstraint(
                condition=models.Q(("void_at__isnull", True)),
                fields=("system", "method", "taken_at"),
                name="leak_test_once_per_moment",
            ),
        ),
        migrations.AddConstraint(
            model_name="leaktest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("flow_m3_per_s__gte", models.F("low_m3_per_s")),
                    ("high_m3_per_s__gte", models.F("flow_m3_per_s")),
                    ("low_m3_per_s__gte", 0),
                    ("u_m3_per_s__gte", 0),
                ),
                name="leak_test_flow_in_its_interval",
            ),
        ),
        migrations.AddConstraint(
            model_name="leaktest",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="leak_test_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="leaktest",
            constraint=models.CheckConstraint(
                condition=models.Q(("pressure_gauge_pa__gt", 0)), name="leak_test_under_pressure"
            ),
        ),
        migrations.AddConstraint(
            model_name="leaktest",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("void_at__isnull", True), models.Q(("void_reason", ""), _negated=True), _connector="OR"
                ),
                name="leak_test_void_has_reason",
            ),
        ),
        migrations.RunSQL(POINTS, DROP_POINTS),
        only_added("findings_leaktest", ["void_at", "void_reason"]),
        same_site("findings_leaktest", "system_id", "findings_supplysystem"),
        same_site("findings_leaktest", "compressor_id", "findings_compressor"),
    ]
