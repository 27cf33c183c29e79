"""What Open-Meteo answers, read into canonical hourly tables; pure.

One answer holds one list of hours and one list of values per variable, null where the model gives
none. Temperature, humidity, wind and cloud hold at the stamped instant; sun, rain and gusts are the
mean, total and maximum of the hour before it, and are moved to that hour here. Format: the
service's documentation (open-meteo.com/en/docs) and its server's source
(github.com/open-meteo/open-meteo), both seen in copies of 2026; the issues named below are that
repository's. No answer says when it was issued: the time of fetching stands for it.
"""

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from drywind.clock import floor_hour
from drywind.errors import WeatherError
from drywind.weather import table
from drywind.weather.forecast import Forecast
from drywind.weather.sun import Floats, sun_position

SOURCE = "open_meteo"
ENSEMBLE_SOURCE = "open_meteo_ensemble"
PAST_SOURCE = "open_meteo_archive"

_HOUR = timedelta(hours=1)
_HALF_HOUR = np.timedelta64(30, "m")
_EARLIEST_S = -946_771_200
"""Begin of 1940 and of the archive, in seconds from 1970."""
_REACH = timedelta(days=36)
"""No answer reaches further ahead; the longest ensemble runs 35 days."""
_UNREADABLE = math.inf
"""Stands for what is no number of our unit; no bound holds it, so it is thrown out and counted."""

_DARK_WM2 = 5.0
_HIGH_SUN_DEG = 20.0
_DEAD_HOURS = 3
"""A dark spell with so many hours of high sun is a gap the service wrote as 0 (issues 787, 1004).
Assumption: a clear sky gives about 300 W/m² at 20°, and a storm cloud leaves several percent of
it; believable are 2-10 W/m², 15-30° and 2-5 hours."""


class Layer(NamedTuple):
    """A variable of the service, the unit it must have, and what makes ours of it."""

    name: str
    unit: str
    factor: float = 1.0
    of_hour_before: bool = False


LAYERS = {
    "temp_c": Layer("temperature_2m", "°C"),
    "rh": Layer("relative_humidity_2m", "%", 0.01),
    "wind_ms": Layer("wind_speed_10m", "m/s"),
    "wind_dir_deg": Layer("wind_direction_10m", "°"),
    "gust_ms": Layer("wind_gusts_10m", "m/s", of_hour_before=True),
    "ghi_wm2": Layer("shortwave_radiation", "W/m²", of_hour_before=True),
    "cloud": Layer("cloud_cover", "%", 0.01),
    "rain_mm": Layer("precipitation", "mm", of_hour_before=True),
}
"""For each of our quantities the service's variable."""

_MEMBER = re.compile(re.escape(LAYERS["temp_c"].name) + r"(|_member\d\d)")
"""The control goes by the bare name, every other member by its number."""


@dataclass(frozen=True, eq=False)
class Ensemble:
    """One model's forecast, run many times from beginnings that differ a little.

    Attributes
    ----------
    members
        One canonical hourly table per run, all of the same hours, the control first. A run without
        any hour of known temperature, humidity and wind is left out.
    issued_at
        When it was fetched.
    source
        Short name of the service.
    dropped
        As in `Forecast`, over all runs; under `members`, how many of these were left out.
    """

    members: list[pd.DataFrame]
    issued_at: datetime
    source: str
    dropped: dict[str, int] = field(default_factory=dict)


class _Answer(NamedTuple):
    """The parts of an answer, and how high the sun stands in the middle of each of its hours."""

    hours: pd.DatetimeIndex
    columns: Mapping[str, Any]
    units: Mapping[str, Any]
    elevation_deg: Floats


def parse_forecast(body: Mapping[str, Any], lat: float, lon: float, now: datetime) -> Forecast:
    """Read a forecast.

    Parameters
    ----------
    body
        The answer.
    lat, lon
        The place asked for, degrees; the answer names the middle of a grid cell instead.
    now
        When it was fetched.

    Raises
    ------
    WeatherError
        If no hour from `now` on has temperature, humidity and wind.
    """
    forecast = _parse_one(body, (lat, lon), now, SOURCE)
    if forecast.table.index[-1] < floor_hour(now):
        raise WeatherError("Open-Meteo's forecast is over already")
    return forecast


def parse_past(body: Mapping[str, Any], lat: float, lon: float, now: datetime) -> Forecast:
    """Read an answer of the archive; the parameters are those of `parse_forecast`.

    Raises
    ------
    WeatherError
        If no hour has temperature, humidity and wind.
    """
    return _parse_one(body, (lat, lon), now, PAST_SOURCE)


