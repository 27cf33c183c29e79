"""The Norwegian Meteorological Institute's forecast for any place on earth (api.met.no).

An answer is a series of instants, hourly for two to three days and six-hourly after, each with
what is forecast for the hours that follow it. Format: ``doc/ForecastJSON.md`` and
``doc/locationforecast/datamodel.md`` of github.com/metno/weatherapi-docs (seen); manners:
``doc/TermsOfService.md`` there (seen). Parsing is pure; only `fetch` talks to the service.
"""

import math
from collections import Counter
from collections.abc import Mapping
from datetime import datetime, timedelta
from itertools import zip_longest
from typing import Any

import numpy as np
import pandas as pd

from drywind.clock import floor_hour
from drywind.errors import WeatherError
from drywind.weather import table
from drywind.weather.air import Floats, saturation_pressure_pa
from drywind.weather.forecast import Forecast
from drywind.weather.hour import WeatherHour
from drywind.weather.http import Getter
from drywind.weather.nws_answer import read_instant, read_number
from drywind.weather.validators import Validators

SOURCE = "met_norway"

_HOUR = timedelta(hours=1)
_LONG = 6
"""Hours of a long step, which is filled; any other gap between instants stays one."""

_REACH = timedelta(days=16)
"""No instant lies further from the time of issue; one that is said to is refused."""

_CELSIUS = {"celsius": 1.0}
_PERCENT = {"%": 0.01}
_SPEED = {"m/s": 1.0}

_QUANTITIES = {
    "temp_c": ("air_temperature", _CELSIUS),
    "rh": ("relative_humidity", _PERCENT),
    "wind_ms": ("wind_speed", _SPEED),
    "wind_dir_deg": ("wind_from_direction", {"degrees": 1.0}),
    "gust_ms": ("wind_speed_of_gust", _SPEED),
    "cloud": ("cloud_area_fraction", _PERCENT),
    "rain_mm": ("precipitation_amount", {"mm": 1.0}),
    "high_c": ("air_temperature_max", _CELSIUS),
    "low_c": ("air_temperature_min", _CELSIUS),
}
"""For each of our quantities the service's name and the factor from each unit understood."""

_MORE = ["high_c", "low_c", "span"]
"""What is known of an instant besides the columns of the canonical table."""


def fetch(
    getter: Getter,
    base_url: str,
    lat: float,
    lon: float,
    altitude_m: float,
    known: Validators | None = None,
) -> tuple[Forecast | None, Validators]:
    """Get the forecast of a place, unless the one already had still stands.

    Parameters
    ----------
    getter
        Does the HTTP.
    base_url
        Where the service is.
    lat, lon
        Degrees; sent with four decimals, the most the service accepts.
    altitude_m
        The service corrects the temperature to it; sent in whole meters.
    known
        What the last call returned. The service bars those who call again before `expires_at`.

    Returns
    -------
    forecast
        The forecast, or None if the one had still stands.
    validators
        What to hand in next time.

    Raises
    ------
    WeatherError
        If the service cannot be had or its answer cannot be used.
    """
    answer = getter.get_if_changed(
        f"{base_url.rstrip('/')}/locationforecast/2.0/complete"
        f"?lat={lat:z.4f}&lon={lon:z.4f}&altitude={altitude_m:z.0f}",
        known or Validators(),
    )
    return None if answer.body is None else parse(answer.body), answer.validators


def parse(body: Mapping[str, Any]) -> Forecast:
    """Read an answer, and fill the hours within its six-hourly steps.

    Raises
    ------
    WeatherError
        If it has no time of issue, or no hour with temperature, humidity and wind.
    """
    meta = _inside(_inside(body, "properties"), "meta")
    try:
        issued_at = read_instant(meta.get("updated_at"))
    except ValueError:
        raise WeatherError("the forecast does not say when it was issued") from None
    dropped: Counter[str] = Counter()
    steps = _steps(body, issued_at, dropped)
    frame = _filled(steps)
    known = table.known_hours(frame)
    if known.empty:
        lost = f"; dropped {dict(+dropped)}" if +dropped else ""
        raise WeatherError(f"the forecast has no hour with temperature, humidity and wind{lost}")
    long = steps.index[steps["span"] == _LONG]
    return Forecast(
        frame.loc[: known[-1]],
        issued_at,
        SOURCE,
        dict(+dropped),
        None if long.empty else long[0].to_pydatetime(),
    )


def _steps(body: Mapping[str, Any], issued_at: datetime, dropped: Counter[str]) -> pd.DataFrame:
    """Return the canonical table of the answer's instants, with three columns more.

    `span` is how many hours an instant speaks for, 1 or `_LONG`; its rain is that of their mean
    hour, and `high_c` and `low_c` are the extremes of the temperature within them.
    """
    properties = _inside(body, "properties")
    units = _inside(_inside(properties, "meta"), "units")
    series = properties.get("timeseries")
    entries = {}
    for entry in series if isinstance(series, list) else ():
        try:
            entries[_start(entry, issued_at)] = _inside(entry, "data")
        except ValueError:
            dropped["time_utc"] += 1
    times = sorted(entries)
    hours, more = [], []
    for time, later in zip_longest(times, times[1:]):
        span = _LONG if later and later - time == _LONG * _HOUR else 1
        data = entries[time]
        details = _details(data, "instant") | _details(data, f"next_{span}_hours")
        values = _read(details, units, dropped)
        more.append({"high_c": values.pop("high_c"), "low_c": values.pop("low_c"), "span": span})
        values["rain_mm"] /= span
        hours.append(
            WeatherHour(
                time_utc=time, ghi_wm2=math.nan, source=SOURCE, issued_at=issued_at, **values
            )
        )
    frame, impossible = table.within_bounds(table.from_hours(hours))
    dropped.update(impossible)
    extra = pd.DataFrame(more, frame.index, _MORE, np.float64)
    for name in ("high_c", "low_c"):
        bad = extra[name].notna() & ~extra[name].between(*table.BOUNDS["temp_c"])
        extra[name] = extra[name].mask(bad)
        dropped[name] += int(bad.sum())
    return frame.join(extra)


