"""What feeds the plant: supply systems, their compressors, and every dated price or factor."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from findings.kinds.base import Medium
from findings.plant.models import Asset, Site
from findings.supply.rules import ControlType, LeakTestMethod, Quantity
from plantcare.api.identifiers import uuid7


class SupplySystem(models.Model):
    """A network of one medium at one header pressure."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=32)
    name = models.CharField(max_length=200)
    medium = models.CharField(max_length=24, choices=[(m.value, m.value) for m in Medium])
    gas_name = models.CharField(max_length=64, blank=True, default="")
    # Gauge against the site's atmosphere; negative for vacuum.
    pressure_gauge_pa = models.FloatField()
    temperature_k = models.FloatField(default=293.15)
    # Receivers and pipes together, under header pressure.
    storage_m3 = models.FloatField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="supply_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="supply_with_site"),
            models.CheckConstraint(
                condition=Q(pressure_gauge_pa__gte=-101_325, pressure_gauge_pa__lte=40_000_000),
                name="supply_pressure_plausible",
            ),
            models.CheckConstraint(
                condition=Q(temperature_k__gte=200, temperature_k__lte=600),
                name="supply_temperature_plausible",
            ),
            models.CheckConstraint(
                condition=~Q(medium="other") | ~Q(gas_name=""), name="supply_other_gas_named"
            ),
            models.CheckConstraint(
                condition=Q(storage_m3__isnull=True) | Q(storage_m3__gt=0, storage_m3__lte=100_000),
                name="supply_storage_plausible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Compressor(models.Model):
    """A machine that feeds a supply system."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    system = models.ForeignKey(SupplySystem, on_delete=models.PROTECT, related_name="+")
    asset = models.ForeignKey(Asset, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=32)
    control = models.CharField(max_length=24, choices=[(c.value, c.value) for c in ControlType])
    rated_flow_m3_per_s = models.FloatField()
    rated_power_w = models.FloatField()
    # Power while it delivers nothing, as a share of the power at full load; measured at this machine.
    unloaded_share = models.FloatField(null=True, blank=True)
    # The least delivery that its control reaches, as a share of the capacity.
    least_share = models.FloatField(null=True, blank=True)
    # Its place in the cascade: 1 is loaded first and unloaded last.
    load_order = models.PositiveSmallIntegerField(null=True, blank=True)
    # [[capacity share, power share], ...] up to [1, 1]; measured points go before any curve.
    part_load_points = models.JSONField(default=list, blank=True)
    commissioned_on = models.DateField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="compressor_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="compressor_with_site"),
            models.CheckConstraint(
                condition=Q(rated_flow_m3_per_s__gt=0, rated_power_w__gt=0), name="compressor_rated_positive"
            ),
            models.CheckConstraint(
                condition=Q(unloaded_share__isnull=True) | Q(unloaded_share__gte=0, unloaded_share__lte=1),
                name="compressor_unloaded_is_a_share",
            ),
            models.CheckConstraint(
                condition=Q(least_share__isnull=True) | Q(least_share__gte=0, least_share__lt=1),
                name="compressor_least_is_a_share",
            ),
            models.CheckConstraint(
                condition=Q(least_share__isnull=True) | ~Q(control__in=["load_unload", "start_stop"]),
                name="compressor_least_of_a_regulating_one",
            ),
            models.CheckConstraint(
                condition=Q(load_order__isnull=True) | Q(load_order__gte=1, load_order__lte=100),
                name="compressor_order_from_one",
            ),
            models.UniqueConstraint(
                fields=["system", "load_order"],
                condition=Q(load_order__isnull=False, retired_on__isnull=True),
                name="compressor_order_once_per_system",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class Connection(models.Model):
    """Which supply system feeds which asset (and the parts below it)."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+")
    system = models.ForeignKey(SupplySystem, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["asset", "system"], name="connection_once")]

    def __str__(self) -> str:
        return f"{self.asset_id} on {self.system_id}"


