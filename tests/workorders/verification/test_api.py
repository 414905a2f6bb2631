"""The doors of the verification room."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction

from findings.register.models import Finding
from tests.makers import NOW, make_site
from tests.people import api_as
from tests.workorders.scene import after_reading, heard, ordered, repaired
from workorders.verification.models import Verification

CHECK = NOW + timedelta(days=2)


def body_for(finding: Finding) -> dict[str, str]:
    """Read a finding silent after its repair, and return what asks for the verdict."""
    return {"finding_id": str(finding.pk), "reading_id": str(after_reading(finding, CHECK).pk)}


@pytest.fixture
def finding(db: None) -> Finding:
    """Return a finding that waits for its check."""
    found = heard()
    repaired(ordered(found))
    found.refresh_from_db()
    return found


class TestVerifications:
    def test_answer_the_verdict_with_its_reasons(self, finding: Finding) -> None:
        answer = api_as("inspector", finding.site).post("/verifications", body_for(finding))

        assert (answer.status_code, answer.json()["verdict"]) == (201, "passed")
        assert [reason["code"] for reason in answer.json()["reasons"]] == ["nothing_heard"]

    def test_take_the_right_to_verify(self, finding: Finding) -> None:
        answer = api_as("technician", finding.site).post("/verifications", body_for(finding))

        assert answer.status_code == 403
        assert not Verification.objects.exists()

    def test_of_a_foreign_finding_are_refused_as_unknown(self, finding: Finding) -> None:
        answer = api_as("inspector", make_site()).post("/verifications", body_for(finding))

        assert answer.json()["code"] == "unknown_reference"

    def test_are_listed_by_verdict(self, finding: Finding) -> None:
        api = api_as("inspector", finding.site)
        made = api.post("/verifications", body_for(finding)).json()

        rows = [api.get("/verifications", verdict=word).json()["results"] for word in ("passed", "failed")]

        assert [[row["id"] for row in found] for found in rows] == [[made["id"]], []]

    def test_are_hidden_from_other_sites(self, finding: Finding) -> None:
        made = api_as("inspector", finding.site).post("/verifications", body_for(finding)).json()

        assert api_as("manager", make_site()).get(f"/verifications/{made['id']}").status_code == 404

    def test_are_never_rewritten(self, finding: Finding) -> None:
        api_as("inspector", finding.site).post("/verifications", body_for(finding))

        with pytest.raises(DatabaseError, match="only added"), transaction.atomic():
            Verification.objects.update(verdict="failed")
