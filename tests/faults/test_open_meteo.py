"""Open-Meteo asked over real loopback sockets: what is sent, and what becomes of bad answers."""

import json
import logging
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import UTC, date, datetime
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pandas.testing import assert_frame_equal
from pytest_httpserver import HTTPServer

from drywind.errors import WeatherError
from drywind.weather import table
from drywind.weather.http import Getter, RefusedError
from drywind.weather.open_meteo import (
    Access,
    Kind,
    fetch_ensemble,
    fetch_forecast,
    fetch_past,
)
from drywind.weather.open_meteo_answer import (
    LAYERS,
    parse_ensemble,
    parse_forecast,
    parse_past,
)

LAT, LON = 36.08, -79.83
NOW = datetime(2026, 6, 20, 15, tzinfo=UTC)
KEY = "hunter2"
COUNT = 8

VALUES: dict[str, list[Any]] = {
    "temperature_2m": [30.0, 31.0, 31.5, 31.0, 30.0, 28.5, 26.0, 24.0],
    "relative_humidity_2m": [40, 35, 30, 30, 35, 40, 50, 60],
    "wind_speed_10m": [3.0, 4.0, 5.0, 5.0, 4.0, 3.0, 2.0, None],
    "wind_direction_10m": [200, 205, 210, 210, 215, 220, 0, 360],
    "wind_gusts_10m": [6.0, 8.0, 9.0, 9.0, 8.0, 6.0, 4.0, 3.0],
    "shortwave_radiation": [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 400.0, 200.0],
    "cloud_cover": [0, 0, 10, 20, 40, 60, 80, 100],
    "precipitation": [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.2, 0.1],
}


def answer(members: int = 1) -> dict[str, Any]:
    """Write an afternoon that is usable as it stands, of one run or of several."""
    start = int(NOW.timestamp())
    hourly: dict[str, Any] = {"time": [start + 3600 * i for i in range(COUNT)]}
    units = {"time": "unixtime"}
    for layer in LAYERS.values():
        for member in range(members):
            name = layer.name + (f"_member{member:02d}" if member else "")
            hourly[name], units[name] = list(VALUES[layer.name]), layer.unit
    return {"latitude": 36.1, "longitude": -79.8, "hourly_units": units, "hourly": hourly}


def getter() -> Getter:
    return Getter("yard@mill.example", attempts=3, first_wait_s=0.01, longest_wait_s=0.1)


def own(server: HTTPServer, key: str | None = None) -> Access:
    return Access(Kind.SELF_HOSTED, server.url_for("/om/"), key)


def forecast_of(server: HTTPServer, key: str | None = None) -> Any:
    return fetch_forecast(getter(), own(server, key), LAT, LON, NOW)


def ensemble_of(server: HTTPServer, key: str | None = None) -> Any:
    return fetch_ensemble(getter(), own(server, key), LAT, LON, "ncep_gefs_seamless", NOW)


def past_of(server: HTTPServer, key: str | None = None) -> Any:
    days = date(2026, 5, 1), date(2026, 6, 15)
    return fetch_past(getter(), own(server, key), (LAT, LON), *days, NOW)


Fetch = Callable[..., Any]

ASKED = {
    "latitude": "36.0800",
    "longitude": "-79.8300",
    "hourly": "temperature_2m,relative_humidity_2m,wind_speed_10m,wind_direction_10m,"
    "wind_gusts_10m,shortwave_radiation,cloud_cover,precipitation",
    "wind_speed_unit": "ms",
    "timeformat": "unixtime",
    "timezone": "GMT",
    "cell_selection": "land",
}
"""What every request asks for."""


@pytest.mark.parametrize(
    ("fetch", "what", "more"),
    [
        (forecast_of, "forecast", {"forecast_days": "16", "past_days": "2"}),
        (ensemble_of, "ensemble", {"forecast_days": "14", "models": "ncep_gefs_seamless"}),
        (past_of, "archive", {"start_date": "2026-05-01", "end_date": "2026-06-15"}),
    ],
)
def test_units_hours_and_days_are_asked_for_by_name(
    httpserver: HTTPServer, fetch: Fetch, what: str, more: dict[str, str]
) -> None:
    httpserver.expect_request(f"/om/v1/{what}").respond_with_json(answer(members=3))

    fetch(httpserver)

    (request, _) = httpserver.log[0]
    assert request.args.to_dict(flat=False) == {k: [v] for k, v in (ASKED | more).items()}


