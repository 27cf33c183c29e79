"""Open-Meteo's answers, read from small samples written for these tests in its format.

The samples' values are made up; only their sun is that of a clear sky, by pvlib's `haurwitz`, as
the mean of the hour before each stamp.
"""

import json
import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pandas as pd
import pytest
from pandas.testing import assert_frame_equal

from drywind.errors import WeatherError
from drywind.weather import open_meteo, table
from drywind.weather.forecast import Forecast
from drywind.weather.hour import WeatherHour
from drywind.weather.open_meteo import Access, Kind
from drywind.weather.open_meteo_answer import (
    LAYERS,
    Ensemble,
    parse_ensemble,
    parse_forecast,
    parse_past,
)

DATA = Path(__file__).parent / "data"
LAT, LON = 36.08, -79.83
NOW = datetime(2026, 3, 8, 12, 34, 56, tzinfo=UTC)
HOUR = timedelta(hours=1)


def sample(name: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads((DATA / f"open_meteo_{name}.json").read_text("utf-8"))
    return body


def at(day: int, hour: int) -> datetime:
    return datetime(2026, 3, day, hour, tzinfo=UTC)


def made(start: datetime, count: int, **values: Sequence[object]) -> dict[str, Any]:
    """Write an answer of so many hours of mild weather, but for the variables given."""
    mild = {"temperature_2m": 20.0, "relative_humidity_2m": 50, "wind_speed_10m": 2.0}
    first = int(start.timestamp())
    return {
        "hourly_units": {"time": "unixtime"} | {one.name: one.unit for one in LAYERS.values()},
        "hourly": {"time": [first + 3600 * i for i in range(count)]}
        | {name: [value] * count for name, value in mild.items()}
        | {name: list(column) for name, column in values.items()},
    }


def hour(forecast: Forecast, start: datetime) -> WeatherHour:
    return next(one for one in table.to_hours(forecast.table) if one.time_utc == start)


def read(body: dict[str, Any], now: datetime = NOW) -> Forecast:
    return parse_forecast(body, LAT, LON, now)


@pytest.fixture(scope="module")
def forecast() -> Forecast:
    return read(sample("forecast"))


@pytest.fixture(scope="module")
def ensemble() -> Ensemble:
    return parse_ensemble(sample("ensemble"), LAT, LON, NOW)


def test_what_holds_at_an_instant_stays_and_what_is_of_the_hour_before_moves_to_it(
    forecast: Forecast,
) -> None:
    before, stamped = hour(forecast, at(8, 5)), hour(forecast, at(8, 6))

    assert (stamped.temp_c, stamped.rh, stamped.wind_ms) == (3.1, 0.86, 1.27)
    assert (stamped.wind_dir_deg, stamped.cloud) == (350, 1)
    assert (before.rain_mm, before.gust_ms) == (4.2, 3.2)
    assert (stamped.rain_mm, stamped.gust_ms, before.cloud) == (0, 2.5, 0)


def test_the_sun_is_strongest_in_the_hour_that_holds_solar_noon_on_both_sides_of_a_clock_change(
    forecast: Forecast,
) -> None:
    """On the 8th, when its clocks change, the sun passes south there at 17:30 UTC, by pvlib."""
    sun = forecast.table["ghi_wm2"]

    for day in (7, 8, 9):
        assert sun.loc[at(day, 0) : at(day, 23)].idxmax() == at(day, 17)


@pytest.mark.parametrize("sunday", [date(2026, 3, 8), date(2026, 11, 1)], ids=["spring", "fall"])
def test_a_week_in_which_the_clocks_change_has_every_hour_once(sunday: date) -> None:
    start = datetime(sunday.year, sunday.month, sunday.day, tzinfo=UTC) - timedelta(days=3)

    index = read(made(start, 168), now=start).table.index

    assert list(index) == list(pd.date_range(start, periods=168, freq="h"))


def test_zero_is_a_value_and_null_is_unknown(forecast: Forecast) -> None:
    given = hour(forecast, at(7, 20))

    assert math.isnan(given.wind_ms)
    assert (given.cloud, given.rain_mm) == (0, 0)


def test_nulls_at_the_tail_end_the_table_and_its_last_hour_has_no_sun_of_its_own(
    forecast: Forecast,
) -> None:
    last = forecast.table.iloc[-1]

    assert forecast.table.index[-1] == at(9, 19)
    assert last[["temp_c", "rh", "wind_ms"]].notna().all()
    assert last[["ghi_wm2", "rain_mm", "gust_ms"]].isna().all()


def test_sun_a_little_below_zero_is_rounding_and_far_below_is_thrown_out(
    forecast: Forecast,
) -> None:
    """The one is common; the other stands in issue 1355 of the server's repository."""
    assert hour(forecast, at(7, 7)).ghi_wm2 == 0
    assert math.isnan(hour(forecast, at(7, 8)).ghi_wm2)
    assert forecast.dropped == {"ghi_wm2": 1}


def test_the_table_is_canonical_and_dated_by_the_fetching(forecast: Forecast) -> None:
    assert (forecast.source, forecast.issued_at) == ("open_meteo", NOW)
    assert_frame_equal(table.from_hours(table.to_hours(forecast.table)), forecast.table)
    assert set(forecast.table["source"]) == {"open_meteo"}
    assert set(forecast.table["issued_at"]) == {pd.Timestamp(NOW)}


def sun_of(day: date, by_hour: dict[int, float], lat: float = LAT) -> Forecast:
    """Read a day whose hours have so much sun, and the others none."""
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    sun = [by_hour.get(hour - 1, 0.0) for hour in range(25)]
    return parse_forecast(made(midnight, 25, shortwave_radiation=sun), lat, LON, midnight)


def test_a_dark_day_under_a_high_sun_is_unknown_from_dawn_to_dusk_and_night_stays_dark() -> None:
    """On that day the sun rises there at 10:02 UTC, by pvlib, and sets after midnight."""
    forecast = sun_of(date(2026, 6, 20), {})

    assert list(forecast.table["ghi_wm2"].iloc[:10]) == [0] * 10
    assert forecast.table["ghi_wm2"].iloc[10:24].isna().all()
    assert forecast.dropped == {"ghi_wm2": 14}


def test_two_dark_hours_at_noon_are_a_storm_and_not_a_gap() -> None:
    bright = dict.fromkeys([*range(10, 17), *range(19, 24)], 300.0)

    forecast = sun_of(date(2026, 6, 20), bright)

    assert list(forecast.table["ghi_wm2"].iloc[16:20]) == [300, 0, 0, 300]
    assert forecast.dropped == {}


def test_a_sun_too_low_to_judge_is_left_alone() -> None:
    """In December at 60° N it rises 7° at noon."""
    forecast = sun_of(date(2026, 12, 20), {}, lat=60.0)

    assert (forecast.table["ghi_wm2"].iloc[:-1] == 0).all()


def with_units(**units: str) -> dict[str, Any]:
    body = made(at(8, 12), 6, wind_gusts_10m=[9.0] * 6, cloud_cover=[None] * 6)
    body["hourly_units"] |= units
    return body


def test_a_layer_in_a_foreign_unit_is_left_out_and_counted() -> None:
    forecast = read(with_units(wind_gusts_10m="km/h", cloud_cover="undefined"))

    assert forecast.table["gust_ms"].isna().all()
    assert (forecast.table["temp_c"] == 20.0).all()
    assert forecast.dropped == {"gust_ms": 5}


@pytest.mark.parametrize(
    ("variable", "unit"),
    [("temperature_2m", "°F"), ("relative_humidity_2m", "fraction"), ("wind_speed_10m", "km/h")],
)
def test_without_temperature_humidity_or_wind_in_our_units_there_is_no_forecast(
    variable: str, unit: str
) -> None:
    with pytest.raises(WeatherError, match="no hour with temperature, humidity and wind"):
        read(with_units(**{variable: unit}))


def test_a_layer_that_does_not_fit_the_hours_is_left_out_and_counted() -> None:
    body = made(at(8, 12), 6, cloud_cover=[50] * 5)
    body["hourly"]["wind_direction_10m"] = {"0": 180}

    forecast = read(body)

    assert forecast.table[["cloud", "wind_dir_deg"]].isna().all(axis=None)
    assert forecast.dropped == {"cloud": 6, "wind_dir_deg": 6}


def test_what_is_no_number_or_cannot_be_outdoors_is_unknown_and_counted() -> None:
    odd = [20.0, "21", True, 10**400, 1e9, 22.0]

    forecast = read(made(at(8, 12), 6, temperature_2m=odd))

    assert list(forecast.table["temp_c"].isna()) == [False, True, True, True, True, False]
    assert forecast.dropped == {"temp_c": 4}


@pytest.mark.parametrize(
    "times",
    [
        None,
        ["2026-03-08T12:00", "2026-03-08T13:00"],
        [1772971200, 1772971200],
        [1772974800, 1772971200],
        [1772971200, 1772973000],
        [1772971200.0, 1772974800.0],
        [1772971200, 1772971200 + 40 * 86400],
        [-946_771_200 - 3600, 1772971200],
        [-3600 * 10**30, 1772971200],
    ],
    ids=["none", "text", "twice", "backwards", "half hour", "floats", "too far", "1939", "absurd"],
)
def test_hours_that_cannot_be_trusted_void_the_answer(times: object) -> None:
    body = made(at(8, 12), 2)
    body["hourly"]["time"] = times

    with pytest.raises(WeatherError, match="not whole hours in order"):
        read(body)


def test_local_text_times_are_not_taken_for_utc() -> None:
    body = made(at(8, 12), 2)
    body["hourly_units"]["time"] = "iso8601"

    with pytest.raises(WeatherError, match="not whole hours in order"):
        read(body)


def test_a_value_of_three_hours_is_not_taken_for_one_hours() -> None:
    """A coarse model's own steps, should a server hand them out."""
    body = made(at(8, 12), 2, precipitation=[6.0, 9.0])
    body["hourly"]["time"] = [1772971200, 1772971200 + 3 * 3600]

    assert read(body).table["rain_mm"].isna().all()


def test_an_answer_that_ends_before_now_is_no_forecast() -> None:
    body = made(at(7, 0), 36)

    assert read(body, now=at(8, 11) + 0.9 * HOUR).table.index[-1] == at(8, 11)
    with pytest.raises(WeatherError, match="over already"):
        read(body, now=at(8, 12))


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"error": True, "reason": "Daily API request limit exceeded."},
        {"hourly": [], "hourly_units": {}},
        {"hourly": {"time": []}},
    ],
)
def test_an_answer_without_hourly_weather_is_refused(body: dict[str, Any]) -> None:
    with pytest.raises(WeatherError, match="holds no hourly weather"):
        read(body)


