"""The rules of the balance: measured against found, and what if something were done about it."""

from findings.balance.rules.lower_header import LowerHeader, lower_pressure
from findings.balance.rules.other_tariff import AtPrice, OtherTariff, other_price
from findings.balance.rules.passes import Heard, missed, remarks
from findings.balance.rules.reconciling import Reconciled, SinceTest, reconcile
from findings.balance.rules.repairs import Basis, Effort, Repairs, Wish, best_repairs
from findings.balance.rules.shut_off import CAUTION, ShutOff, Shutting, shut_branch
from findings.balance.rules.system_now import Measured, OpenLeak, SystemNow, shared_part, spread_of
from findings.balance.rules.yearly import Yearly

__all__ = [
    "CAUTION",
    "AtPrice",
    "Basis",
    "Effort",
    "Heard",
    "LowerHeader",
    "Measured",
    "OpenLeak",
    "OtherTariff",
    "Reconciled",
    "Repairs",
    "ShutOff",
    "Shutting",
    "SinceTest",
    "SystemNow",
    "Wish",
    "Yearly",
    "best_repairs",
    "lower_pressure",
    "missed",
    "other_price",
    "reconcile",
    "remarks",
    "shared_part",
    "shut_branch",
    "spread_of",
]
