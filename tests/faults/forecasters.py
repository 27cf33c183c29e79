"""Public weather services on loopback, each of which answers what a test tells it to."""

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from drywind.config import WeatherSettings
from drywind.weather.http import Answer, Getter
from drywind.weather.open_meteo_answer import LAYERS
from drywind.weather.services import Place
from drywind.weather.validators import Validators

CHICAGO = Place("41.98,-87.90", 41.98, -87.9, 205.0)
OSLO = Place("59.94,10.72", 59.94, 10.72, 94.0)
TORONTO = Place("43.65,-79.38", 43.65, -79.38, 76.0)

US_C, MET_C, OPEN_METEO_C, OBSERVED_C, ARCHIVE_C = 20.0, 10.0, 5.0, 15.0, -5.0
"""The temperature each service tells of any hour, °C, by which its word is known."""

HOUR = timedelta(hours=1)
REACH = 60
"""How many hours a forecast covers, the first of them the hour of issue."""

_QUESTIONS = {
    "us points": r"/us/points/[\d.,-]+",
    "us grid": r"/us/gridpoints/LOT/76,73",
    "us old grid": r"/us/gridpoints/LOT/1,1",
    "us stations": r"/us/gridpoints/LOT/76,73/stations",
    "us reports": r"/us/stations/KORD/observations",
    "us alerts": r"/us/alerts/active",
    "met": r"/met/locationforecast/2\.0/complete",
    "om forecast": r"/om/v1/forecast",
    "om archive": r"/om/v1/archive",
    "om ensemble": r"/om/v1/ensemble",
}

Reply = Callable[[Request], Response]


class Forecasters:
    """The US service, MET Norway and an Open-Meteo server of one's own, at one address.

    A question without an answer in `replies` gets 404. What came is in `requests`, in order.
    """

    def __init__(self, server: HTTPServer) -> None:
        self.replies: dict[str, Reply] = {}
        self.requests: list[Request] = []
        self._url = server.url_for("/").rstrip("/")
        server.expect_request(re.compile("/(us|met|om)/")).respond_with_handler(self._answer)

    @property
    def asked(self) -> list[str]:
        """The names of the questions that came, in order."""
        return [_name(request) for request in self.requests]

    def put(self, question: str) -> list[Request]:
        """Return the requests that put a question, in order."""
        return [request for request in self.requests if _name(request) == question]

    def settings(self, **more: Any) -> WeatherSettings:
        """Return settings by which the US service and MET Norway are asked here."""
        here = {"nws_url": f"{self._url}/us", "met_norway_url": f"{self._url}/met"}
        return WeatherSettings(contact="yard@mill.example", **(here | more))

    def with_open_meteo(self, **more: Any) -> WeatherSettings:
        """Return settings by which all three are asked here."""
        own = {"open_meteo": "self_hosted", "open_meteo_url": f"{self._url}/om"}
        return self.settings(**(own | more))

    def us(self, issued_at: datetime) -> None:
        """Let the US service put out a forecast; the addresses it names are its public ones."""
        at = "https://api.weather.gov/gridpoints/LOT/76,73"
        points = {"forecastGridData": at, "observationStations": f"{at}/stations"}
        self.replies["us points"] = says({"properties": points})
        self.replies["us grid"] = says(us_grid(issued_at))
        self.replies["us alerts"] = says({"features": []})

    def us_reports(self, first: datetime, count: int) -> None:
        """Let a US station at Chicago report of so many hours."""
        station = {"stationIdentifier": "KORD", "name": "O'Hare"}
        where = {"coordinates": [CHICAGO.lon, CHICAGO.lat]}
        stations = {"features": [{"properties": station, "geometry": where}]}
        self.replies["us stations"] = says(stations)
        self.replies["us reports"] = says(us_reports(first, count))

    def met(self, issued_at: datetime, **headers: str) -> None:
        """Let MET Norway put out a forecast."""
        self.replies["met"] = says(met_forecast(issued_at), **headers)

    def open_meteo(self, now: datetime) -> None:
        """Let Open-Meteo's server forecast."""
        self.replies["om forecast"] = says(open_meteo_hours(now, REACH, OPEN_METEO_C))

    def open_meteo_ensemble(self, now: datetime) -> None:
        """Let Open-Meteo's server know an ensemble of three, one of them 5 K warmer."""
        body = open_meteo_hours(now, REACH, OPEN_METEO_C)
        for what in list(body["hourly"]):
            if what != "time":
                values, unit = body["hourly"][what], body["hourly_units"][what]
                warmer = [v + 5.0 for v in values] if what == "temperature_2m" else values
                for member, told in (("member01", values), ("member02", warmer)):
                    body["hourly"][f"{what}_{member}"] = told
                    body["hourly_units"][f"{what}_{member}"] = unit
        self.replies["om ensemble"] = says(body)

    def open_meteo_archive(self) -> None:
        """Let Open-Meteo's server know the past, of the days it is asked for."""

        def reply(request: Request) -> Response:
            first, last = (
                datetime.fromisoformat(request.args[f"{end}_date"]).replace(tzinfo=UTC)
                for end in ("start", "end")
            )
            hours = 24 + (last - first) // HOUR
            return says(open_meteo_hours(first, hours, ARCHIVE_C))(request)

        self.replies["om archive"] = reply

    def _answer(self, request: Request) -> Response:
        self.requests.append(request)
        reply = self.replies.get(_name(request), fails(404))
        return reply(request)


