"""MET Norway's answer, read from a small sample written for these tests in its format."""

import json
import math
from collections.abc import Iterator
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from functools import reduce
from operator import getitem
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pytest_httpserver import HTTPServer
from tests.published import years

from drywind.errors import WeatherError
from drywind.weather import met_norway, table
from drywind.weather.forecast import Forecast
from drywind.weather.hour import VALUES
from drywind.weather.http import Getter
from drywind.weather.sun import with_sun
from drywind.weather.validators import Validators

SAMPLE = json.loads((Path(__file__).parent / "data/met_norway.json").read_text())
NEEDED = ["temp_c", "rh", "wind_ms"]


def sample() -> dict[str, Any]:
    body: dict[str, Any] = deepcopy(SAMPLE)
    return body


def entry(body: dict[str, Any], place: int) -> dict[str, Any]:
    data: dict[str, Any] = body["properties"]["timeseries"][place]["data"]
    return data


def details(body: dict[str, Any], place: int, period: str = "instant") -> dict[str, Any]:
    found: dict[str, Any] = entry(body, place)[period]["details"]
    return found


def at(day: int, hour: int) -> datetime:
    return datetime(2026, 6, day, hour, tzinfo=UTC)


@pytest.fixture(scope="module")
def forecast() -> Forecast:
    return met_norway.parse(sample())


def values(forecast: Forecast, column: str) -> list[float]:
    return [float(value) for value in forecast.table[column]]


def test_hourly_instants_are_taken_over_in_our_units(forecast: Forecast) -> None:
    hour = forecast.table.loc[at(13, 16)]

    assert list(hour[[*NEEDED, "wind_dir_deg", "cloud", "rain_mm"]]) == pytest.approx(
        [25.5, 0.46, 3.5, 210.0, 0.125, 0.2]
    )
    assert (hour["source"], hour["issued_at"]) == ("met_norway", forecast.issued_at)


def test_zero_is_a_value_and_not_a_gap(forecast: Forecast) -> None:
    hour = forecast.table.loc[at(13, 17)]

    assert list(hour[["temp_c", "wind_ms", "wind_dir_deg", "cloud", "rain_mm"]]) == [0.0] * 5


def test_the_table_has_every_hour_from_the_first_to_the_last_instant(forecast: Forecast) -> None:
    assert list(forecast.table.index) == [at(13, 15) + timedelta(hours=n) for n in range(22)]
    assert list(forecast.table.columns) == [*VALUES, "source", "issued_at"]
    assert forecast.table[NEEDED].notna().all().all()
    assert forecast.issued_at == datetime(2026, 6, 13, 10, 31, 2, tzinfo=UTC)
    assert forecast.dropped == {}


def test_the_outlook_begins_where_the_steps_grow_long(forecast: Forecast) -> None:
    assert forecast.hourly_until == at(13, 18)


def test_a_forecast_without_long_steps_is_no_outlook_at_all() -> None:
    body = sample()
    del body["properties"]["timeseries"][4:]

    forecast = met_norway.parse(body)

    assert forecast.hourly_until is None
    assert forecast.table.index[-1] == at(13, 18)


def test_the_day_touches_the_high_it_is_forecast(forecast: Forecast) -> None:
    """27 to 23 °C with a high of 29: a parabola with its top at 1/(1+√3) of the six hours."""
    hours = [27.0, *values(forecast, "temp_c")[4:10]]
    square, linear, _ = np.polyfit(np.arange(1, 7), hours[1:], 2)

    top = -linear / (2 * square)
    assert top == pytest.approx(6 / (1 + math.sqrt(3)))
    assert np.polyval(np.polyfit(np.arange(7), hours, 2), top) == pytest.approx(29.0)


def test_the_night_touches_the_low_it_is_forecast(forecast: Forecast) -> None:
    """23 to 17 °C with a low of 14: the bottom is at 3/(3+√3) of the six hours."""
    night = values(forecast, "temp_c")[9:16]
    curve = np.polyfit(np.arange(7), night, 2)

    assert night[0] == 23.0
    assert night[-1] == 17.0
    assert np.polyval(curve, 6 * 3 / (3 + math.sqrt(3))) == pytest.approx(14.0)


def test_without_extremes_the_temperature_goes_straight(forecast: Forecast) -> None:
    assert values(forecast, "temp_c")[15:] == pytest.approx(list(np.linspace(17.0, 20.0, 7)))


def test_extremes_that_do_not_reach_beyond_the_ends_change_nothing() -> None:
    """Seen in a real answer, where a step began warmer than its own high."""
    body = sample()
    details(body, 5, "next_6_hours").update(air_temperature_max=19.0, air_temperature_min=18.0)

    temp_c = values(met_norway.parse(body), "temp_c")

    assert temp_c[15:] == pytest.approx(list(np.linspace(17.0, 20.0, 7)))


