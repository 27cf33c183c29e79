"""Weather stations around a yard, read from a small sample written for these tests."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from pytest_httpserver import HTTPServer

from drywind.errors import WeatherError
from drywind.weather.http import Getter
from drywind.weather.nws_stations import find_stations, parse_stations

DATA = Path(__file__).parent / "data"
YARD = (37.25, -80.5, 600.0)


def sample(name: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads((DATA / name).read_text())
    return body


def test_stations_within_reach_come_nearest_first_with_distance_and_rise() -> None:
    """Distances: pyproj 3.7, WGS84 ellipsoid; a sphere is off by up to half a percent."""
    stations = parse_stations(sample("nws_stations.json"), *YARD)

    assert [station.id for station in stations] == ["KXYZ", "KHIL", "K9Z9"]
    distances = [station.distance_km for station in stations]
    assert distances == pytest.approx([9.14, 27.75, 35.49], rel=0.005)
    assert [station.rise_m for station in stations] == pytest.approx(
        [40.0, 330.5, math.nan], nan_ok=True
    )
    assert stations[0].name == "Creek Flat Airport"


def test_a_quarter_of_the_globe_is_too_far() -> None:
    with pytest.raises(WeatherError, match="no weather station is known within 50 km"):
        parse_stations(sample("nws_stations.json"), 0.0, 10.0, 0.0)


@pytest.mark.parametrize("code", [None, 7, "", "../../alerts", "KXYZ?x=1", "KX/YZ"])
def test_a_station_whose_name_could_lead_elsewhere_is_left_out(code: object) -> None:
    body = sample("nws_stations.json")
    body["features"][2]["properties"]["stationIdentifier"] = code

    assert [station.id for station in parse_stations(body, *YARD)] == ["KHIL", "K9Z9"]


@pytest.mark.parametrize("place", [None, [], [-80.4], [-80.4, "37"], [1e999, 37.2], [None, None]])
def test_a_station_without_a_place_is_left_out(place: object) -> None:
    body = sample("nws_stations.json")
    body["features"][2]["geometry"]["coordinates"] = place

    assert [station.id for station in parse_stations(body, *YARD)] == ["KHIL", "K9Z9"]


def test_stations_are_found_on_our_own_base_address(httpserver: HTTPServer) -> None:
    """The answer names api.weather.gov; every request must still come to the loopback server."""
    named = {"observationStations": "https://api.weather.gov/gridpoints/XYZ/12,34/stations"}
    httpserver.expect_ordered_request("/points/37.25,-80.5").respond_with_json(
        {"properties": named}
    )
    httpserver.expect_ordered_request("/gridpoints/XYZ/12,34/stations").respond_with_json(
        sample("nws_stations.json")
    )

    stations = find_stations(Getter("yard@mill.example"), httpserver.url_for("/"), *YARD)

    httpserver.check()
    assert len(stations) == 3


@pytest.mark.parametrize("url", [None, 7, "", "/gridpoints/XYZ/1,2/stations", "https://a.b/x"])
def test_a_points_answer_that_names_no_stations_is_refused(
    httpserver: HTTPServer, url: object
) -> None:
    httpserver.expect_request("/points/37.25,-80.5").respond_with_json(
        {"properties": {"observationStations": url}}
    )

    with pytest.raises(WeatherError, match="names no weather stations"):
        find_stations(Getter("yard@mill.example"), httpserver.url_for(""), *YARD)
