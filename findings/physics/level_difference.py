"""The difference of two levels that were read."""

import math

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Status


def level_difference(
    level_db: float, other_db: float, level_u_db: float, *, method: str, version: str
) -> Estimate:
    """Return the first level less the other in dB, each with the standard uncertainty ``level_u_db``.

    All numbers finite, else ValueError.
    """
    value, u = level_db - other_db, math.sqrt(2.0) * abs(level_u_db)
    bounds = uncertainty.interval(value, u)
    return Estimate(
        value=value,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit="dB",
        method=method,
        method_version=version,
        status=Status.MEASURED,
        inputs={"level_db": level_db, "other_level_db": other_db},
    )