def test_a_high_is_met_before_a_low() -> None:
    """The peak is what checks wood; both at once are more than one parabola can do."""
    body = sample()
    details(body, 5, "next_6_hours").update(air_temperature_max=21.0, air_temperature_min=10.0)

    temp_c = values(met_norway.parse(body), "temp_c")[15:]

    assert min(temp_c) == 17.0
    assert 20.5 < max(temp_c) <= 21.0


def test_within_a_long_step_the_air_keeps_a_straight_vapor_pressure(forecast: Forecast) -> None:
    """Oracle: the Magnus formula of Alduchov and Eskridge (1996), eq. 21 (from memory)."""
    day = forecast.table.loc[at(13, 18) : at(14, 0)]
    magnus_pa = 610.94 * np.exp(17.625 * day["temp_c"] / (243.04 + day["temp_c"]))
    vapor_pa = (day["rh"] * magnus_pa).to_numpy()

    assert day["rh"].min() < 0.40
    assert vapor_pa == pytest.approx(np.linspace(vapor_pa[0], vapor_pa[-1], 7), rel=0.003)


def test_no_filled_hour_is_more_than_saturated() -> None:
    body = sample()
    details(body, 4)["relative_humidity"] = 99.0

    night = met_norway.parse(body).table.loc[at(14, 0) : at(14, 6), "rh"]

    assert night.max() == 1.0


def test_wind_and_cloud_go_straight_and_the_direction_is_the_nearer_one(
    forecast: Forecast,
) -> None:
    """From 350° to 10° the wind passes through north; a straight line would pass through south."""
    day = forecast.table.loc[at(13, 18) : at(14, 0)]

    assert list(day["wind_ms"]) == pytest.approx(list(np.linspace(4.0, 1.0, 7)))
    assert list(day["cloud"]) == pytest.approx(list(np.linspace(0.5, 1.0, 7)))
    assert list(day["wind_dir_deg"]) == [350.0] * 4 + [10.0] * 3


def test_rain_of_six_hours_is_spread_evenly_and_after_the_last_instant_unknown(
    forecast: Forecast,
) -> None:
    expected = [0.0, 0.2, 0.0] + [0.5] * 6 + [0.0] * 6 + [0.1] * 6 + [math.nan]

    assert values(forecast, "rain_mm") == pytest.approx(expected, nan_ok=True)


def test_the_sun_is_left_to_the_cloud_of_every_hour(forecast: Forecast) -> None:
    assert forecast.table["ghi_wm2"].isna().all()
    assert with_sun(forecast.table, 37.25, -80.5)["ghi_wm2"].notna().all()


def test_gusts_are_taken_where_given_and_never_between() -> None:
    body = sample()
    for place in (0, 3, 4):
        details(body, place)["wind_speed_of_gust"] = 9.0

    gusts = met_norway.parse(body).table["gust_ms"].dropna()

    assert gusts.to_dict() == {at(13, 15): 9.0, at(13, 18): 9.0, at(14, 0): 9.0}


def test_what_is_missing_or_null_is_unknown_and_no_fault() -> None:
    body = sample()
    del details(body, 0)["cloud_area_fraction"]
    details(body, 1)["wind_speed"] = None
    del entry(body, 2)["next_1_hours"]
    del body["properties"]["timeseries"][6]["data"]

    forecast = met_norway.parse(body)

    assert math.isnan(forecast.table["cloud"][at(13, 15)])
    assert math.isnan(forecast.table["wind_ms"][at(13, 16)])
    assert math.isnan(forecast.table["rain_mm"][at(13, 17)])
    assert forecast.table.index[-1] == at(14, 6)
    assert forecast.dropped == {}


def test_a_long_step_with_an_unknown_end_stays_unknown_and_keeps_its_other_end() -> None:
    body = sample()
    details(body, 4)["relative_humidity"] = None

    humidity = met_norway.parse(body).table["rh"]

    assert humidity[humidity.isna()].index.tolist() == [
        at(13, 19) + timedelta(hours=n) for n in range(11)
    ]
    assert (humidity[at(13, 18)], humidity[at(14, 6)]) == (0.4, 0.9)


@pytest.mark.parametrize("lost", [slice(1, 2), slice(4, 5)], ids=["one hour", "twelve hours"])
def test_a_gap_of_any_other_length_is_not_filled(lost: slice) -> None:
    body = sample()
    series = body["properties"]["timeseries"]
    gone = datetime.fromisoformat(series[lost][0]["time"])
    del series[lost]

    forecast = met_norway.parse(body)

    assert gone not in forecast.table.index
    assert len(forecast.table) == 22 - (1 if gone == at(13, 16) else 11)


