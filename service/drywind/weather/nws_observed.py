"""Past hours, as weather stations of the US National Weather Service observed them.

A station's reports are at ``/stations/{id}/observations``. The service keeps them for seven days
(its maintainers on github.com/weather-gov/api, issues 63 and 123, seen). Airports report once an
hour, shortly before it is full, and oftener while the weather changes; many also send a bare
report every five minutes, without rain or cloud (issue 168, seen). Parsing is pure; only `fetch`
talks to the service.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd

from drywind.clock import iso
from drywind.errors import WeatherError
from drywind.weather import table
from drywind.weather.forecast import Forecast
from drywind.weather.hour import VALUES, WeatherHour
from drywind.weather.http import Getter, RefusedError
from drywind.weather.nws_answer import (
    ANGLE,
    CELSIUS,
    PERCENT,
    SPEED,
    features_of,
    humidity_from_dewpoint,
    read_instant,
    read_number,
)
from drywind.weather.nws_stations import Station

SOURCE = "nws_obs"

ENOUGH = 0.8
"""The share of hours with temperature, humidity and wind that ends the search for a better station
(assumption: what is then missing is mostly bridged, and a nearer station is worth more than a
fuller one; 0.6-0.95)."""

MOST_STATIONS = 4
"""No more stations are asked, out of courtesy to the service."""

_KEPT = timedelta(days=7)
_DAY = timedelta(days=1)
_HOUR = timedelta(hours=1)
_HALF_HOUR = timedelta(minutes=30)
_LIMIT = 500
"""The most reports the service gives at once; a day of five-minute reports is some 310."""

_AIR = ["temp_c", "rh", "ghi_wm2", "cloud"]
_WIND = ["wind_ms", "wind_dir_deg", "gust_ms"]

_QUANTITIES = {
    "temp_c": ("temperature", CELSIUS),
    "dewpoint_c": ("dewpoint", CELSIUS),
    "rh": ("relativeHumidity", PERCENT),
    "wind_ms": ("windSpeed", SPEED),
    "wind_dir_deg": ("windDirection", ANGLE),
    "gust_ms": ("windGust", SPEED),
    "rain_mm": ("precipitationLastHour", {"mm": 1.0, "m": 1000.0}),
}
"""For each of our quantities the service's name and the factor from each unit understood."""

_TRUSTED = frozenset("CSVGZ")
"""The quality codes of values that are taken: passed one, two or all three levels of automatic
checks (C, S, V), found good by a person (G), or not checked (Z), as rain and gusts never are. Left
out are failed, questioned and found bad (X, Q, B). Source: NOAA MADIS, Meteorological Surface
Quality Control Checks, as quoted on github.com/weather-gov/api, issue 126 (seen). That unchecked
values are taken is our decision: they still have to be possible ones."""

_COVER = {"CLR": 0.0, "SKC": 0.0, "FEW": 0.19, "SCT": 0.44, "BKN": 0.75, "OVC": 1.0, "VV": 1.0}
"""Fraction of the sky behind each word for a cloud layer: the middle of its eighths, FEW 1-2,
SCT 3-4, BKN 5-7 (assumption, 0.12-0.25, 0.37-0.5 and 0.62-0.88), after the Federal Meteorological
Handbook No. 1, chapter 9 (from memory). VV is a sky that fog or snow hides. CLR comes from
machines, which see no cloud above 12,000 ft (from memory), and so may hide a veil of cirrus."""


def fetch(
    getter: Getter, base_url: str, stations: Sequence[Station], start: datetime, end: datetime
) -> tuple[Forecast, Station]:
    """Get the hours observed at the nearest station that has enough of them.

    Parameters
    ----------
    getter
        Does the HTTP.
    base_url
        Where the service is.
    stations
        The nearest first. Where none has enough hours the one with most is taken.
    start, end
        The hours that start within them are wanted, of which the service has those of seven days.

    Returns
    -------
    observed
        The hours, each issued when its last report was made.
    station
        Where they were observed.

    Raises
    ------
    WeatherError
        If the service cannot be had, or no station has a single hour.
    """
    start = max(start, end - _KEPT)
    wanted = len(pd.date_range(pd.Timestamp(start).ceil("h"), end, freq="h", inclusive="left"))
    found: list[tuple[int, Forecast, Station]] = []
    for station in stations[:MOST_STATIONS]:
        observed = _observed(getter, base_url, station, start, end)
        if observed is not None:
            known = len(table.known_hours(observed.table))
            found.append((known, observed, station))
            if known >= ENOUGH * wanted:
                break
    if not found:
        raise WeatherError("no weather station near this place has reported")
    _, observed, station = max(found, key=lambda one: one[0])
    return observed, station


