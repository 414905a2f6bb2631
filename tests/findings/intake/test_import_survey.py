"""A technician's survey sheet becomes readings and findings, once."""

import io
import json
from typing import Any

import openpyxl
import pytest

from findings.intake.models import Import
from findings.logbook.models import Entry
from findings.plant.models import MeasuringPoint
from findings.readings.models import Reading
from findings.register.models import Finding
from findings.surveys.models import Survey
from tests.makers import (
    make_asset,
    make_connection,
    make_instrument,
    make_point,
    make_priced_system,
    make_site,
)
from tests.people import Api, api_as, api_for, make_user

pytestmark = pytest.mark.django_db

HEADER = "Date;Time;Asset;Spot;Kind;Medium;Pressure [psi];Hole [mm];Level;Note"
GOOD = "10.03.2026;08:00;WR-1;hose;pressure leak;compressed air;100;1,5;62,5;hisses"


class Case:
    """A site with one wrapper fed by compressed air, and an inspector."""

    def __init__(self) -> None:
        self.site = make_site()
        system = make_priced_system(self.site)
        self.asset = make_asset(self.site, code="WR-1")
        make_connection(self.asset, system)
        self.point = make_point(asset=self.asset, code="WR-1-01", name="hose", medium="compressed_air")
        self.api: Api = api_as("inspector", self.site)

    def send(self, content: str | bytes, path: str = "/imports", **fields: Any) -> Any:
        """Send a file as a browser or curl would."""
        raw = content.encode() if isinstance(content, str) else content
        file = io.BytesIO(raw)
        file.name = fields.pop("file_name", "walk.csv")
        return self.api.upload(path, {"site_id": str(self.site.pk), "file": file, **fields})


@pytest.fixture
def case() -> Case:
    return Case()


def sheet(*rows: str) -> str:
    return "\n".join([HEADER, *rows])


def verdicts(answer: Any) -> list[tuple[int, str]]:
    return [(row["row"], row["verdict"]) for row in answer.json()["rows"]]


class TestTaking:
    """A real run."""

    def test_a_good_row_becomes_a_costed_finding(self, case: Case) -> None:
        answer = case.send(sheet(GOOD))

        assert answer.status_code == 201, answer.json()
        finding = Finding.objects.get()
        assert answer.json()["rows"][0]["made_id"] == str(finding.pk)
        assert float(finding.leak_rate_m3_per_s or 0) > 0

    def test_units_are_kept_as_sent_beside_si(self, case: Case) -> None:
        case.send(sheet(GOOD))

        reading = Reading.objects.get()
        assert reading.pressure_gauge_pa == pytest.approx(689_475.729)
        assert reading.as_sent["cells"]["Pressure [psi]"] == "100"

    def test_the_same_file_again_changes_nothing(self, case: Case) -> None:
        first = case.send(sheet(GOOD))
        entries = Entry.objects.count()
        again = case.send(sheet(GOOD))

        assert (again.status_code, again.json()["taken_before"]) == (200, True)
        assert again.json()["import_id"] == first.json()["import_id"]
        assert (Reading.objects.count(), Entry.objects.count(), Import.objects.count()) == (1, entries, 1)

    def test_a_longer_file_takes_only_the_new_rows(self, case: Case) -> None:
        case.send(sheet(GOOD))
        answer = case.send(sheet(GOOD, GOOD.replace("08:00", "09:00")))

        assert verdicts(answer) == [(2, "known"), (3, "taken")]
        assert Finding.objects.count() == 1

    def test_a_repeated_row_counts_once(self, case: Case) -> None:
        answer = case.send(sheet(GOOD, GOOD))

        assert verdicts(answer) == [(2, "taken"), (3, "known")]
        assert Reading.objects.count() == 1

    def test_a_blank_row_is_passed_over(self, case: Case) -> None:
        answer = case.send(sheet(GOOD, ";;;;;;;;;"))

        assert verdicts(answer) == [(2, "taken")]

    def test_a_row_without_kind_is_a_quiet_point(self, case: Case) -> None:
        answer = case.send(sheet("10.03.2026;08:00;WR-1;hose;;;;;20;"))

        assert answer.json()["rows"][0]["outcome"] == "quiet"
        assert Finding.objects.count() == 0

    def test_a_workbook_is_taken_like_text(self, case: Case) -> None:
        book = openpyxl.Workbook()
        for line in (HEADER.split(";"), GOOD.replace("1,5", "1.5").replace("62,5", "62.5").split(";")):
            book.active.append(line)
        out = io.BytesIO()
        book.save(out)

        assert case.send(out.getvalue(), file_name="walk.xlsx").status_code == 201

    def test_the_survey_is_named_by_file_and_day(self, case: Case) -> None:
        case.send(sheet(GOOD))

        survey = Survey.objects.get()
        assert (survey.code, survey.ended_at is not None) == ("walk 2026-03-10", True)


