"""Read the instruments."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import QuerySet

from findings.detectors.models import Instrument
from findings.plant.rules import local_day


def instruments() -> QuerySet[Instrument]:
    """Return all instruments with their sites, retired ones too."""
    return Instrument.objects.select_related("site")


def day_at(instrument: Instrument, at: datetime) -> date:
    """Return the day of a moment by the clocks of the instrument's site."""
    return local_day(at, instrument.site.time_zone)
