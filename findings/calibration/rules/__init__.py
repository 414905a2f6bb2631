"""What a calibration leak has to be, and what a set of them teaches."""

from findings.calibration.rules.fits import (
    MOST_LEAKS,
    USUAL,
    Coefficient,
    Fit,
    Setup,
    Taught,
    fit_of,
    model_of,
)
from findings.calibration.rules.leaks import (
    AIRBORNE,
    LARGEST_RELATIVE_U,
    LEAST_ABOVE_BACKGROUND_DB,
    MEASURED,
    NewLeak,
    normalised,
    problems_of,
)

__all__ = [
    "AIRBORNE",
    "LARGEST_RELATIVE_U",
    "LEAST_ABOVE_BACKGROUND_DB",
    "MEASURED",
    "MOST_LEAKS",
    "USUAL",
    "Coefficient",
    "Fit",
    "NewLeak",
    "Setup",
    "Taught",
    "fit_of",
    "model_of",
    "normalised",
    "problems_of",
]