def _observed(
    getter: Getter, base_url: str, station: Station, start: datetime, end: datetime
) -> Forecast | None:
    """Get the hours of one station by the day, or None where it has none that can be used."""
    address = f"{base_url.rstrip('/')}/stations/{station.id}/observations"
    bodies = []
    since = start - _HALF_HOUR
    try:
        while since < end:
            until = min(since + _DAY, end)
            query = f"start={iso(since)}&end={iso(until)}&limit={_LIMIT}"
            body, _ = getter.get_json(f"{address}?{query}")
            bodies.append(body)
            since = until
    except RefusedError as error:
        if error.status != 404:  # noqa: PLR2004 - HTTP's own number for "not here"
            raise
        return None
    try:
        return parse_observations(bodies, start, end)
    except WeatherError:
        return None


def parse_observations(
    bodies: Iterable[Mapping[str, Any]], start: datetime, end: datetime
) -> Forecast:
    """Turn a station's reports into the hours that start within `start` and `end`.

    An hour is told, quantity by quantity, by the report nearest its beginning that gives one, at
    most half an hour off: so a forecast's hours are meant too. Speed, direction and gust of its
    wind come from one report. Its rain is the last hour's in a report of its second half; of
    several the largest, for one that comes between two hourly reports counts from the earlier one
    only. What no report gives stays unknown, rain included, though a station that has a gauge
    leaves it out when there was none.

    Raises
    ------
    WeatherError
        If no hour has temperature, humidity and wind.
    """
    dropped: Counter[str] = Counter()
    rows = [
        row
        for body in bodies
        for feature in features_of(body)
        if (row := _report(feature, dropped)) is not None
        and start - _HALF_HOUR <= row["time"] <= end + _HALF_HOUR
    ]
    hours = _by_hour(rows, dropped) if rows else []
    observed = table.from_hours([hour for hour in hours if start <= hour.time_utc < end])
    known = table.known_hours(observed)
    if known.empty:
        raise WeatherError("the station has no hour with temperature, humidity and wind")
    observed = observed.loc[: known[-1]]
    return Forecast(observed, observed["issued_at"].max().to_pydatetime(), SOURCE, dict(+dropped))


def _by_hour(rows: Sequence[Mapping[str, Any]], dropped: Counter[str]) -> list[WeatherHour]:
    """Choose for each hour among the reports; one that comes twice counts once."""
    reports = pd.DataFrame(rows).groupby("time").first()
    reports, impossible = table.within_bounds(reports.assign(ghi_wm2=math.nan))
    dropped.update(impossible)
    humidity_from_dewpoint(reports, reports["dewpoint_c"], dropped)
    time = pd.DatetimeIndex(reports.index)
    reports["issued_at"] = time

    begun = (time + _HALF_HOUR).floor("h")
    off = np.abs((time - begun).total_seconds())
    nearest = reports.assign(hour=begun, off=off).sort_values("off", kind="stable")
    air = nearest.groupby("hour")[_AIR].first()
    wind = nearest.dropna(subset="wind_ms").drop_duplicates("hour").set_index("hour")[_WIND]

    full = time.ceil("h")
    late = (full - time).total_seconds() <= _HALF_HOUR.total_seconds()
    rain = reports.assign(hour=full - _HOUR)[late].dropna(subset="rain_mm").groupby("hour")
    rain_mm, reported_at = rain["rain_mm"].max(), rain["issued_at"].max()

    last = nearest.groupby("hour")["issued_at"].max()
    issued = pd.concat([last, reported_at]).groupby(level=0).max()
    told = air.join([wind, rain_mm], how="outer").dropna(how="all")
    return [
        WeatherHour._make([hour.to_pydatetime(), *values, SOURCE, issued[hour].to_pydatetime()])
        for hour, *values in told[list(VALUES)].itertuples(name=None)
    ]


def _report(feature: Mapping[str, Any], dropped: Counter[str]) -> dict[str, Any] | None:
    """Read one report; one without a time is counted and left out."""
    try:
        properties = feature["properties"]
        row: dict[str, Any] = {"time": read_instant(properties["timestamp"])}
    except (KeyError, TypeError, ValueError):
        dropped["time_utc"] += 1
        return None
    for name, (theirs, factors) in _QUANTITIES.items():
        try:
            row[name] = _quantity(properties.get(theirs), factors)
        except (TypeError, ValueError, OverflowError):
            dropped[name] += 1
            row[name] = math.nan
    row["cloud"] = _cloud(properties.get("cloudLayers"))
    return row


def _quantity(entry: Any, factors: Mapping[str, float]) -> float:
    """Read a value in our unit, nan where there is none; raise where it cannot be trusted."""
    match entry:
        case None | {"value": None}:
            return math.nan
        case {"value": value, "unitCode": str(unit), **rest}:
            code = str(rest.get("qualityControl") or "Z").rpartition(":")[2]
            factor = factors.get(unit.rpartition(":")[2])
            if factor is None or code not in _TRUSTED:
                raise ValueError("a value in an unknown unit, or one the service itself doubts")
            return read_number(value) * factor
    raise TypeError(f"{entry!r} is not a quantity")


def _cloud(layers: Any) -> float:
    """Return the cover of the sky: each layer's word counts all the cloud below it too."""
    try:
        return max(_COVER[layer["amount"]] for layer in layers)
    except (KeyError, TypeError, ValueError):
        return math.nan
