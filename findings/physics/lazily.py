"""Load the big numeric libraries where a sum needs them, not when a process starts."""

from importlib import import_module
from types import ModuleType


def load(name: str) -> ModuleType:
    """Return a module by its full name, imported at the first call.

    Doors name every calculation when the web process starts; numpy and scipy would take longer to load than
    all the rest of it. A module that needs them is reached through here, and so is what loads them by itself.
    """
    return import_module(name)
