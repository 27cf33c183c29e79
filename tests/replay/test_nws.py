"""The weather service's grid, read from small samples written for these tests in its format."""

import json
import math
import subprocess
import sys
from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from pytest_httpserver import HTTPServer

from drywind.errors import WeatherError
from drywind.weather import nws
from drywind.weather.forecast import Forecast
from drywind.weather.http import Getter

DATA = Path(__file__).parent / "data"


def sample(name: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads((DATA / name).read_text())
    return body


def at(day: int, hour: int) -> datetime:
    return datetime(2026, 3, day, hour, tzinfo=UTC)


@pytest.fixture(scope="module")
def forecast() -> Forecast:
    return nws.parse_grid(sample("nws_grid.json"))


@pytest.fixture(scope="module")
def odd() -> Forecast:
    return nws.parse_grid(sample("nws_grid_odd.json"))


def values(forecast: Forecast, column: str) -> list[float]:
    return [float(value) for value in forecast.table[column]]


def test_a_run_gives_its_value_to_every_hour_it_spans(forecast: Forecast) -> None:
    expected = [-10 / 9] * 3 + [0.0] + [5.0] * 2 + [10.0] + [15.0] * 6 + [10.0] * 4 + [5.0] * 20

    assert values(forecast, "temp_c") == pytest.approx(expected)


def test_a_run_longer_than_a_day_reaches_its_last_hour_and_no_further(
    forecast: Forecast,
) -> None:
    assert values(forecast, "cloud") == pytest.approx([0.0] * 26 + [0.87] * 11)


def test_precipitation_is_spread_over_its_run_and_unknown_where_nobody_gave_it(
    forecast: Forecast,
) -> None:
    expected = [0.5] * 3 + [0.0] * 3 + [math.nan] * 6 + [1.2] * 6 + [math.nan] * 19

    assert values(forecast, "rain_mm") == pytest.approx(expected, nan_ok=True)


def test_kilometers_per_hour_become_meters_per_second_and_null_becomes_unknown(
    forecast: Forecast,
) -> None:
    expected = [0.0] * 4 + [5.14444] * 2 + [math.nan] + [2.57222] * 30

    assert values(forecast, "wind_ms") == pytest.approx(expected, abs=1e-5, nan_ok=True)


def test_zero_is_a_value_and_not_a_gap(forecast: Forecast) -> None:
    hour = forecast.table.loc[at(14, 9)]

    assert (hour["temp_c"], hour["wind_ms"], hour["wind_dir_deg"], hour["cloud"]) == (0, 0, 0, 0)
    assert hour["rain_mm"] == 0


def test_humidity_comes_from_the_dew_point_only_where_none_is_given(
    forecast: Forecast,
) -> None:
    """Oracle: the Magnus formula of Alduchov and Eskridge (1996), eq. 21 (from memory)."""

    def magnus(temp_c: float) -> float:
        return math.exp(17.625 * temp_c / (243.04 + temp_c))

    humidity = forecast.table["rh"]

    for hour, temp_c in ((at(14, 9), 0.0), (at(14, 12), 10.0), (at(15, 18), 5.0)):
        assert humidity[hour] == pytest.approx(magnus(-10 / 9) / magnus(temp_c), abs=0.003)
    assert humidity[at(14, 10)] == pytest.approx(0.64)


def test_the_table_starts_before_the_issue_and_ends_with_the_last_whole_hour(
    forecast: Forecast,
) -> None:
    assert forecast.issued_at == datetime(2026, 3, 14, 10, 42, 10, tzinfo=UTC)
    assert forecast.table.index[0] == at(14, 6)
    assert forecast.table.index[-1] == at(15, 18)
    assert set(forecast.table["source"]) == {"nws"}
    assert set(forecast.table["issued_at"]) == {forecast.issued_at}


def test_an_empty_layer_without_a_unit_is_absent_and_no_fault(forecast: Forecast) -> None:
    assert forecast.table["gust_ms"].isna().all()
    assert forecast.dropped == {}


def test_a_layer_in_an_unknown_unit_is_refused_and_counted(odd: Forecast) -> None:
    assert odd.table["gust_ms"].isna().all()
    assert odd.dropped["gust_ms"] == 2


def test_wind_in_meters_per_second_is_left_as_it_is(odd: Forecast) -> None:
    assert values(odd, "wind_ms") == [3.0] * 24


def test_an_impossible_temperature_is_unknown_and_counted(odd: Forecast) -> None:
    hour = datetime(2026, 7, 1, 18, tzinfo=UTC)

    assert math.isnan(odd.table["temp_c"][hour])
    assert math.isnan(odd.table["rh"][hour])
    assert odd.dropped["temp_c"] == 1


def test_a_dew_point_above_the_temperature_gives_no_humidity_but_rounding_is_forgiven(
    odd: Forecast,
) -> None:
    humidity = odd.table["rh"]

    assert math.isnan(humidity[datetime(2026, 7, 1, 21, tzinfo=UTC)])
    assert humidity[datetime(2026, 7, 1, 22, tzinfo=UTC)] == 1.0
    assert odd.dropped["dewpoint_c"] == 1


def test_a_run_that_cannot_be_read_is_counted_and_the_others_stand(odd: Forecast) -> None:
    known = odd.table["wind_dir_deg"].dropna()

    assert list(known) == [180.0] * 5
    assert odd.dropped == {"temp_c": 1, "dewpoint_c": 1, "gust_ms": 2, "wind_dir_deg": 1}


@pytest.mark.parametrize(
    "lost", [("temperature",), ("windSpeed",), ("relativeHumidity", "dewpoint")]
)
def test_a_grid_without_what_drying_needs_is_no_forecast(lost: tuple[str, ...]) -> None:
    body = sample("nws_grid.json")
    for layer in lost:
        del body["properties"][layer]

    with pytest.raises(WeatherError, match="no hour with temperature, humidity and wind"):
        nws.parse_grid(body)


@pytest.mark.parametrize("stamp", [None, "", "yesterday", "2026-03-14T10:42:10", 1773484930])
def test_a_grid_that_does_not_say_when_it_was_issued_is_no_forecast(stamp: object) -> None:
    body = sample("nws_grid.json")
    body["properties"]["updateTime"] = stamp

    with pytest.raises(WeatherError, match="when it was issued"):
        nws.parse_grid(body)


@pytest.mark.parametrize("value", [True, "7", [7], {"value": 7}, 10**400])
def test_a_value_that_is_no_number_is_counted_and_never_guessed(value: object) -> None:
    body = sample("nws_grid.json")
    body["properties"]["windDirection"]["values"][0]["value"] = value

    forecast = nws.parse_grid(body)

    assert forecast.table["wind_dir_deg"].first_valid_index() == at(15, 0)
    assert forecast.dropped == {"wind_dir_deg": 1}


def test_a_run_written_with_another_offset_lands_on_whole_utc_hours() -> None:
    body = sample("nws_grid.json")
    body["properties"]["skyCover"]["values"] = [
        {"validTime": "2026-03-14T11:30:00+05:30/PT2H", "value": 50}
    ]

    cloud = nws.parse_grid(body).table["cloud"].dropna()

    assert cloud.to_dict() == {at(14, 6): 0.5, at(14, 7): 0.5}


def test_an_hour_far_from_the_issue_is_refused() -> None:
    body = sample("nws_grid.json")
    stray = {"validTime": "1970-01-01T00:00:00+00:00/PT1H", "value": 4}
    body["properties"]["temperature"]["values"].append(stray)

    forecast = nws.parse_grid(body)

    assert forecast.table.index[0] == at(14, 6)
    assert forecast.dropped == {"temp_c": 1}


def test_parsing_does_not_change_the_answer() -> None:
    body = sample("nws_grid.json")
    before = deepcopy(body)

    nws.parse_grid(body)

    assert body == before


def test_metpy_is_not_loaded_when_humidity_is_given() -> None:
    """MetPy costs over a second and 100 MB, which a small computer need not spend."""
    body = sample("nws_grid.json")
    del body["properties"]["dewpoint"]
    program = (
        "import json, sys; from drywind.weather import nws;"
        "nws.parse_grid(json.load(sys.stdin)); print('metpy' in sys.modules)"
    )

    done = subprocess.run(
        [sys.executable, "-c", program],
        input=json.dumps(body),
        capture_output=True,
        text=True,
        check=True,
    )

    assert done.stdout.strip() == "False"


def test_the_points_answer_names_the_grid_cell() -> None:
    url = nws.parse_points(sample("nws_points.json"))

    assert url == "https://api.weather.gov/gridpoints/XYZ/12,34"


@pytest.mark.parametrize(
    "url", [None, 7, "", "/gridpoints/XYZ/1,2", "@evil.example/gridpoints/XYZ/1,2", "https://a.b/x"]
)
def test_a_points_answer_that_names_no_grid_cell_is_refused(url: object) -> None:
    with pytest.raises(WeatherError, match="no forecast grid"):
        nws.parse_points({"properties": {"forecastGridData": url}})


def test_a_place_is_looked_up_and_its_cell_asked_on_our_own_base_address(
    httpserver: HTTPServer,
) -> None:
    """The sample names api.weather.gov; every request must still come to the loopback server."""
    httpserver.expect_ordered_request("/points/37.25,-80.5").respond_with_json(
        sample("nws_points.json")
    )
    httpserver.expect_ordered_request("/gridpoints/XYZ/12,34").respond_with_json(
        sample("nws_grid.json")
    )

    forecast, cell_url = nws.fetch(
        Getter("yard@mill.example"), httpserver.url_for("/"), 37.25000001, -80.5
    )

    httpserver.check()
    assert len(forecast.table) == 37
    assert cell_url == "https://api.weather.gov/gridpoints/XYZ/12,34"


def test_a_known_cell_is_asked_without_looking_the_place_up(httpserver: HTTPServer) -> None:
    httpserver.expect_ordered_request("/gridpoints/XYZ/12,34").respond_with_json(
        sample("nws_grid.json")
    )
    known = "https://api.weather.gov/gridpoints/XYZ/12,34"

    _, cell_url = nws.fetch(
        Getter("yard@mill.example"), httpserver.url_for(""), 37.25, -80.5, known
    )

    assert cell_url == known
    assert len(httpserver.log) == 1
