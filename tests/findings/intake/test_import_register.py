"""Register sheets: areas, assets, measuring points, systems, instruments, stops."""

import io
from typing import Any

import pytest

from findings.plant.models import Area, Asset, MeasuringPoint
from findings.routes.models import Stop
from findings.supply.models import Connection, SupplySystem
from tests.makers import make_area, make_asset, make_point, make_site, make_system
from tests.people import api_as

pytestmark = pytest.mark.django_db


class Case:
    """A site with one area, and a planner."""

    def __init__(self) -> None:
        self.site = make_site()
        self.area = make_area(self.site, code="WRAP")
        self.api = api_as("planner", self.site)

    def send(self, kind: str, text: str, **fields: Any) -> Any:
        """Send a sheet of that kind."""
        file = io.BytesIO(text.encode())
        file.name = f"{kind}.csv"
        return self.api.upload(
            "/imports", {"site_id": str(self.site.pk), "kind": kind, "file": file, **fields}
        )


@pytest.fixture
def case() -> Case:
    return Case()


def outcomes(answer: Any) -> list[tuple[str, str]]:
    return [(row["verdict"], row["outcome"]) for row in answer.json()["rows"]]


def test_a_tree_is_loaded_even_with_parts_before_their_parents(case: Case) -> None:
    answer = case.send("assets", "Code;Name;Area;Parent\nWR-1-DRV;Drive;WRAP;WR-1\nWR-1;Wrapper;WRAP;")

    assert outcomes(answer) == [("taken", "added"), ("taken", "added")]
    assert Asset.objects.get(code="WR-1-DRV").parent == Asset.objects.get(code="WR-1")


def test_an_assets_supplies_are_connected(case: Case) -> None:
    system = make_system(case.site, code="AIR7")
    case.send("assets", "Code;Name;Area;Supply\nWR-1;Wrapper;WRAP;AIR7")

    assert Connection.objects.get().system == system


def test_a_missing_parent_is_named(case: Case) -> None:
    answer = case.send("assets", "Code;Name;Area;Parent\nWR-1-DRV;Drive;WRAP;WR-9")

    assert answer.status_code == 422
    assert "parent “WR-9”" in answer.json()["rows"][0]["notes"][0]["text"]


def test_a_known_code_with_the_same_values_is_known(case: Case) -> None:
    text = "Code;Name\nOVEN;Oven hall"
    case.send("areas", text)
    answer = case.send("areas", text + "\nSTORE;Store")

    assert outcomes(answer) == [("known", "known"), ("taken", "added")]
    assert Area.objects.filter(site=case.site).count() == 3


def test_a_known_code_with_other_values_is_doubtful_and_changed_when_accepted(case: Case) -> None:
    text = "Code;Name\nWRAP;Wrapping, new hall"

    assert case.send("areas", text).json()["rows"][0]["verdict"] == "doubtful"
    assert outcomes(case.send("areas", text, accept_doubtful="true")) == [("doubtful", "changed")]
    case.area.refresh_from_db()
    assert case.area.name == "Wrapping, new hall"


def test_a_code_twice_in_the_sheet_is_refused(case: Case) -> None:
    answer = case.send("areas", "Code;Name\nA;One\na;Two", strictness="good_rows")

    assert outcomes(answer) == [("taken", "added"), ("refused", "")]


def test_points_are_loaded_onto_their_assets(case: Case) -> None:
    make_asset(area=case.area, code="WR-1")
    case.send("measuring_points", "Code;Asset;Name;Method;Medium\nWR-1-01;wr-1;hose;airborne;compressed air")

    point = MeasuringPoint.objects.get()
    assert (point.code, point.medium, point.name) == ("WR-1-01", "compressed_air", "hose")


def test_a_system_is_loaded_in_the_sheets_unit(case: Case) -> None:
    case.send("supply_systems", "Code;Name;Medium;Pressure [bar]\nAIR7;Plant air;compressed air;7")

    assert SupplySystem.objects.get().pressure_gauge_pa == 700_000.0


def test_an_instrument_is_loaded_with_its_calibration(case: Case) -> None:
    answer = case.send("instruments", "Code;Name;Calibration due\nD-1;Detector;2027-05-01")

    assert outcomes(answer) == [("taken", "added")]


def test_a_route_takes_its_stops_in_the_order_of_their_position(case: Case) -> None:
    points = [make_point(asset=make_asset(area=case.area), code=f"P-0{n}") for n in (1, 2)]
    case.send("route_stops", "Route;Position;Point\nR1;2;P-01\nR1;1;P-02")

    assert list(Stop.objects.order_by("position").values_list("point_id", flat=True)) == [
        points[1].pk,
        points[0].pk,
    ]
