"""Every act on what feeds the plant."""

from findings.supply.actions.compressors import OrderTaken, add_compressor, change_compressor
from findings.supply.actions.leak_tests import (
    LeakTestAlreadyVoid,
    LeakTestDated,
    LeakTestRefused,
    record_leak_test,
    void_leak_test,
)
from findings.supply.actions.systems import (
    MediumConnected,
    add_system,
    change_system,
    connect,
    disconnect,
)
from findings.supply.actions.tariffs import (
    TariffAlreadyVoid,
    TariffDated,
    set_tariff_table,
    void_tariff_table,
)
from findings.supply.actions.values import (
    AlreadyVoid,
    ValueDated,
    set_value,
    void_value,
)

__all__ = [
    "AlreadyVoid",
    "LeakTestAlreadyVoid",
    "LeakTestDated",
    "LeakTestRefused",
    "MediumConnected",
    "OrderTaken",
    "TariffAlreadyVoid",
    "TariffDated",
    "ValueDated",
    "add_compressor",
    "add_system",
    "change_compressor",
    "change_system",
    "connect",
    "disconnect",
    "record_leak_test",
    "set_tariff_table",
    "set_value",
    "void_leak_test",
    "void_tariff_table",
    "void_value",
]
