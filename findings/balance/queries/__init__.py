"""Read a supply system's balance, and what would be if something were done about it."""

from findings.balance.queries.balances import leak_balance
from findings.balance.queries.what_if import (
    header_pressure_answer,
    repair_plan_answer,
    shut_off_answer,
    tariff_answer,
)

__all__ = [
    "header_pressure_answer",
    "leak_balance",
    "repair_plan_answer",
    "shut_off_answer",
    "tariff_answer",
]