@pytest.mark.parametrize(
    ("name", "column", "count"),
    [
        ("air_temperature_max", "high_c", 2),
        ("wind_from_direction", "wind_dir_deg", 7),
        ("cloud_area_fraction", "cloud", 7),
        ("precipitation_amount", "rain_mm", 6),
    ],
)
@pytest.mark.parametrize("unit", ["K", None, ["%"]])
def test_a_quantity_in_an_unknown_unit_is_refused_and_counted(
    name: str, column: str, count: int, unit: object
) -> None:
    body = sample()
    body["properties"]["meta"]["units"][name] = unit

    forecast = met_norway.parse(body)

    assert forecast.dropped == {column: count}
    assert column not in forecast.table or forecast.table[column].isna().all()


def test_an_impossible_value_is_unknown_counted_and_spoils_no_hour_between() -> None:
    body = sample()
    details(body, 4)["air_temperature"] = 1e9
    details(body, 1)["wind_speed"] = math.inf
    details(body, 5, "next_6_hours")["air_temperature_max"] = 1e9

    forecast = met_norway.parse(body)

    assert forecast.dropped == {"temp_c": 1, "wind_ms": 1, "high_c": 1}
    assert forecast.table["temp_c"].loc[at(13, 19) : at(14, 5)].isna().all()
    assert forecast.table["temp_c"].max() == 27.0


@pytest.mark.parametrize("value", [True, "7", [7], {"value": 7}, 10**400])
def test_a_value_that_is_no_number_is_counted_and_never_guessed(value: object) -> None:
    body = sample()
    details(body, 0)["wind_from_direction"] = value

    forecast = met_norway.parse(body)

    assert math.isnan(forecast.table["wind_dir_deg"].iloc[0])
    assert forecast.dropped == {"wind_dir_deg": 1}


@pytest.mark.parametrize(
    "stamp",
    [None, 7, "", "soon", "2026-06-13T15:00:00", "2026-06-13T15:20:00Z", "1970-01-01T00:00:00Z"],
)
def test_an_instant_that_cannot_be_is_counted_and_left_out(stamp: object) -> None:
    body = sample()
    body["properties"]["timeseries"][0]["time"] = stamp

    forecast = met_norway.parse(body)

    assert forecast.table.index[0] == at(13, 16)
    assert forecast.dropped == {"time_utc": 1}


@pytest.mark.parametrize("lost", ["air_temperature", "relative_humidity", "wind_speed"])
def test_an_answer_without_what_drying_needs_is_no_forecast(lost: str) -> None:
    body = sample()
    for place in range(7):
        del details(body, place)[lost]

    with pytest.raises(WeatherError, match="no hour with temperature, humidity and wind"):
        met_norway.parse(body)


@pytest.mark.parametrize("series", [None, [], {}, [None, 7, []]])
def test_an_answer_without_a_series_is_no_forecast(series: object) -> None:
    body = sample()
    body["properties"]["timeseries"] = series

    with pytest.raises(WeatherError, match="no hour"):
        met_norway.parse(body)


@pytest.mark.parametrize("stamp", [None, "", "yesterday", "2026-06-13T10:31:02", 1773484930])
def test_an_answer_that_does_not_say_when_it_was_issued_is_no_forecast(stamp: object) -> None:
    body = sample()
    body["properties"]["meta"]["updated_at"] = stamp

    with pytest.raises(WeatherError, match="when it was issued"):
        met_norway.parse(body)


def test_parsing_does_not_change_the_answer() -> None:
    body = sample()

    met_norway.parse(body)

    assert body == SAMPLE


