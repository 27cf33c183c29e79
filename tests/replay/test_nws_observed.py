"""Stations' reports, read from a small sample written for these tests in their format."""

import json
import math
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pytest_httpserver import HTTPServer

from drywind.errors import WeatherError
from drywind.weather.forecast import Forecast
from drywind.weather.http import Getter
from drywind.weather.nws_observed import fetch, parse_observations
from drywind.weather.nws_stations import Station

DATA = Path(__file__).parent / "data"
NEAR = Station("KXYZ", "Creek Flat Airport", 9.1, 40.0)


def sample(name: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads((DATA / name).read_text())
    return body


def at(hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 6, 13, hour, minute, tzinfo=UTC)


def body_of(*reports: dict[str, Any]) -> dict[str, Any]:
    return {"features": [{"properties": report} for report in reports]}


def report(time: datetime, **quantities: Any) -> dict[str, Any]:
    """Write a plain report of 20 °C, 50 % and 10 m/s; other quantities may be given or changed."""
    return {
        "timestamp": time.isoformat(),
        "temperature": {"unitCode": "wmoUnit:degC", "value": 20, "qualityControl": "V"},
        "relativeHumidity": {"unitCode": "wmoUnit:percent", "value": 50, "qualityControl": "V"},
        "windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 36, "qualityControl": "V"},
    } | quantities


def read(*reports: dict[str, Any]) -> Forecast:
    return parse_observations([body_of(*reports)], at(0), at(23))


@pytest.fixture(scope="module")
def observed() -> Forecast:
    return parse_observations([sample("nws_observations.json")], at(12), at(17))


def values(observed: Forecast, column: str) -> list[float]:
    return [float(value) for value in observed.table[column]]


def test_an_hour_is_told_by_the_report_nearest_its_beginning(observed: Forecast) -> None:
    """14:20 is nearer the hour's middle, but a forecast's hours mean their beginning too."""
    assert list(observed.table.index) == [at(12), at(13), at(14), at(15), at(16)]
    assert observed.table["temp_c"][at(14)] == 31.1
    assert observed.table["wind_dir_deg"][at(16)] == 230


def test_what_the_nearest_report_lacks_comes_from_the_next_nearest(observed: Forecast) -> None:
    """The special report of 14:58 gives wind and cloud only."""
    hour = observed.table.loc[at(15)]

    assert (hour["temp_c"], hour["rh"]) == (24.4, pytest.approx(0.764))
    assert (hour["wind_ms"], hour["gust_ms"]) == (pytest.approx(11.3), pytest.approx(18.0))
    assert hour["cloud"] == 1.0


def test_a_report_more_than_half_an_hour_from_any_hour_asked_for_tells_nothing() -> None:
    observed = read(report(at(9, 29)), report(at(11, 30)))

    assert list(observed.table.index[observed.table["temp_c"].notna()]) == [at(9), at(12)]


def test_rain_is_that_of_the_hour_before_the_report_and_never_counted_twice(
    observed: Forecast,
) -> None:
    """7.1 mm fell by 14:53; the 0.3 and 0.5 of the reports between are parts of other totals."""
    expected = [math.nan, 0.0, 7.1, math.nan, math.nan]

    assert values(observed, "rain_mm") == pytest.approx(expected, nan_ok=True)


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        ((40, 53, 58), [math.nan, 3.0, math.nan]),
        ((60,), [math.nan, 3.0, math.nan]),
        ((10,), [math.nan, math.nan, math.nan]),
    ],
    ids=["the largest total of the second half", "on the full hour", "in the first half: of none"],
)
def test_rain_comes_from_the_second_half_of_its_hour(
    minutes: tuple[int, ...], expected: list[float]
) -> None:
    totals = {40: 1.0, 53: 3.0, 58: 0.4, 60: 3.0, 10: 2.0}
    wet = [
        report(
            at(9) + timedelta(minutes=minute),
            precipitationLastHour={"unitCode": "wmoUnit:mm", "value": totals[minute]},
        )
        for minute in minutes
    ]

    observed = read(report(at(8)), report(at(9)), *wet, report(at(10)))

    assert values(observed, "rain_mm") == pytest.approx(expected, nan_ok=True)


