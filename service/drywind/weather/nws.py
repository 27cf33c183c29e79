"""The US National Weather Service's raw forecast grid (api.weather.gov).

A place is looked up once at ``/points/{lat},{lon}``, which names the grid cell; the cell's answer
holds one layer per quantity. Equal neighboring hours are merged into runs, written as ISO 8601
intervals (``2026-06-13T11:00:00+00:00/PT6H``); precipitation is the total of its interval. Format:
the service's OpenAPI description and its maintainers' words on github.com/weather-gov/api, issues
21 and 111. Parsing is pure; only `fetch` talks to the service.
"""

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from itertools import zip_longest
from operator import attrgetter
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pandas as pd

from drywind.clock import floor_hour
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
    humidity_from_dewpoint,
    point,
    properties_of,
    read_instant,
    read_number,
)

SOURCE = "nws"

_HOUR = timedelta(hours=1)
_REACH = timedelta(days=16)
"""No run is longer, or begins further from the time of issue; one that is said to be is refused."""

_DURATION = re.compile(
    r"P(?:(?P<weeks>\d{1,3})W)?(?:(?P<days>\d{1,3})D)?"
    r"(?:T(?:(?P<hours>\d{1,4})H)?(?:(?P<minutes>\d{1,5})M)?)?"
)
_LAYERS = {
    "temp_c": ("temperature", CELSIUS),
    "dewpoint_c": ("dewpoint", CELSIUS),
    "rh": ("relativeHumidity", PERCENT),
    "wind_ms": ("windSpeed", SPEED),
    "wind_dir_deg": ("windDirection", ANGLE),
    "gust_ms": ("windGust", SPEED),
    "cloud": ("skyCover", PERCENT),
    "rain_mm": ("quantitativePrecipitation", {"mm": 1.0}),
}
"""For each of our quantities the service's layer and the factor from each unit understood."""

_MOVED = {400, 404}
"""What the service answers about a cell that its office has redrawn."""


class Run(NamedTuple):
    """A value that holds from `start` until `end`, or is their total."""

    start: datetime
    end: datetime
    value: float


def fetch(
    getter: Getter, base_url: str, lat: float, lon: float, cell_url: str | None = None
) -> tuple[Forecast, str]:
    """Get the forecast of a place.

    Parameters
    ----------
    getter
        Does the HTTP.
    base_url
        Where the service is; no answer can send a request anywhere else.
    lat, lon
        Degrees; sent with at most four decimals, which is all the service accepts.
    cell_url
        What an earlier call returned, which saves the look-up. It is looked up again if the
        service no longer knows it.

    Returns
    -------
    forecast
        The forecast.
    cell_url
        The address of the grid cell, for the next call.

    Raises
    ------
    WeatherError
        If the service cannot be had or its answer cannot be used.
    """
    if cell_url is not None:
        try:
            return _get_grid(getter, base_url, cell_url), cell_url
        except RefusedError as error:
            if error.status not in _MOVED:
                raise
    cell_url = parse_points(look_up(getter, base_url, lat, lon))
    return _get_grid(getter, base_url, cell_url), cell_url


def look_up(getter: Getter, base_url: str, lat: float, lon: float) -> dict[str, Any]:
    """Get what the service knows of a place: which grid cell and which stations serve it.

    Raises
    ------
    WeatherError
        If the service cannot be had.
    """
    points, _ = getter.get_json(f"{base_url.rstrip('/')}/points/{point(lat, lon)}")
    return points


def _get_grid(getter: Getter, base_url: str, cell_url: str) -> Forecast:
    body, _ = getter.get_json(base_url.rstrip("/") + urlsplit(cell_url).path)
    return parse_grid(body)


def parse_points(body: Mapping[str, Any]) -> str:
    """Return the address of the grid cell that a ``/points`` answer names.

    Raises
    ------
    WeatherError
        If it names none.
    """
    url = properties_of(body).get("forecastGridData")
    if not isinstance(url, str) or re.fullmatch(r"https?://[^/?#]+/gridpoints/[^?#]+", url) is None:
        raise WeatherError("the weather service names no forecast grid for this place")
    return url