def _start(entry: Any, issued_at: datetime) -> datetime:
    """Return the instant of an entry, or raise `ValueError` if it cannot be one of a forecast."""
    start = read_instant(entry.get("time") if isinstance(entry, Mapping) else None)
    if start != floor_hour(start) or abs(start - issued_at) > _REACH:
        raise ValueError(f"no forecast is for {start}")
    return start


def _details(data: Mapping[str, Any], period: str) -> dict[str, Any]:
    return dict(_inside(_inside(data, period), "details"))


def _read(
    details: Mapping[str, Any], units: Mapping[str, Any], dropped: Counter[str]
) -> dict[str, float]:
    """Return all quantities in our units; NaN where one is absent, or dropped and counted."""
    values = dict.fromkeys(_QUANTITIES, math.nan)
    for name, (key, factors) in _QUANTITIES.items():
        if details.get(key) is not None:
            try:
                values[name] = read_number(details[key]) * factors[str(units.get(key))]
            except (KeyError, TypeError, OverflowError):
                dropped[name] += 1
    return values


def _filled(steps: pd.DataFrame) -> pd.DataFrame:
    """Return the canonical table, with the hours within long steps filled.

    The vapor pressure of the air, wind speed and cloud go straight from instant to instant, the
    temperature as `_day_course` says; the wind comes from where it does at the nearer instant;
    rain falls evenly; gusts stay unknown.
    """
    long = np.flatnonzero(steps["span"] == _LONG)
    inner = np.arange(1, _LONG)
    share = inner / _LONG

    def ends(name: str) -> tuple[Floats, Floats]:
        values = steps[name].to_numpy(np.float64)[:, None]
        return values[long], values[long + 1]

    def straight(begin: Floats, end: Floats) -> Floats:
        return begin + (end - begin) * share

    begin_c, end_c = ends("temp_c")
    begin_rh, end_rh = ends("rh")
    vapor_pa = straight(
        begin_rh * saturation_pressure_pa(begin_c), end_rh * saturation_pressure_pa(end_c)
    )
    temp_c = _day_course(begin_c, end_c, ends("high_c")[0], ends("low_c")[0], share)
    columns = {
        "temp_c": temp_c,
        "rh": np.minimum(vapor_pa / saturation_pressure_pa(temp_c), 1.0),
        "wind_ms": straight(*ends("wind_ms")),
        "wind_dir_deg": np.where(inner <= _LONG / 2, *ends("wind_dir_deg")),
        "cloud": straight(*ends("cloud")),
        "rain_mm": np.repeat(ends("rain_mm")[0], len(inner), axis=1),
    }
    between = [start + n * _HOUR for start in steps.index[long] for n in inner.tolist()]
    frame = steps.drop(columns=_MORE)
    frame = frame.reindex(frame.index.union(pd.DatetimeIndex(between, tz="UTC").as_unit("us")))
    frame.loc[between, list(columns)] = np.column_stack([c.ravel() for c in columns.values()])
    frame[["source", "issued_at"]] = frame[["source", "issued_at"]].ffill()
    return frame


def _day_course(
    begin_c: Floats, end_c: Floats, high_c: Floats, low_c: Floats, share: Floats
) -> Floats:
    """Return the temperature within steps: a parabola through both ends that touches an extreme.

    It touches the high if that lies over both ends, or else the low if that lies under both; where
    neither does, or none is known, the course is straight. On 639 days from April to October
    observed at Chicago O'Hare and thinned to six hours, the day's highest vapor pressure deficit
    so comes out 3 % too low on the mean, and 13 % by straight lines alone.

    Parameters
    ----------
    begin_c, end_c, high_c, low_c
        Temperature at the ends of each step and its extremes within, °C, as columns.
    share
        How much of the step has passed, 0-1, as a row.
    """
    over = high_c > np.maximum(begin_c, end_c)
    under = low_c < np.minimum(begin_c, end_c)
    extreme_c = np.where(over, high_c, low_c)
    before, after = (np.sqrt(np.abs(extreme_c - end)) for end in (begin_c, end_c))
    away = ((before + after) * share - before) ** 2
    arc = extreme_c + np.where(over, -away, away)
    return np.where(over | under, arc, begin_c + (end_c - begin_c) * share)


def _inside(tree: Any, key: str) -> Mapping[str, Any]:
    """Return a branch of parsed JSON; empty where there is none."""
    branch = tree.get(key) if isinstance(tree, Mapping) else None
    return branch if isinstance(branch, Mapping) else {}