def test_cloud_is_that_of_the_layer_that_covers_most(
    observed: Forecast,
) -> None:
    assert values(observed, "cloud") == [0.0, 0.19, 0.44, 1.0, 0.0]


@pytest.mark.parametrize(
    "layers", [None, 7, [], {"amount": "OVC"}, [{"amount": "FEW"}, {"amount": "???"}], [["OVC"]]]
)
def test_the_sky_is_unknown_without_layers_and_where_one_cannot_be_read(layers: Any) -> None:
    observed = read(report(at(9), cloudLayers=layers))

    assert math.isnan(observed.table["cloud"][at(9)])


def test_a_calm_is_a_value_and_a_variable_direction_is_none(observed: Forecast) -> None:
    """The report of 14:20 gives a direction and a gust, but they belong to another wind."""
    assert observed.table["wind_ms"][at(13)] == 0.0
    assert observed.table["wind_ms"][at(14)] == pytest.approx(3.1)
    assert math.isnan(observed.table["gust_ms"][at(14)])
    assert math.isnan(observed.table["wind_dir_deg"][at(14)])


def test_humidity_comes_from_the_dew_point_of_the_same_report_where_none_is_given(
    observed: Forecast,
) -> None:
    """Oracle: the Magnus formula of Alduchov and Eskridge (1996), eq. 21 (from memory)."""

    def magnus(temp_c: float) -> float:
        return math.exp(17.625 * temp_c / (243.04 + temp_c))

    assert observed.table["rh"][at(16)] == pytest.approx(magnus(12.2) / magnus(31.7), abs=0.003)
    assert observed.table["rh"][at(14)] == pytest.approx(0.35)


def test_a_value_the_service_itself_rejects_is_unknown_and_counted(observed: Forecast) -> None:
    """71.1 °C carries the quality code X; the humidity beside it was found good and stays."""
    assert math.isnan(observed.table["temp_c"][at(13)])
    assert observed.table["rh"][at(13)] == pytest.approx(0.405)
    assert observed.dropped == {"temp_c": 1}


@pytest.mark.parametrize("code", ["V", "S", "C", "G", "Z", "qc:V", None])
def test_checked_and_unchecked_values_are_taken(code: str | None) -> None:
    quantity = {"unitCode": "unit:degC", "value": 21.5, "qualityControl": code}

    assert values(read(report(at(9), temperature=quantity)), "temp_c") == [21.5]


@pytest.mark.parametrize(
    "quantity",
    [
        {"unitCode": "wmoUnit:degC", "value": 21.5, "qualityControl": "Q"},
        {"unitCode": "wmoUnit:degC", "value": 21.5, "qualityControl": "B"},
        {"unitCode": "wmoUnit:degF", "value": 70.7, "qualityControl": "V"},
        {"unitCode": "wmoUnit:degC", "value": "21.5", "qualityControl": "V"},
        {"unitCode": "wmoUnit:degC", "value": True},
        {"unitCode": "wmoUnit:degC", "value": 10**400},
        {"unitCode": "wmoUnit:degC", "value": -100},
        {"value": 21.5},
        21.5,
    ],
    ids=repr,
)
def test_doubtful_impossible_and_unreadable_values_are_unknown_and_counted(quantity: Any) -> None:
    observed = read(report(at(9)), report(at(10), temperature=quantity), report(at(11)))

    assert math.isnan(observed.table["temp_c"][at(10)])
    assert observed.dropped == {"temp_c": 1}


def test_null_and_absent_quantities_are_unknown_and_no_fault() -> None:
    null = {"unitCode": "wmoUnit:mm", "value": None, "qualityControl": "Z"}

    observed = read(report(at(9, 53), precipitationLastHour=null))

    assert observed.table[["rain_mm", "gust_ms", "wind_dir_deg", "cloud"]].isna().all(axis=None)
    assert observed.dropped == {}


def test_rain_in_meters_is_a_thousand_times_that_in_millimeters() -> None:
    rain = {"unitCode": "unit:m", "value": 0.0023, "qualityControl": "qc:Z"}

    observed = read(report(at(9)), report(at(9, 53), precipitationLastHour=rain))

    assert observed.table["rain_mm"][at(9)] == pytest.approx(2.3)


