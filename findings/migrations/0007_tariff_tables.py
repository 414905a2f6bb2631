"""Time-of-use tables of electricity, and the demand charge as a dated value."""

import django.db.models.deletion
from django.db import migrations, models

import plantcare.api.identifiers
from plantcare.api.laws import only_added

LISTS = """
ALTER TABLE findings_tarifftable ADD CONSTRAINT tariff_table_holds_bands CHECK (
    CASE WHEN jsonb_typeof(bands) = 'array' THEN jsonb_array_length(bands) BETWEEN 1 AND 40 ELSE false END
);
ALTER TABLE findings_tarifftable ADD CONSTRAINT tariff_table_lists_its_holidays CHECK (
    jsonb_typeof(holidays) = 'array'
);
"""
DROP_LISTS = """
ALTER TABLE findings_tarifftable DROP CONSTRAINT tariff_table_holds_bands;
ALTER TABLE findings_tarifftable DROP CONSTRAINT tariff_table_lists_its_holidays;
"""


class Migration(migrations.Migration):

    dependencies = [
        ('findings', '0006_compressor_room'),
    ]

    operations = [
        migrations.AlterField(
            model_name='datedvalue',
            name='quantity',
            field=models.CharField(choices=[('electricity_price_per_kwh', 'electricity_price_per_kwh'), ('specific_energy_j_per_m3', 'specific_energy_j_per_m3'), ('pressurised_share', 'pressurised_share'), ('gas_price_per_kg', 'gas_price_per_kg'), ('gas_price_per_m3', 'gas_price_per_m3'), ('grid_factor_kg_per_kwh', 'grid_factor_kg_per_kwh'), ('mean_demand_m3_per_s', 'mean_demand_m3_per_s'), ('demand_charge_per_kw_month', 'demand_charge_per_kw_month')], max_length=32),
        ),
        migrations.CreateModel(
            name='TariffTable',
            fields=[
                ('id', models.UUIDField(default=plantcare.api.identifiers.uuid7, editable=False, primary_key=True, serialize=False)),
                ('bands', models.JSONField()),
                ('holidays', models.JSONField(default=list)),
                ('currency', models.CharField(max_length=3)),
                ('from_at', models.DateTimeField()),
                ('recorded_at', models.DateTimeField()),
                ('source', models.CharField(max_length=300)),
                ('void_at', models.DateTimeField(blank=True, null=True)),
                ('void_reason', models.CharField(blank=True, default='', max_length=300)),
                ('site', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='findings.site')),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('void_at__isnull', True)), fields=('site', 'from_at'), name='tariff_table_once_per_moment'), models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='tariff_table_names_its_source'), models.CheckConstraint(condition=models.Q(('currency', ''), _negated=True), name='tariff_table_names_its_currency'), models.CheckConstraint(condition=models.Q(('void_at__isnull', True), models.Q(('void_reason', ''), _negated=True), _connector='OR'), name='tariff_table_void_has_reason')],
            },
        ),
        migrations.RunSQL(LISTS, DROP_LISTS),
        only_added("findings_tarifftable", ["void_at", "void_reason"]),
    ]
