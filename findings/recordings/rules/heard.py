"""Take from a kept result what the rooms above judge by; the samples aren't needed for it.

With what a room knows of the machine it finds the parts of a bearing by ``rhythm.hits(lines_in(result), …)``
and the class of a discharge by ``discharge.classify(features_in(result), nominal_v=…, rising=…)``.
"""

from collections.abc import Mapping
from typing import Any

from findings.sound.discharge import Features
from findings.sound.rhythm import Line


def lines_in(result: Mapping[str, Any]) -> tuple[Line, ...]:
    """Return the lines of the envelope's spectrum by frequency, Hz and dB; none where nothing was heard."""
    return tuple(Line(**line) for line in result.get("lines") or ())


def features_in(result: Mapping[str, Any]) -> Features | None:
    """Return the figures by which a discharge is told; None where the recording is too short for them."""
    kept = result.get("discharge_features")
    return None if kept is None else Features(**kept)