def test_each_hour_is_issued_when_its_last_report_was_made(observed: Forecast) -> None:
    """So an hour fetched again after its rain was reported stands over the one without."""
    issued = [stamp.to_pydatetime() for stamp in observed.table["issued_at"]]

    assert issued == [at(11, 53), at(13, 53), at(14, 58), at(14, 58), at(15, 53)]
    assert observed.issued_at == at(15, 53)
    assert set(observed.table["source"]) == {"nws_obs"}


def test_a_report_that_comes_twice_counts_once_and_fills_its_own_gaps() -> None:
    null = {"unitCode": "wmoUnit:degC", "value": None}

    observed = read(report(at(9), temperature=null), report(at(9)))

    assert values(observed, "temp_c") == [20.0]


def test_a_wind_the_nearest_report_lacks_comes_whole_from_the_next_nearest() -> None:
    gust = {"unitCode": "wmoUnit:km_h-1", "value": 72, "qualityControl": "Z"}
    lacking = report(at(9), windSpeed=None, windGust=None)

    observed = read(lacking, report(at(9, 10), windGust=gust))

    assert values(observed, "wind_ms") == pytest.approx([10.0])
    assert values(observed, "gust_ms") == pytest.approx([20.0])


def test_a_report_that_says_nothing_makes_no_hour_and_the_table_ends_with_a_whole_one() -> None:
    silent = {"timestamp": at(8).isoformat()}
    windless = report(at(10), windSpeed=None)

    assert list(read(silent, report(at(9)), windless).table.index) == [at(9)]


@pytest.mark.parametrize("year", [1, 1970, 9999])
def test_a_report_of_another_age_is_left_out(year: int) -> None:
    observed = read(report(at(9)), report(datetime(year, 12, 31, 23, 59, tzinfo=UTC)))

    assert list(observed.table.index) == [at(9)]


@pytest.mark.parametrize("stamp", [None, "yesterday", "2026-06-13T10:00:00", 7])
def test_a_report_without_a_time_is_left_out_and_counted(stamp: object) -> None:
    observed = read(report(at(9)), report(at(10)) | {"timestamp": stamp})

    assert list(observed.table.index) == [at(9)]
    assert observed.dropped == {"time_utc": 1}


def test_only_hours_asked_for_come_back() -> None:
    reports = body_of(*(report(at(hour)) for hour in range(24)))

    observed = parse_observations([reports], at(6), at(9))

    assert list(observed.table.index) == [at(6), at(7), at(8)]


@pytest.mark.parametrize("lost", ["temperature", "relativeHumidity", "windSpeed"])
def test_reports_without_what_drying_needs_are_no_observation(lost: str) -> None:
    with pytest.raises(WeatherError, match="no hour with temperature, humidity and wind"):
        read(report(at(9), **{lost: None}))


def test_reading_does_not_change_the_answer() -> None:
    body = sample("nws_observations.json")
    before = deepcopy(body)

    parse_observations([body], at(12), at(17))

    assert body == before


def test_a_stations_hours_are_asked_for_by_the_day_in_utc(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/stations/KXYZ/observations").respond_with_json(
        sample("nws_observations.json")
    )
    start = at(12) - timedelta(hours=25)

    fetch(Getter("yard@mill.example"), httpserver.url_for("/"), [NEAR], start, at(17))

    asked = [dict(request.args) for request, _ in httpserver.log]
    assert asked == [
        {"start": "2026-06-12T10:30:00Z", "end": "2026-06-13T10:30:00Z", "limit": "500"},
        {"start": "2026-06-13T10:30:00Z", "end": "2026-06-13T17:00:00Z", "limit": "500"},
    ]


def test_no_more_is_asked_for_than_the_service_keeps(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/stations/KXYZ/observations").respond_with_json(
        sample("nws_observations.json")
    )

    fetch(
        Getter("yard@mill.example"),
        httpserver.url_for(""),
        [NEAR],
        datetime.min.replace(tzinfo=UTC),
        at(17),
    )

    assert len(httpserver.log) == 8
    assert httpserver.log[0][0].args["start"] == "2026-06-06T16:30:00Z"
