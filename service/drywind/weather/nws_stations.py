"""The weather stations of the US National Weather Service around a place.

A place is looked up at ``/points/{lat},{lon}``, which names the list of stations that serve it.
Parsing is pure; only `find_stations` talks to the service.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from drywind.errors import WeatherError
from drywind.weather import nws
from drywind.weather.http import Getter
from drywind.weather.nws_answer import features_of, properties_of, read_number

REACH_KM = 50.0
"""No station further off is asked (assumption: the weather of a yard is that of its county, and
further off hills and coasts come between; 25-80 km)."""

_EARTH_KM = 6371.0
"""Mean radius of the earth (from memory)."""


@dataclass(frozen=True)
class Station:
    """A weather station, as seen from a site.

    Attributes
    ----------
    id
        What the service calls it.
    name
        What people call it.
    distance_km
        How far it is from the site.
    rise_m
        How much higher than the site it lies; nan where the service does not say.
    """

    id: str
    name: str
    distance_km: float
    rise_m: float


def find_stations(
    getter: Getter, base_url: str, lat: float, lon: float, altitude_m: float
) -> list[Station]:
    """Get the stations within reach of a place, the nearest first.

    Parameters
    ----------
    getter
        Does the HTTP.
    base_url
        Where the service is; no answer can send a request anywhere else.
    lat, lon
        Degrees; sent with at most four decimals, which is all the service accepts.
    altitude_m
        How high the place lies.

    Raises
    ------
    WeatherError
        If the service cannot be had, its answer cannot be used, or no station is near.
    """
    points = properties_of(nws.look_up(getter, base_url, lat, lon))
    url = points.get("observationStations")
    if not isinstance(url, str) or re.fullmatch(r"https?://[^/?#]+/gridpoints/[^?#]+", url) is None:
        raise WeatherError("the weather service names no weather stations for this place")
    body, _ = getter.get_json(base_url.rstrip("/") + urlsplit(url).path)
    return parse_stations(body, lat, lon, altitude_m)


def parse_stations(
    body: Mapping[str, Any], lat: float, lon: float, altitude_m: float
) -> list[Station]:
    """Read a list of stations; those too far off, or without a name or a place, are left out.

    Raises
    ------
    WeatherError
        If none is left.
    """
    near = []
    for feature in features_of(body):
        try:
            station = _station(feature, lat, lon, altitude_m)
        except (KeyError, TypeError, ValueError, OverflowError):
            continue
        if station.distance_km <= REACH_KM:
            near.append(station)
    if not near:
        raise WeatherError(f"no weather station is known within {REACH_KM:.0f} km of this place")
    return sorted(near, key=lambda station: station.distance_km)


def _station(feature: Mapping[str, Any], lat: float, lon: float, altitude_m: float) -> Station:
    properties = feature["properties"]
    code = properties["stationIdentifier"]
    if not isinstance(code, str) or re.fullmatch(r"[A-Za-z0-9_-]+", code) is None:
        raise ValueError(f"{code!r} is not a station")
    east, north = (read_number(degrees) for degrees in feature["geometry"]["coordinates"])
    match properties.get("elevation"):
        case {"value": value, "unitCode": "wmoUnit:m" | "unit:m"}:
            height_m = read_number(value)
        case _:
            height_m = math.nan
    return Station(
        id=code,
        name=str(properties.get("name") or code),
        distance_km=distance_km((lat, lon), (north, east)),
        rise_m=height_m - altitude_m,
    )


def distance_km(here: tuple[float, float], there: tuple[float, float]) -> float:
    """Return the length of the great circle between two places (haversine formula)."""
    (lat, lon), (to_lat, to_lon) = (map(math.radians, place) for place in (here, there))
    across = math.sin((to_lat - lat) / 2) ** 2
    along = math.cos(lat) * math.cos(to_lat) * math.sin((to_lon - lon) / 2) ** 2
    return 2 * _EARTH_KM * math.asin(math.sqrt(min(1.0, across + along)))