class TestRefusing:
    """What stops a row, and what it stops with it."""

    @pytest.mark.parametrize(
        ("row", "code"),
        [
            (GOOD.replace("WR-1", "WR-9"), "unknown_asset"),
            (GOOD.replace("pressure leak", ""), "kind_missing"),
            (GOOD.replace("10.03.2026", "31.02.2026"), "not_a_date"),
            (GOOD.replace("62,5", "loud"), "not_a_number"),
            (GOOD.replace(";100;", ";-9999;"), None),
            (GOOD.replace("1,5", "-1"), None),
        ],
    )
    def test_a_bad_row_sinks_the_file_when_all_or_nothing(
        self, case: Case, row: str, code: str | None
    ) -> None:
        answer = case.send(sheet(GOOD, row))

        assert (answer.status_code, answer.json()["code"]) == (422, "import_refused")
        assert answer.json()["rows"][0]["row"] == 3
        assert code is None or code in {note["code"] for note in answer.json()["rows"][0]["notes"]}
        assert (Reading.objects.count(), Survey.objects.count(), Entry.objects.count()) == (0, 0, 0)

    def test_good_rows_are_taken_when_asked(self, case: Case) -> None:
        answer = case.send(sheet(GOOD, GOOD.replace("WR-1", "WR-9")), strictness="good_rows")

        assert verdicts(answer) == [(2, "taken"), (3, "refused")]
        assert Reading.objects.count() == 1

    def test_a_new_spot_is_doubtful_until_accepted(self, case: Case) -> None:
        row = sheet(GOOD.replace("hose", "elbow"))

        assert case.send(row).status_code == 422
        assert case.send(row, accept_doubtful="true").status_code == 201
        assert MeasuringPoint.objects.filter(name="elbow", asset=case.asset).count() == 1

    def test_an_unknown_instrument_is_doubtful(self, case: Case) -> None:
        make_instrument(case.site, code="D-1")
        text = f"{HEADER};Instrument\n{GOOD};D-7"

        assert case.send(text).json()["rows"][0]["notes"][0]["code"] == "unknown_instrument"

    def test_a_column_without_unit_is_refused_with_its_pointer(self, case: Case) -> None:
        answer = case.send("Point;Date;Pressure\nWR-1-01;10.03.2026;7")

        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (
            422,
            "/mapping/columns/Pressure/unit",
        )

    def test_a_file_of_nonsense_is_refused(self, case: Case) -> None:
        assert case.send(b"PK\x03\x04nonsense").json()["code"] == "file_unreadable"


class TestTrying:
    """A dry run."""

    def test_it_tells_what_the_real_run_does_and_keeps_nothing(self, case: Case) -> None:
        text = sheet(GOOD, GOOD.replace("WR-1", "WR-9"), GOOD.replace("hose", "elbow"))
        answer = case.send(text, "/import-trials")

        assert (answer.status_code, answer.json()["is_dry_run"]) == (200, True)
        assert verdicts(answer) == [(2, "taken"), (3, "refused"), (4, "doubtful")]
        assert (Reading.objects.count(), Survey.objects.count(), Entry.objects.count()) == (0, 0, 0)

    def test_it_takes_a_mapping_with_it(self, case: Case) -> None:
        mapping = {
            "columns": {
                "Wo": {"field": "point"},
                "Wann": {"field": "taken_at"},
                "Was": {"field": "kind", "words": {"Luft": "pressure_leak"}},
                "Loch": {"field": "hole_diameter_m", "unit": "mm"},
            },
            "decimal": "comma",
        }
        text = "Wo;Wann;Was;Loch\nWR-1-01;10.03.2026 08:00;Luft;1,250"
        answer = case.send(text, "/import-trials", mapping=json.dumps(mapping))

        assert verdicts(answer) == [(2, "taken")]


class TestAccess:
    """Who may."""

    def test_a_stranger_does_not_learn_that_the_site_exists(self, case: Case) -> None:
        case.api = api_for(make_user())

        assert case.send(sheet(GOOD)).status_code in {400, 404}
        assert Reading.objects.count() == 0

    def test_a_role_without_the_right_is_refused(self, case: Case) -> None:
        case.api = api_as("integrator", case.site, scopes=["view"])

        assert case.send(sheet(GOOD)).status_code == 403
        assert Reading.objects.count() == 0
