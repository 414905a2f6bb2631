"""The command that computes a site's assessments once more."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from findings.register.models import Assessment, Finding
from tests.findings.chain import LATER, Plant
from tests.makers import NOW

pytestmark = pytest.mark.django_db


def printed(code: str) -> str:
    out = StringIO()
    call_command("recompute_assessments", code, stdout=out)
    return out.getvalue()


class TestRecomputeAssessments:
    def test_counts_what_is_the_same(self):
        plant = Plant()
        plant.leak(6.0)
        Plant().leak(6.0)

        assert printed(plant.site.code).startswith("1 computed again: 1 same, 0 changed")

    def test_tells_each_that_differs_with_its_finding(self):
        plant = Plant()
        finding = plant.take(hole_diameter_m=0.002, edge="sharp").finding
        real = Assessment.objects.get(finding=finding)
        older = Assessment.objects.create(
            site=plant.site,
            finding=finding,
            method="orifice",
            method_version="1",
            status="estimated",
            leak_rate_m3_per_s=real.leak_rate_m3_per_s / 1.25,
            u_m3_per_s=0.0,
            low_m3_per_s=0.0,
            high_m3_per_s=1.0,
            inputs=real.inputs,
            at=NOW,
            recorded_at=LATER,
        )
        Finding.objects.filter(pk=finding.pk).update(standing=older)

        (told, _) = printed(plant.site.code).splitlines()

        assert told.startswith(f"F-{finding.number}: ")
        assert told.endswith("Changed by +25 %.")

    def test_of_an_unknown_site_is_refused(self):
        with pytest.raises(CommandError, match="No site has the code"):
            printed("NOWHERE")
