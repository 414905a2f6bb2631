"""The rules of the supply room: what a stated value, a machine and a measured leakage can be."""

from findings.supply.rules.in_force import InForce, Known, numbers
from findings.supply.rules.leak_tests import (
    LeakTestMethod,
    assumed,
    at_reference,
    check_sent,
    check_testable,
    total_leakage,
)
from findings.supply.rules.machines import check_part_load, check_storage
from findings.supply.rules.stated import (
    MONEY,
    PER_SITE,
    ControlType,
    Quantity,
    SupplyRefused,
    check_currency_of,
    check_gas_name,
    check_header,
    check_rating,
    check_source,
    check_specific_energy,
    check_value,
    refuse_supply,
)
from findings.supply.rules.station import Station, station_of
from findings.supply.rules.tariffs import plain_bands, price_of_table, stored_table

__all__ = [
    "MONEY",
    "PER_SITE",
    "ControlType",
    "InForce",
    "Known",
    "LeakTestMethod",
    "Quantity",
    "Station",
    "SupplyRefused",
    "assumed",
    "at_reference",
    "check_currency_of",
    "check_gas_name",
    "check_header",
    "check_part_load",
    "check_rating",
    "check_sent",
    "check_source",
    "check_specific_energy",
    "check_storage",
    "check_testable",
    "check_value",
    "numbers",
    "plain_bands",
    "price_of_table",
    "refuse_supply",
    "station_of",
    "stored_table",
    "total_leakage",
]
