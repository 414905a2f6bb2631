"""What feeds the plant: supply systems, their compressors, and every dated price or factor."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from findings.kinds.base import Medium
from findings.plant.models import Asset, Site
from findings.supply.rules import ControlType, Quantity
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
    commissioned_on = models.DateField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="compressor_code_once_per_site"),
            models.CheckConstraint(
                condition=Q(rated_flow_m3_per_s__gt=0, rated_power_w__gt=0), name="compressor_rated_positive"
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