def test_an_answer_of_no_hours_is_refused() -> None:
    with pytest.raises(WeatherError, match="no hour with"):
        read(made(at(8, 12), 0))


def test_the_archive_ends_with_the_last_hour_it_knows_and_says_it_is_the_archive() -> None:
    past = parse_past(sample("archive"), LAT, LON, NOW)

    assert past.table.index[0] == datetime(2026, 2, 27, tzinfo=UTC)
    assert past.table.index[-1] == datetime(2026, 2, 28, 5, tzinfo=UTC)
    assert list(past.table["rain_mm"].iloc[:4]) == [0.1, 0.2, 0.0, 0.1]
    assert (past.source, past.issued_at, past.dropped) == ("open_meteo_archive", NOW, {})
    assert set(past.table["source"]) == {"open_meteo_archive"}


def test_the_control_comes_first_and_a_member_without_humidity_is_left_out(
    ensemble: Ensemble,
) -> None:
    assert [member["temp_c"].iloc[0] for member in ensemble.members] == [8.0, 9.0, 11.0]
    assert ensemble.dropped == {"members": 1}
    assert (ensemble.source, ensemble.issued_at) == ("open_meteo_ensemble", NOW)


def test_all_members_have_the_same_hours_to_the_last_that_any_knows(ensemble: Ensemble) -> None:
    for member in ensemble.members:
        assert list(member.index) == list(pd.date_range(at(8, 12), at(8, 17), freq="h"))
        assert_frame_equal(table.from_hours(table.to_hours(member)), member)
    assert [math.isnan(m["wind_ms"].iloc[-1]) for m in ensemble.members] == [True, True, False]


