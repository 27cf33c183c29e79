"""Stations with gaps, stations that are gone, and answers that are not what they should be."""

import json
import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest_httpserver import HTTPServer

from drywind.errors import WeatherError
from drywind.weather import nws_alerts
from drywind.weather.forecast import Forecast
from drywind.weather.http import Getter, RefusedError
from drywind.weather.nws_observed import MOST_STATIONS, fetch, parse_observations
from drywind.weather.nws_stations import REACH_KM, Station, find_stations, parse_stations
from drywind.weather.table import BOUNDS

SAMPLES = Path(__file__).parents[1] / "replay" / "data"
START = datetime(2026, 6, 13, 0, tzinfo=UTC)
END = START + timedelta(hours=10)
STATIONS = [Station(f"K{i:03d}", f"Field {i}", 5.0 * i, 0.0) for i in range(1, 9)]


def getter() -> Getter:
    return Getter("yard@mill.example", attempts=2, first_wait_s=0.01, longest_wait_s=0.1)


def reports(hours: Sequence[int], temp_c: float) -> dict[str, Any]:
    def quantity(unit: str, value: float) -> dict[str, Any]:
        return {"unitCode": f"wmoUnit:{unit}", "value": value, "qualityControl": "V"}

    return {
        "features": [
            {
                "properties": {
                    "timestamp": (START + timedelta(hours=hour)).isoformat(),
                    "temperature": quantity("degC", temp_c),
                    "relativeHumidity": quantity("percent", 50),
                    "windSpeed": quantity("km_h-1", 9),
                }
            }
            for hour in hours
        ]
    }


def serve(httpserver: HTTPServer, number: int, body: Any, status: int = 200) -> None:
    httpserver.expect_request(f"/stations/K{number:03d}/observations").respond_with_json(
        body, status=status
    )


def asked(httpserver: HTTPServer) -> list[str]:
    return [request.path.split("/")[2] for request, _ in httpserver.log]


def observe(httpserver: HTTPServer) -> tuple[Forecast, Station]:
    return fetch(getter(), httpserver.url_for(""), STATIONS, START, END)


def test_the_nearest_station_with_enough_hours_is_taken_and_no_other_asked(
    httpserver: HTTPServer,
) -> None:
    """Eight of ten hours are enough, seven are not."""
    serve(httpserver, 1, reports(range(7), 1.0))
    serve(httpserver, 2, reports(range(2, 10), 2.0))

    observed, station = observe(httpserver)

    assert station == STATIONS[1]
    assert set(observed.table["temp_c"]) == {2.0}
    assert asked(httpserver) == ["K001", "K002"]


def test_where_none_has_enough_hours_the_fullest_is_taken_and_gaps_stay_gaps(
    httpserver: HTTPServer,
) -> None:
    for number, hours in enumerate([[4], [1, 2, 9], [1, 9], []], start=1):
        serve(httpserver, number, reports(hours, float(number)))

    observed, station = observe(httpserver)

    assert station == STATIONS[1]
    assert [stamp.hour for stamp in observed.table.index] == [1, 2, 9]
    assert len(asked(httpserver)) == MOST_STATIONS == 4


@pytest.mark.parametrize(
    "body", [{}, {"features": "none"}, {"features": []}, {"features": [7, None, {}]}]
)
def test_a_station_that_sends_nothing_of_use_is_passed_over(
    httpserver: HTTPServer, body: dict[str, Any]
) -> None:
    serve(httpserver, 1, body)
    serve(httpserver, 2, reports(range(10), 2.0))

    assert observe(httpserver)[1] == STATIONS[1]


def test_a_station_the_service_does_not_know_is_passed_over(httpserver: HTTPServer) -> None:
    serve(httpserver, 1, {"title": "Not Found"}, status=404)
    serve(httpserver, 2, reports(range(10), 2.0))

    assert observe(httpserver)[1] == STATIONS[1]


def test_a_refusal_that_is_not_about_the_station_is_not_asked_again_elsewhere(
    httpserver: HTTPServer,
) -> None:
    serve(httpserver, 1, {"title": "Forbidden"}, status=403)

    with pytest.raises(RefusedError):
        observe(httpserver)

    assert asked(httpserver) == ["K001"]


def test_a_service_that_is_down_is_not_asked_for_every_station(httpserver: HTTPServer) -> None:
    serve(httpserver, 1, {"title": "Unavailable"}, status=503)

    with pytest.raises(WeatherError, match="answered 503") as failure:
        observe(httpserver)

    assert not failure.value.permanent
    assert asked(httpserver) == ["K001", "K001"]