def parse_ensemble(body: Mapping[str, Any], lat: float, lon: float, now: datetime) -> Ensemble:
    """Read one model's ensemble; the parameters are those of `parse_forecast`.

    Raises
    ------
    WeatherError
        If fewer than two members have temperature, humidity and wind, or all ended before `now`.
    """
    answer = _read(body, (lat, lon), now)
    dropped: Counter[str] = Counter()
    suffixes = sorted(match[1] for name in answer.columns if (match := _MEMBER.fullmatch(name)))
    tables = [_table(answer, suffix, dropped) for suffix in suffixes]
    usable = [frame for frame in tables if len(table.known_hours(frame))]
    if len(usable) < 2:  # noqa: PLR2004 - one run spreads over nothing
        raise WeatherError("Open-Meteo's answer holds no ensemble")
    end = max(table.known_hours(frame)[-1] for frame in usable)
    if end < floor_hour(now):
        raise WeatherError("Open-Meteo's ensemble is over already")
    members = [_signed(frame.loc[:end], ENSEMBLE_SOURCE, now) for frame in usable]
    dropped["members"] = len(tables) - len(members)
    return Ensemble(members, now, ENSEMBLE_SOURCE, dict(+dropped))


def _parse_one(
    body: Mapping[str, Any], place: tuple[float, float], now: datetime, source: str
) -> Forecast:
    dropped: Counter[str] = Counter()
    frame = _table(_read(body, place, now), "", dropped)
    known = table.known_hours(frame)
    if known.empty:
        raise WeatherError("Open-Meteo's answer has no hour with temperature, humidity and wind")
    return Forecast(_signed(frame.loc[: known[-1]], source, now), now, source, dict(+dropped))


def _read(body: Mapping[str, Any], place: tuple[float, float], now: datetime) -> _Answer:
    """Take an answer apart, or raise where it is none or its hours cannot be trusted."""
    columns, units = body.get("hourly"), body.get("hourly_units")
    if not isinstance(columns, dict) or not isinstance(units, dict):
        raise WeatherError("Open-Meteo's answer holds no hourly weather")
    times = columns.get("time")
    latest_s = (now + _REACH).timestamp()
    if (
        units.get("time") != "unixtime"
        or not isinstance(times, list)
        or not all(type(s) is int and _EARLIEST_S <= s <= latest_s and s % 3600 == 0 for s in times)
        or not all(earlier < later for earlier, later in pairwise(times))
    ):
        raise WeatherError("Open-Meteo's hours are not whole hours in order and within reach")
    hours = pd.DatetimeIndex(np.array(times, "datetime64[s]"), tz="UTC", name="time_utc")
    hours = hours.as_unit("us")
    elevation_deg, _ = sun_position(hours.tz_localize(None).to_numpy() + _HALF_HOUR, *place)
    return _Answer(hours, columns, units, elevation_deg)


def _table(answer: _Answer, suffix: str, dropped: Counter[str]) -> pd.DataFrame:
    """Return the values of a forecast, or of the member with this suffix, as far as they can be."""
    frame = pd.DataFrame({name: _values(answer, layer, suffix) for name, layer in LAYERS.items()})
    frame, impossible = table.within_bounds(frame)
    dropped.update(impossible)
    dead = _dead_sun(frame["ghi_wm2"], answer.elevation_deg)
    dropped["ghi_wm2"] += int(dead.sum())
    return frame.assign(ghi_wm2=frame["ghi_wm2"].mask(dead))


def _values(answer: _Answer, layer: Layer, suffix: str) -> pd.Series:
    """Return one variable in our unit, at the start of the hours it speaks of."""
    values = answer.columns.get(layer.name + suffix)
    if values is None:
        numbers = [math.nan] * len(answer.hours)
    elif isinstance(values, list) and len(values) == len(answer.hours):
        known_unit = answer.units.get(layer.name + suffix) == layer.unit
        numbers = [_number(value, known_unit=known_unit) for value in values]
    else:
        numbers = [_UNREADABLE] * len(answer.hours)
    series = pd.Series(numbers, answer.hours, dtype="float64") * layer.factor
    if layer.of_hour_before:
        series.index = answer.hours - _HOUR
        series = series.reindex(answer.hours)
    return series


def _number(value: Any, *, known_unit: bool) -> float:
    if value is None:
        return math.nan
    if isinstance(value, bool) or not isinstance(value, int | float) or not known_unit:
        return _UNREADABLE
    try:
        return float(value)
    except OverflowError:
        return _UNREADABLE


def _dead_sun(ghi_wm2: pd.Series, elevation_deg: Floats) -> pd.Series:
    """Say which hours lie in a dark spell by day that no weather makes."""
    dark = (ghi_wm2 < _DARK_WM2) & (elevation_deg > 0.0)
    spell = (~dark).cumsum()
    high_hours = (dark & (elevation_deg > _HIGH_SUN_DEG)).groupby(spell).transform("sum")
    return dark & (high_hours >= _DEAD_HOURS)


def _signed(frame: pd.DataFrame, source: str, now: datetime) -> pd.DataFrame:
    return frame.assign(source=source, issued_at=pd.Timestamp(now).as_unit("us"))
