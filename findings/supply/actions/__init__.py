"""Every act on what feeds the plant."""

from findings.supply.actions.systems import (
    MediumConnected,
    add_compressor,
    add_system,
    change_compressor,
    change_system,
    connect,
    disconnect,
)
from findings.supply.actions.values import (
    AlreadyVoid,
    ValueDated,
    set_value,
    void_value,
)

__all__ = [
    "AlreadyVoid",
    "MediumConnected",
    "ValueDated",
    "add_compressor",
    "add_system",
    "change_compressor",
    "change_system",
    "connect",
    "disconnect",
    "set_value",
    "void_value",
]
