"""Make the plant that is walked: `python -m tests.faults.seeding POINTS` prints its ids."""

import json
import sys
from datetime import timedelta

import django

POINTS_AT_ONCE = 500


def main(points: int) -> None:
    """Make one site with a detector, an old walk, many points and three people with keys."""
    # Django has to be up before anything with models is imported.
    from django.utils import timezone  # noqa: PLC0415

    from findings.plant.models import MeasuringPoint  # noqa: PLC0415
    from findings.plant.rules import Right  # noqa: PLC0415
    from plantcare.people.actions import issue_key  # noqa: PLC0415
    from tests import makers, people  # noqa: PLC0415

    now = timezone.now()
    site = makers.make_site("TBW")
    asset = makers.make_asset(site)
    makers.make_connection(asset, makers.make_priced_system(site))
    instrument = makers.make_instrument(site)
    survey = makers.make_survey(site, instrument=instrument, started_at=now - timedelta(days=60))
    made = [
        MeasuringPoint(
            site=site, asset=asset, code=f"P{n}", method="airborne", created_at=now - timedelta(days=90)
        )
        for n in range(points)
    ]
    MeasuringPoint.objects.bulk_create(made, batch_size=POINTS_AT_ONCE)
    keys = {}
    for role in ("inspector", "technician", "manager"):
        _, keys[role] = issue_key(
            user=people.member(site, role),
            name="walk",
            scopes=[right.value for right in Right],
            at=now,
            expires_at=now + timedelta(days=30),
        )
    print(  # noqa: T201 - its output is what it is for
        json.dumps(
            {
                "site": str(site.pk),
                "survey": str(survey.pk),
                "instrument": str(instrument.pk),
                "points": [str(point.pk) for point in made],
                "keys": keys,
            }
        )
    )


if __name__ == "__main__":
    django.setup()
    main(int(sys.argv[1]))