class Hasty(Getter):
    """Waits for no answer longer than a test may, and asks but once."""

    def __init__(self) -> None:
        super().__init__("yard@mill.example", attempts=1)

    def get_if_changed(self, url: str, known: Validators, deadline_s: float = 0.5) -> Answer:
        """Get as `Getter` does, in half a second or not at all."""
        return super().get_if_changed(url, known, min(deadline_s, 0.5))


def says(body: Any, **headers: str) -> Reply:
    """Answer with JSON; the names of headers are written with underscores."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    text = json.dumps(body)
    return lambda _: Response(text, headers=named, mimetype="application/json")


def fails(status: int) -> Reply:
    """Answer with a bare status."""
    return lambda _: Response(status=status)


def us_grid(issued_at: datetime, hours: int = REACH, unit: str = "degC") -> dict[str, Any]:
    """Write a raw forecast grid of the US service."""

    def layer(unit: str, value: float) -> dict[str, Any]:
        run = {"validTime": f"{_full_hour(issued_at).isoformat()}/PT{hours}H", "value": value}
        return {"uom": f"wmoUnit:{unit}", "values": [run]}

    properties = {
        "updateTime": issued_at.isoformat(),
        "temperature": layer(unit, US_C),
        "relativeHumidity": layer("percent", 50),
        "windSpeed": layer("km_h-1", 9),
    }
    return {"properties": properties}


def us_reports(first: datetime, count: int) -> dict[str, Any]:
    """Write a US station's reports, each made nine minutes before the hour it tells of."""

    def report(hour: datetime) -> dict[str, Any]:
        def quantity(unit: str, value: float) -> dict[str, Any]:
            return {"unitCode": f"wmoUnit:{unit}", "value": value, "qualityControl": "V"}

        properties = {
            "timestamp": (hour - timedelta(minutes=9)).isoformat(),
            "temperature": quantity("degC", OBSERVED_C),
            "relativeHumidity": quantity("percent", 50),
            "windSpeed": quantity("km_h-1", 9),
        }
        return {"properties": properties}

    return {"features": [report(first + n * HOUR) for n in range(count)]}


def us_alert(event: str, until: datetime) -> dict[str, Any]:
    """Write a warning of the US service."""
    return {
        "properties": {
            "id": f"urn:{event}",
            "event": event,
            "sent": (until - 12 * HOUR).isoformat(),
            "ends": until.isoformat(),
            "status": "Actual",
        }
    }


def met_forecast(issued_at: datetime) -> dict[str, Any]:
    """Write a forecast of MET Norway, hour by hour."""
    values = {"air_temperature": MET_C, "relative_humidity": 50.0, "wind_speed": 2.5}
    units = {"air_temperature": "celsius", "relative_humidity": "%", "wind_speed": "m/s"}
    series = [
        {
            "time": (_full_hour(issued_at) + n * HOUR).isoformat(),
            "data": {"instant": {"details": values}},
        }
        for n in range(REACH)
    ]
    meta = {"updated_at": issued_at.isoformat(), "units": units}
    return {"properties": {"meta": meta, "timeseries": series}}


def open_meteo_hours(start: datetime, count: int, temp_c: float) -> dict[str, Any]:
    """Write an answer of Open-Meteo of so many hours."""
    first = int(_full_hour(start).timestamp())
    hourly: dict[str, Any] = {"time": [first + 3600 * n for n in range(count)]}
    hourly |= {layer.name: [1.0] * count for layer in LAYERS.values()}
    hourly["temperature_2m"] = [temp_c] * count
    units = {layer.name: layer.unit for layer in LAYERS.values()}
    return {"hourly_units": units | {"time": "unixtime"}, "hourly": hourly}


def _full_hour(instant: datetime) -> datetime:
    return instant.replace(minute=0, second=0, microsecond=0)


def _name(request: Request) -> str:
    return next(name for name, path in _QUESTIONS.items() if re.fullmatch(path, request.path))