def parse_grid(body: Mapping[str, Any]) -> Forecast:
    """Read a raw grid answer.

    Raises
    ------
    WeatherError
        If it has no time of issue, or no hour with temperature, humidity and wind.
    """
    properties = properties_of(body)
    try:
        issued_at = read_instant(properties.get("updateTime"))
    except ValueError:
        raise WeatherError("the forecast grid does not say when it was issued") from None
    dropped: Counter[str] = Counter()
    layers = {
        name: by_hour(_runs(properties, name, issued_at, dropped), total=name == "rain_mm")
        for name in _LAYERS
    }
    hours = [
        WeatherHour(
            time_utc=hour,
            source=SOURCE,
            issued_at=issued_at,
            **{name: layers.get(name, {}).get(hour, math.nan) for name in VALUES},
        )
        for hour in set().union(*layers.values())
    ]
    frame, impossible = table.within_bounds(table.from_hours(hours))
    dropped.update(impossible)
    dewpoints = layers["dewpoint_c"]
    dewpoint = pd.Series([dewpoints.get(hour, math.nan) for hour in frame.index], frame.index)
    humidity_from_dewpoint(frame, dewpoint, dropped)
    known = table.known_hours(frame)
    if known.empty:
        lost = f"; dropped {dict(+dropped)}" if +dropped else ""
        raise WeatherError(f"the grid has no hour with temperature, humidity and wind{lost}")
    return Forecast(frame.loc[: known[-1]], issued_at, SOURCE, dict(+dropped))


def parse_interval(text: str) -> tuple[datetime, datetime]:
    """Read an ISO 8601 interval of a start and a duration; return its start and end in UTC.

    Raises
    ------
    ValueError
        If it is something else, or its duration is nothing or holds months or years.
    """
    start_text, _, duration = text.partition("/")
    parts = _DURATION.fullmatch(duration)
    if parts is None:
        raise ValueError(f"{duration!r} is not a duration")
    length = timedelta(**{unit: int(n) for unit, n in parts.groupdict(default="0").items()})
    if not length:
        raise ValueError(f"{text!r} is an interval of no length")
    start = read_instant(start_text)
    return start, start + length


def by_hour(runs: Iterable[Run], *, total: bool = False) -> dict[datetime, float]:
    """Expand runs to the value of each hour they touch.

    Parameters
    ----------
    runs
        In any order. Where two overlap the earlier one ends where the later one begins.
    total
        Whether a value is the total of its run, to be spread evenly over it, or holds at each of
        its moments.
    """
    hours: dict[datetime, float] = {}
    ordered = sorted(runs, key=attrgetter("start"))
    for run, later in zip_longest(ordered, ordered[1:]):
        end = min(run.end, later.start) if later else run.end
        hour = floor_hour(run.start)
        while hour < end:
            share = (min(end, hour + _HOUR) - max(run.start, hour)) / (run.end - run.start)
            hours[hour] = hours.get(hour, 0.0) + run.value * share if total else run.value
            hour += _HOUR
    return hours


def _runs(
    properties: Mapping[str, Any], name: str, issued_at: datetime, dropped: Counter[str]
) -> list[Run]:
    """Read one layer into our unit; an absent or empty layer has no runs."""
    layer_name, factors = _LAYERS[name]
    match properties.get(layer_name):
        case {"values": list(entries), **layer}:
            factor = factors.get(str(layer.get("uom")).rpartition(":")[2])
        case _:
            return []
    if factor is None:
        dropped[name] += len(entries)
        return []
    runs = []
    for entry in entries:
        try:
            runs.append(_run(entry, factor, issued_at))
        except (KeyError, TypeError, ValueError, OverflowError):
            dropped[name] += 1
    return runs


def _run(entry: Mapping[str, Any], factor: float, issued_at: datetime) -> Run:
    start, end = parse_interval(str(entry["validTime"]))
    if max(abs(start - issued_at), end - start) > _REACH:
        raise ValueError("no forecast reaches so far")
    return Run(start, end, read_number(entry["value"]) * factor)