class DatedValue(models.Model):
    """A price or factor in force from a moment until the next one; rows are only added.

    ``system`` is empty where the quantity belongs to the whole site (electricity, grid factor). A wrong row
    is voided once, with a reason, and a right one added.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    system = models.ForeignKey(
        SupplySystem, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    quantity = models.CharField(max_length=32, choices=[(q.value, q.value) for q in Quantity])
    value = models.DecimalField(max_digits=24, decimal_places=10)
    currency = models.CharField(max_length=3, blank=True, default="")
    from_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    source = models.CharField(max_length=300)
    source_year = models.PositiveSmallIntegerField(null=True, blank=True)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "system", "quantity", "from_at"],
                condition=Q(void_at__isnull=True),
                nulls_distinct=False,
                name="dated_value_once_per_moment",
            ),
            models.CheckConstraint(condition=Q(value__gte=0), name="dated_value_not_negative"),
            models.CheckConstraint(condition=~Q(source=""), name="dated_value_names_its_source"),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True) | ~Q(void_reason=""), name="dated_value_void_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.value} from {self.from_at:%Y-%m-%d}"


class TariffTable(models.Model):
    """A time-of-use table of electricity, in force from a moment until the next table or flat price.

    Bands and holidays as ``supply.rules.plain_bands`` writes them. Rows are only added; a wrong one is voided
    once, with a reason.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    bands = models.JSONField()
    # Days that count as holidays in the tariff, as "YYYY-MM-DD".
    holidays = models.JSONField(default=list)
    currency = models.CharField(max_length=3)
    from_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    source = models.CharField(max_length=300)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "from_at"],
                condition=Q(void_at__isnull=True),
                name="tariff_table_once_per_moment",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="tariff_table_names_its_source"),
            models.CheckConstraint(condition=~Q(currency=""), name="tariff_table_names_its_currency"),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True) | ~Q(void_reason=""), name="tariff_table_void_has_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"time-of-use table from {self.from_at:%Y-%m-%d}"


class LeakTest(models.Model):
    """The whole leakage of a supply system, measured while nothing is produced; rows are only added.

    What was sent is kept beside the flow that it came to. A wrong row is voided once, with a reason.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    system = models.ForeignKey(SupplySystem, on_delete=models.PROTECT, related_name="+")
    compressor = models.ForeignKey(
        Compressor, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    method = models.CharField(max_length=16, choices=[(m.value, m.value) for m in LeakTestMethod])
    method_version = models.CharField(max_length=16)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    # Header pressure during the test, against the site's atmosphere.
    pressure_gauge_pa = models.FloatField()
    # At 1 bar, 20 °C, dry.
    flow_m3_per_s = models.FloatField()
    u_m3_per_s = models.FloatField()
    low_m3_per_s = models.FloatField()
    high_m3_per_s = models.FloatField()
    inputs = models.JSONField()
    as_sent = models.JSONField()
    reasons = models.JSONField(default=list)
    source = models.CharField(max_length=300)
    note = models.TextField(blank=True, default="")
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["system", "method", "taken_at"],
                condition=Q(void_at__isnull=True),
                name="leak_test_once_per_moment",
            ),
            models.CheckConstraint(
                condition=Q(
                    low_m3_per_s__gte=0,
                    flow_m3_per_s__gte=F("low_m3_per_s"),
                    high_m3_per_s__gte=F("flow_m3_per_s"),
                    u_m3_per_s__gte=0,
                ),
                name="leak_test_flow_in_its_interval",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="leak_test_names_its_source"),
            models.CheckConstraint(condition=Q(pressure_gauge_pa__gt=0), name="leak_test_under_pressure"),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True) | ~Q(void_reason=""), name="leak_test_void_has_reason"
            ),
        ]
        indexes = [models.Index(fields=["system", "-taken_at"], name="leak_test_newest")]

    def __str__(self) -> str:
        return f"{self.method} {self.flow_m3_per_s} m3/s at {self.taken_at:%Y-%m-%d %H:%M}"