def test_members_may_have_no_sun_and_their_rain_moves_like_any(ensemble: Ensemble) -> None:
    for member in ensemble.members:
        assert member["ghi_wm2"].isna().all()
        assert list(member["rain_mm"].iloc[:5]) == [0.1, 0.2, 0.0, 0.0, 0.3]


def test_one_member_alone_is_no_ensemble() -> None:
    with pytest.raises(WeatherError, match="no ensemble"):
        parse_ensemble(sample("forecast"), LAT, LON, NOW)


def test_an_ensemble_that_ends_before_now_is_refused() -> None:
    with pytest.raises(WeatherError, match="over already"):
        parse_ensemble(sample("ensemble"), LAT, LON, at(8, 18))


HOSTS = {
    "noncommercial": ("api", "ensemble-api", "archive-api"),
    "customer_key": ("customer-api", "customer-ensemble-api", "customer-archive-api"),
}
"""As the service's documentation and its server's source name them, seen."""


@pytest.mark.parametrize(
    "access",
    [Access(Kind.NONCOMMERCIAL), Access(Kind.CUSTOMER_KEY, api_key="hunter2")],
    ids=lambda access: access.kind,
)
def test_each_right_goes_to_its_own_hosts_and_only_a_customer_shows_a_key(access: Access) -> None:
    parts = [urlsplit(access.url(what, a="1")) for what in ("forecast", "ensemble", "archive")]

    assert [part.netloc for part in parts] == [
        f"{host}.open-meteo.com" for host in HOSTS[access.kind]
    ]
    assert [part.path for part in parts] == ["/v1/forecast", "/v1/ensemble", "/v1/archive"]
    assert {part.scheme for part in parts} == {"https"}
    key = {"apikey": ["hunter2"]} if access.kind is Kind.CUSTOMER_KEY else {}
    assert parse_qs(parts[0].query) == {"a": ["1"], **key}