def paths(value: Any, above: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Name every spot below the top of a JSON value."""
    steps = list(value) if isinstance(value, dict) else []
    steps += range(len(value)) if isinstance(value, list) else []
    for step in steps:
        yield (*above, step)
        yield from paths(value[step], (*above, step))


anything = st.recursive(
    st.none()
    | st.booleans()
    | st.floats()
    | st.sampled_from([10**400, -(10**400), 1, 0, "K", "celsius", "2026-06-13T19:00:00Z"])
    | st.sampled_from(["0001-01-01T00:00:00+14:00", "9999-12-31T23:00:00-14:00"])
    | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)


@settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from(list(paths(SAMPLE))), anything), min_size=1, max_size=4))
def test_a_damaged_answer_gives_a_sound_table_or_a_weather_error(
    damages: list[tuple[tuple[Any, ...], Any]],
) -> None:
    body = sample()
    for path, value in sorted(damages, key=lambda damage: -len(damage[0])):
        reduce(getitem, path[:-1], body)[path[-1]] = value

    try:
        forecast = met_norway.parse(body)
    except WeatherError:
        return

    frame = forecast.table
    assert list(frame.columns) == [*VALUES, "source", "issued_at"]
    assert str(frame.index.dtype) == str(frame["issued_at"].dtype) == "datetime64[us, UTC]"
    assert frame.index.is_unique
    assert frame.index.is_monotonic_increasing
    for name, (low, high) in table.BOUNDS.items():
        assert frame[name].dropna().between(low, high).all()
    assert frame.iloc[-1][NEEDED].notna().all()
    assert len(table.to_hours(frame)) == len(frame)


def thinned(hours: pd.DataFrame, *, extremes: bool) -> dict[str, Any]:
    """Write observed hours as a service would that forecast them perfectly, but six-hourly."""
    series = []
    for place in range(0, len(hours), 6):
        hour = hours.iloc[place]
        day = hours["temp_c"].iloc[place : place + 7]
        beyond = {"air_temperature_max": day.max(), "air_temperature_min": day.min()}
        instant = {"air_temperature": hour["temp_c"], "relative_humidity": 100.0 * hour["rh"]}
        data = {
            "instant": {"details": instant | {"wind_speed": 3.0}},
            "next_6_hours": {"details": beyond if extremes else {}},
        }
        series.append({"time": hours.index[place].isoformat(), "data": data})
    meta = SAMPLE["properties"]["meta"] | {"updated_at": series[0]["time"]}
    return {"properties": {"meta": meta, "timeseries": series}}


def peaks_pa(hours: pd.DataFrame) -> float:
    """Return the sum of ten days' highest vapor pressure deficits; a day begins at 06 UTC."""
    magnus_pa = 610.94 * np.exp(17.625 * hours["temp_c"] / (243.04 + hours["temp_c"]))
    deficit_pa = (magnus_pa * (1.0 - hours["rh"])).to_numpy()[:240]
    return float(deficit_pa.reshape(10, 24).max(axis=1).sum())


def test_forecast_extremes_bring_back_the_peaks_that_six_hourly_steps_cut_off() -> None:
    """Weather observed at Chicago O'Hare, of which the service gives every sixth hour."""
    true: list[float] = []
    straight: list[float] = []
    curved: list[float] = []
    for year in (2012, 2015, 2016):
        season = years.ohare(year).loc[f"{year}-04-01T06:00Z" : f"{year}-11-01T06:00Z"]
        for start in range(0, len(season) - 240, 240):
            observed = season.iloc[start : start + 241]
            if observed[["temp_c", "rh"]].notna().to_numpy().all():
                true.append(peaks_pa(observed))
                for found, extremes in ((straight, False), (curved, True)):
                    body = thinned(observed, extremes=extremes)
                    found.append(peaks_pa(met_norway.parse(body).table))

    assert len(true) > 50
    assert sum(straight) / sum(true) == pytest.approx(0.87, abs=0.005)
    assert sum(curved) / sum(true) == pytest.approx(0.97, abs=0.005)


def test_a_place_is_asked_for_as_the_service_accepts_it(httpserver: HTTPServer) -> None:
    """Five decimals are refused by it, and a bare minus zero is another place to its cache."""
    httpserver.expect_oneshot_request(
        "/locationforecast/2.0/complete",
        query_string="lat=37.2500&lon=-80.1235&altitude=641",
    ).respond_with_json(SAMPLE)
    httpserver.expect_oneshot_request(
        "/locationforecast/2.0/complete", query_string="lat=0.0000&lon=0.0000&altitude=0"
    ).respond_with_json(SAMPLE)
    getter = Getter("yard@mill.example")

    near, _ = met_norway.fetch(getter, httpserver.url_for("/"), 37.25000001, -80.12345678, 640.6)
    zero, _ = met_norway.fetch(getter, httpserver.url_for(""), -0.00001, 0.0, -0.2)

    httpserver.check()
    assert near is not None
    assert zero is not None
    assert len(near.table) == len(zero.table) == 22


def test_a_forecast_that_still_stands_is_not_sent_again(httpserver: HTTPServer) -> None:
    changed = "Sat, 13 Jun 2026 10:44:31 GMT"
    httpserver.expect_ordered_request("/locationforecast/2.0/complete").respond_with_json(
        SAMPLE, headers={"Last-Modified": changed}
    )
    httpserver.expect_ordered_request(
        "/locationforecast/2.0/complete", headers={"If-Modified-Since": changed}
    ).respond_with_data("", status=304)
    getter = Getter("yard@mill.example")

    def fetch(known: Validators | None) -> tuple[Forecast | None, Validators]:
        return met_norway.fetch(getter, httpserver.url_for(""), 37.25, -80.5, 640.0, known)

    first, known = fetch(None)
    again, still = fetch(known)

    httpserver.check()
    assert first is not None
    assert again is None
    assert still.last_modified == known.last_modified == changed