def test_when_no_station_has_reported_it_says_so(httpserver: HTTPServer) -> None:
    for number in range(1, 9):
        serve(httpserver, number, reports([], 0.0))

    with pytest.raises(WeatherError, match="no weather station near this place has reported"):
        observe(httpserver)

    assert len(asked(httpserver)) == MOST_STATIONS


def test_without_stations_nothing_is_asked(httpserver: HTTPServer) -> None:
    with pytest.raises(WeatherError, match="no weather station near this place has reported"):
        fetch(getter(), httpserver.url_for(""), [], START, END)

    assert httpserver.log == []


@pytest.mark.parametrize("status", [404, 500])
def test_a_place_that_cannot_be_looked_up_is_a_weather_error(
    httpserver: HTTPServer, status: int
) -> None:
    httpserver.expect_request("/points/37.25,-80.5").respond_with_json({}, status=status)

    with pytest.raises(WeatherError, match=f"answered {status}"):
        find_stations(getter(), httpserver.url_for(""), 37.25, -80.5, 600.0)


def test_a_login_page_in_place_of_the_warnings_is_not_a_quiet_day(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/alerts/active").respond_with_data(
        "<html>Welcome to GuestWiFi</html>", content_type="text/html"
    )

    with pytest.raises(WeatherError, match="login page"):
        nws_alerts.fetch(getter(), httpserver.url_for(""), 37.25, -80.5)


def test_warnings_that_cannot_be_had_are_a_passing_fault(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/alerts/active").respond_with_json({}, status=502)

    with pytest.raises(WeatherError, match="answered 502") as failure:
        nws_alerts.fetch(getter(), httpserver.url_for(""), 37.25, -80.5)

    assert not failure.value.permanent


def sample(name: str) -> Any:
    return json.loads((SAMPLES / name).read_text())


def paths(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Give the way to every value inside a body."""
    match node:
        case dict():
            inside = list(node.items())
        case list():
            inside = list(enumerate(node))
        case _:
            inside = []
    for key, value in inside:
        yield (*path, key)
        yield from paths(value, (*path, key))


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.sampled_from([10**400, "9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00+14:00", "wmo:m"])
    | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(st.sampled_from(["value", "unitCode", "properties"]), inner, max_size=2)
    ),
    max_leaves=4,
)
CHANGES = st.lists(st.tuples(st.integers(0, 10_000), ANYTHING | st.just(...)), max_size=4)
"""Values to put somewhere into a body; an ellipsis takes what is there away."""


def changed(name: str, changes: Sequence[tuple[int, Any]]) -> Any:
    body = sample(name)
    for where, value in changes:
        ways = list(paths(body))
        if not ways:
            break
        *way, last = ways[where % len(ways)]
        node = body
        for key in way:
            node = node[key]
        if value is ...:
            del node[last]
        else:
            node[last] = value
    return body


@settings(max_examples=60, deadline=None)
@given(CHANGES)
def test_whatever_a_station_sends_is_a_sound_table_or_a_weather_error(
    changes: list[tuple[int, Any]],
) -> None:
    start, end = START + timedelta(hours=12), START + timedelta(hours=17)
    try:
        observed = parse_observations([changed("nws_observations.json", changes)], start, end)
    except WeatherError:
        return

    assert ((start <= observed.table.index) & (observed.table.index < end)).all()
    assert observed.table.index.is_unique
    for name, (least, most) in BOUNDS.items():
        assert observed.table[name].dropna().between(least, most).all()
    assert observed.table.iloc[-1][["temp_c", "rh", "wind_ms"]].notna().all()


@settings(max_examples=150, deadline=None)
@given(CHANGES)
def test_whatever_list_of_stations_comes_is_near_and_safe_to_ask_or_a_weather_error(
    changes: list[tuple[int, Any]],
) -> None:
    try:
        stations = parse_stations(changed("nws_stations.json", changes), 37.25, -80.5, 600.0)
    except WeatherError:
        return

    for station in stations:
        assert 0.0 <= station.distance_km <= REACH_KM
        assert not set(station.id) & set("/?#%.")
        assert math.isnan(station.rise_m) or isinstance(station.rise_m, float)


@settings(max_examples=150, deadline=None)
@given(CHANGES)
def test_whatever_warnings_come_can_be_chosen_from_or_are_a_weather_error(
    changes: list[tuple[int, Any]],
) -> None:
    try:
        notices = nws_alerts.parse(changed("nws_alerts.json", changes))
    except WeatherError:
        return

    standing = nws_alerts.standing(notices, datetime(2026, 4, 11, 16, tzinfo=UTC))
    assert set(standing) <= set(notices)
    for notice in standing:
        nws_alerts.matters(notice)