def test_ones_own_server_is_asked_for_everything_with_or_without_a_key() -> None:
    access = Access(Kind.SELF_HOSTED, "http://shop.example:8080/")

    assert access.url("archive", a="1") == "http://shop.example:8080/v1/archive?a=1"
    assert Access(Kind.SELF_HOSTED, "http://x", "k&y").url("forecast").endswith("?apikey=k%26y")


@pytest.mark.parametrize(
    ("kind", "base_url", "api_key"),
    [
        (Kind.NONCOMMERCIAL, None, "hunter2"),
        (Kind.NONCOMMERCIAL, "http://shop.example", None),
        (Kind.CUSTOMER_KEY, None, None),
        (Kind.CUSTOMER_KEY, None, ""),
        (Kind.CUSTOMER_KEY, "http://shop.example", "hunter2"),
        (Kind.SELF_HOSTED, None, None),
    ],
)
def test_an_access_that_contradicts_itself_is_refused(
    kind: Kind, base_url: str | None, api_key: str | None
) -> None:
    with pytest.raises(ValueError, match="Open-Meteo"):
        Access(kind, base_url, api_key)


def test_the_key_is_not_in_the_access_as_it_is_printed() -> None:
    assert "hunter2" not in repr(Access(Kind.CUSTOMER_KEY, api_key="hunter2"))


def test_the_credit_names_the_service_and_the_license_with_their_links() -> None:
    """The service's license page asks for its name and a link, CC BY 4.0 for the license."""
    assert "Weather data by Open-Meteo.com (https://open-meteo.com/)" in open_meteo.ATTRIBUTION
    assert "CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/)" in open_meteo.ATTRIBUTION
