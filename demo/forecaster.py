"""A loopback weather service for the demo: real past weather, synthetic forecasts.

It speaks the raw-grid format of the US National Weather Service over real HTTP. Observed hours
are those of a NOAA ISD-Lite file; a forecast is the hours to come plus an error that grows with
lead time, from a fixed seed. The error of an hour shrinks as the hour comes near, as real ones do.
"""

import gzip
import json
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

ISSUE_HOURS = 3
PAST_HOURS = 6
AHEAD_HOURS = 174
HOURLY_MEMORY = 0.92
"""Correlation of the error from one hour to the next (assumption)."""


@dataclass(frozen=True)
class Hours:
    """Observed weather, hour by hour; NaN where it is missing."""

    start: datetime
    temp_c: Array
    dewpoint_c: Array
    wind_ms: Array
    wind_dir_deg: Array
    cloud: Array
    rain_mm: Array


def read_isd_lite(path: Path) -> Hours:
    """Read a gzipped ISD-Lite file into hours without a break; absent lines become NaN."""
    raw = np.array([line.split() for line in gzip.decompress(path.read_bytes()).splitlines()], int)
    times = [datetime(*row[:4], tzinfo=UTC) for row in raw.tolist()]  # type: ignore[misc]
    place = np.array([(t - times[0]) // timedelta(hours=1) for t in times])
    table = np.full((place[-1] + 1, raw.shape[1]), np.nan)
    table[place] = np.where(raw == -9999, np.nan, raw)  # noqa: PLR2004 - the file's "missing"
    rain = np.where(table[:, 10] < 0, 0.0, table[:, 10])  # -1 is a trace
    columns = (table[:, 4] / 10, table[:, 5] / 10, table[:, 8] / 10, table[:, 7])
    return Hours(times[0], *columns, table[:, 9] / 8, rain / 10)


class Forecaster:
    """Makes the forecast that would be out at an instant, and serves it on a loopback port."""

    def __init__(self, observed: Hours, clock: Callable[[], datetime], seed: int) -> None:
        self.observed, self.clock = observed, clock
        count = len(observed.temp_c)
        self._drift = _red_noise(np.random.default_rng(seed), count)
        self._seed = seed
        self.requests = 0

    def grid(self, now: datetime) -> dict[str, Any]:
        """Return the raw grid last issued before `now`."""
        seen = self.observed
        issued = now.replace(minute=0, second=0, microsecond=0)
        issued -= timedelta(hours=issued.hour % ISSUE_HOURS)
        at = (issued - seen.start) // timedelta(hours=1)
        span = slice(max(0, at - PAST_HOURS), min(len(seen.temp_c), at + AHEAD_HOURS))
        lead_days = np.maximum(0.0, np.arange(span.start, span.stop) - at) / 24
        fresh = _red_noise(np.random.default_rng([self._seed, at]), span.stop - span.start)
        error = (0.9 * self._drift[:, span] + 0.44 * fresh) * (lead_days > 0)
        temp = seen.temp_c[span] + error[0] * (0.9 + 0.35 * lead_days)
        dew = np.minimum(seen.dewpoint_c[span] + error[1] * (1.0 + 0.4 * lead_days), temp)
        wind = seen.wind_ms[span] * np.exp(error[2] * (0.15 + 0.04 * lead_days))
        cloud = np.clip(seen.cloud[span] + error[3] * (0.1 + 0.03 * lead_days), 0, 1)
        start = seen.start + timedelta(hours=span.start)
        whole_f = np.round(temp * 1.8 + 32)
        layers = {
            "temperature": _layer("wmoUnit:degC", start, (whole_f - 32) / 1.8),
            "relativeHumidity": _layer("wmoUnit:percent", start, np.round(_rh_pct(temp, dew))),
            "windSpeed": _layer("wmoUnit:km_h-1", start, 1.852 * np.round(wind / 0.51444)),
            "windDirection": _layer("wmoUnit:degree_(angle)", start, seen.wind_dir_deg[span]),
            "skyCover": _layer("wmoUnit:percent", start, np.round(100 * cloud)),
            "quantitativePrecipitation": _layer("wmoUnit:mm", start, seen.rain_mm[span]),
        }
        return {"properties": {"updateTime": issued.isoformat(), "gridX": "1", **layers}}

    def serve(self) -> ThreadingHTTPServer:
        """Start serving on a free loopback port."""
        owner = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                owner.requests += 1
                here = f"http://127.0.0.1:{self.server.server_port}"  # type: ignore[attr-defined]
                if self.path.startswith("/points/"):
                    body = {"properties": {"forecastGridData": f"{here}/gridpoints/DEMO/1,1"}}
                else:
                    body = owner.grid(owner.clock())
                data = json.dumps(body).encode()
                self.send_response(200)
                self.send_header("Content-Type", "application/geo+json")
                self.send_header("Content-Length", str(len(data)))
                self.end_headers()
                self.wfile.write(data)

            def log_message(self, *_: object) -> None:
                """Keep the demo's output for the demo."""

        server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        return server


def _red_noise(random: np.random.Generator, count: int) -> Array:
    """Return four rows of unit noise that remembers the hour before."""
    white = random.standard_normal((4, count))
    noise = white.copy()
    for i in range(1, count):
        noise[:, i] = HOURLY_MEMORY * noise[:, i - 1] + (1 - HOURLY_MEMORY**2) ** 0.5 * white[:, i]
    return noise


def _rh_pct(temp_c: Array, dewpoint_c: Array) -> Array:
    """Return relative humidity (Magnus form, Alduchov & Eskridge 1996; from memory)."""
    return 100 * np.exp(
        17.625 * dewpoint_c / (243.04 + dewpoint_c) - 17.625 * temp_c / (243.04 + temp_c)
    )


def _layer(uom: str, start: datetime, values: Array) -> dict[str, Any]:
    """Write a layer; a missing hour is null."""
    return {
        "uom": uom,
        "values": [
            {
                "validTime": f"{(start + timedelta(hours=i)).isoformat()}/PT1H",
                "value": None if np.isnan(value) else round(float(value), 4),
            }
            for i, value in enumerate(values)
        ],
    }
