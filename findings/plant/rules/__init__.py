"""The plant's rules: who may do what, where things are, when they run."""

from findings.plant.rules.places import (
    CURRENCIES,
    PlaceRefused,
    check_currency,
    check_time_zone,
    clean_code,
    local_day,
)
from findings.plant.rules.rights import (
    ROLE_RIGHTS,
    Criticality,
    Method,
    Right,
    Role,
    rights_of,
    roles_with,
)
from findings.plant.rules.tree import repeated, walk_order
from findings.plant.rules.windows import (
    MINUTES_PER_WEEK,
    RunningWindow,
    WindowRefused,
    as_rows,
    minutes_per_week,
    read_windows,
    runs_at,
    runs_on,
)

__all__ = [
    "CURRENCIES",
    "MINUTES_PER_WEEK",
    "ROLE_RIGHTS",
    "Criticality",
    "Method",
    "PlaceRefused",
    "Right",
    "Role",
    "RunningWindow",
    "WindowRefused",
    "as_rows",
    "check_currency",
    "check_time_zone",
    "clean_code",
    "local_day",
    "minutes_per_week",
    "read_windows",
    "repeated",
    "rights_of",
    "roles_with",
    "runs_at",
    "runs_on",
    "walk_order",
]