def test_what_comes_back_is_read(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/om/v1/forecast").respond_with_json(answer())
    httpserver.expect_request("/om/v1/archive").respond_with_json(answer())
    httpserver.expect_request("/om/v1/ensemble").respond_with_json(answer(members=3))

    forecast, past, ensemble = (f(httpserver) for f in (forecast_of, past_of, ensemble_of))

    assert list(forecast.table["temp_c"]) == VALUES["temperature_2m"][:7]
    assert forecast.dropped == {"ghi_wm2": 5}
    assert_frame_equal(past.table.drop(columns="source"), forecast.table.drop(columns="source"))
    assert len(ensemble.members) == 3


@pytest.mark.parametrize("status", [200, 400, 429, 503])
@pytest.mark.parametrize("content_type", ["application/json", "text/html"])
def test_the_key_is_sent_and_shows_in_no_error_and_no_log(
    httpserver: HTTPServer, caplog: pytest.LogCaptureFixture, status: int, content_type: str
) -> None:
    told = json.dumps({"error": True, "reason": f"Invalid apikey={KEY}"})
    httpserver.expect_request("/om/v1/forecast").respond_with_data(
        told, status=status, content_type=content_type
    )

    with caplog.at_level(logging.DEBUG), pytest.raises(WeatherError) as failure:
        forecast_of(httpserver, KEY)

    assert httpserver.log[0][0].args["apikey"] == KEY
    ours = [vars(record) for record in caplog.records if record.name != "werkzeug"]
    assert ours
    assert KEY not in repr([failure.value, ours])


def test_a_request_the_service_cannot_serve_is_not_asked_again(httpserver: HTTPServer) -> None:
    reason = {"error": True, "reason": "Parameter 'models' has an invalid value."}
    httpserver.expect_request("/om/v1/ensemble").respond_with_json(reason, status=400)

    with pytest.raises(RefusedError) as failure:
        ensemble_of(httpserver)

    assert (failure.value.status, len(httpserver.log)) == (400, 1)


def test_a_limit_reached_is_waited_out_and_then_given_up_for_now(httpserver: HTTPServer) -> None:
    limit = {"error": True, "reason": "Minutely API request limit exceeded."}
    httpserver.expect_request("/om/v1/forecast").respond_with_json(limit, status=429)

    with pytest.raises(WeatherError, match="answered 429") as failure:
        forecast_of(httpserver)

    assert (failure.value.permanent, len(httpserver.log)) == (False, 3)


BROKEN_OFF = json.dumps(answer())[:200] + "Unexpected error while streaming data: timeout"
"""The server has sent its status by the time it fails, and can only write this into the body."""


def test_an_answer_that_breaks_off_in_mid_stream_is_asked_for_again(
    httpserver: HTTPServer,
) -> None:
    httpserver.expect_ordered_request("/om/v1/forecast").respond_with_data(
        BROKEN_OFF, content_type="application/json; charset=utf-8"
    )
    httpserver.expect_ordered_request("/om/v1/forecast").respond_with_json(answer())

    assert len(forecast_of(httpserver).table) == 7


def test_an_answer_that_always_breaks_off_is_no_weather(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/om/v1/forecast").respond_with_data(
        BROKEN_OFF, content_type="application/json; charset=utf-8"
    )

    with pytest.raises(WeatherError, match="broken JSON") as failure:
        forecast_of(httpserver)

    assert (failure.value.permanent, len(httpserver.log)) == (False, 3)


def test_the_answer_for_several_places_is_refused(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/om/v1/forecast").respond_with_json([answer(), answer()])

    with pytest.raises(WeatherError, match="not an object"):
        forecast_of(httpserver)


def paths(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Return the way to every part of an answer."""
    yield path
    if isinstance(node, dict | list):
        for key in node if isinstance(node, dict) else range(len(node)):
            yield from paths(node[key], (*path, key))


GOOD = answer(members=2)
PATHS = list(paths(GOOD))[1:]

JUNK = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(-(10**400), 10**400)
    | st.floats(allow_nan=False)
    | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=9) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)
"""What JSON can hold, infinity included: 1e999 is JSON."""


@st.composite
def spoiled(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a good answer of which some parts are replaced or missing."""
    body = deepcopy(GOOD)
    for path in draw(st.lists(st.sampled_from(PATHS), min_size=1, max_size=4)):
        node: Any = body
        try:
            for key in path[:-1]:
                node = node[key]
            if draw(st.booleans()):
                node[path[-1]] = draw(JUNK)
            else:
                del node[path[-1]]
        except (LookupError, TypeError):
            continue  # an earlier change took it away
    return body


def believable(frame: pd.DataFrame) -> bool:
    """Say whether a table holds nothing that cannot be, and keeps the form of all tables."""
    bounded, dropped = table.within_bounds(frame)
    assert_frame_equal(bounded, frame)
    assert_frame_equal(table.from_hours(table.to_hours(frame)), frame)
    return not dropped and bool(frame[["temp_c", "rh", "wind_ms"]].notna().all(axis=1).any())


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(spoiled())
def test_a_spoiled_answer_is_refused_or_leaves_a_believable_table(body: dict[str, Any]) -> None:
    for parse in (parse_forecast, parse_past):
        try:
            forecast = parse(body, LAT, LON, NOW)
        except WeatherError:
            continue
        assert believable(forecast.table)
    try:
        ensemble = parse_ensemble(body, LAT, LON, NOW)
    except WeatherError:
        return
    assert len(ensemble.members) >= 2
    assert all(believable(member) for member in ensemble.members)
