"""Two public weather services on loopback that know what comes, and the ways they fail to say it.

Both foretell what really comes, in their own formats and over real HTTP. A pass sees what they
would have out at its instant.
"""

import gc
import json
import logging
import math
import os
import socket
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from itertools import cycle
from pathlib import Path
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from tests.conftest import Hour

from drywind.alerts.records import Message
from drywind.config import Config, Contact, Policy, WeatherSettings
from drywind.cycle import Pass, run_pass
from drywind.delivery import Destination, Kind, deliver_due
from drywind.store import Outcome, Store
from drywind.units import Thickness
from drywind.weather.http import Getter
from drywind.yard import Event, Measure, Setup, Site, Stack

HOUR = timedelta(hours=1)
ISSUED_EVERY_H = 6
AHEAD_H = 100
STALE_BY = 60 * HOUR
HOT_LIE: Hour = (41.0, 8.0, 14.0)
LYING_FROM_H = 24
"""A stale forecast was right about its first day; of later hours, up to those that new ones reach,
it says what never came, so that whoever believes it gives a false alarm."""

ABSURD_C = 400.0
ABSURD_HOURS = range(12, 18)
"""Which hours of a forecast an absurd one spoils: more than are bridged."""


class Fault(StrEnum):
    """What can be wrong with the US service."""

    CRASHED = "500"
    BUSY = "503 with Retry-After"
    REFUSED = "nobody listens"
    LOGIN_PAGE = "HTML"
    BROKEN = "half of a JSON"
    EMPTY = "layers without values"
    FAHRENHEIT = "a unit it never wrote before"
    ABSURD = "temperatures that cannot be"
    STALE = "a forecast of days ago"


Answer = tuple[int, dict[str, str], bytes]
"""Status, headers and body."""

_REFUSALS: Mapping[Fault | None, Answer] = {
    Fault.CRASHED: (500, {}, b""),
    Fault.BUSY: (503, {"Retry-After": "600"}, b""),
    Fault.LOGIN_PAGE: (200, {"Content-Type": "text/html"}, b"<html>Welcome to our network</html>"),
}


@dataclass(frozen=True)
class Climate:
    """What really comes: fair days but for hot, dry, windy spells, by the clock of the place."""

    zone: ZoneInfo
    spells: Sequence[tuple[datetime, datetime]] = ()

    def hour(self, at: datetime) -> Hour:
        """Return the air of an hour: warmest, driest and windiest at 15:00."""
        hot = any(start <= at < end for start, end in self.spells)
        day: Hour = (36.0, 16.0, 7.0) if hot else (19.0, 66.0, 1.5)
        night: Hour = (23.0, 36.0, 3.5) if hot else (11.0, 94.0, 0.8)
        local = at.astimezone(self.zone)
        angle = 2 * math.pi * (local.hour + local.minute / 60 - 15) / 24
        share = 0.5 - 0.5 * math.cos(angle)
        temp_c, rh_pct, wind_ms = (d + (n - d) * share for d, n in zip(day, night, strict=True))
        return temp_c, rh_pct, wind_ms


def local_spell(zone: ZoneInfo, first: datetime, days: int) -> tuple[datetime, datetime]:
    """Return a spell from 10:00 of a day to 20:00 some days on, on the wall clock."""
    last = first.date() + timedelta(days=days - 1)
    return (
        datetime.combine(first.date(), time(10), zone),
        datetime.combine(last, time(20), zone),
    )


def issue_before(now: datetime) -> datetime:
    """Return when the forecast was issued that is out at an instant."""
    whole = now.replace(minute=0, second=0, microsecond=0)
    return whole - timedelta(hours=whole.hour % ISSUED_EVERY_H)


class Services:
    """The US service (under ``/us``) and MET Norway (under ``/no``), on one port.

    `now` is their clock, `fault` that of the US service, and in a `blackout` neither is there.
    """

    def __init__(self, hour: Callable[[datetime], Hour], port: int, dead_port: int) -> None:
        self.now: datetime | None = None
        self.fault: Fault | None = None
        self.blackout = False
        self.asked: Counter[str] = Counter()
        self._hour = hour
        self._live, self._dead = (f"http://127.0.0.1:{p}" for p in (port, dead_port))
        self._us = lru_cache(maxsize=4)(self._us_answer)
        self._norway = lru_cache(maxsize=4)(self._norwegian_answer)

    @property
    def settings(self) -> WeatherSettings:
        """The settings by which they are found, if they are there."""
        us_is_gone = self.blackout or self.fault is Fault.REFUSED
        return WeatherSettings(
            contact="yard@example.com",
            nws_url=f"{self._dead if us_is_gone else self._live}/us",
            met_norway_url=f"{self._dead if self.blackout else self._live}/no",
        )

    def answer(self, path: str, known: str | None) -> Answer:
        """Answer a request; `known` is the version of the answer that the asker has."""
        assert self.now is not None
        issued_at = issue_before(self.now)
        if path.startswith("/no/"):
            self.asked["met_norway"] += 1
            version = f"{issued_at:%a, %d %b %Y %H:%M:%S} GMT"
            if known == version:
                return 304, {}, b""
            return 200, {"Last-Modified": version}, self._norway(issued_at)
        self.asked["nws"] += path.startswith("/us/gridpoints/")
        if self.fault in _REFUSALS:
            return _REFUSALS[self.fault]
        if path.startswith("/us/points/"):
            cell = {"forecastGridData": f"{self._live}/gridpoints/RNK/1,1"}
            return 200, {}, json.dumps({"properties": cell}).encode()
        return 200, {}, self._us(issued_at, self.fault)

    def _us_answer(self, issued_at: datetime, fault: Fault | None) -> bytes:
        ahead_h = AHEAD_H
        if fault is Fault.STALE:
            issued_at -= STALE_BY
            ahead_h += STALE_BY // HOUR
        times = [issued_at + i * HOUR for i in range(ahead_h)]
        hours = [self._hour(at) for at in times]
        if fault is Fault.STALE:
            hours[LYING_FROM_H:] = [HOT_LIE] * (ahead_h - LYING_FROM_H)
        temp_c, rh_pct, wind_ms = map(list, zip(*hours, strict=True))
        unit = "degC"
        if fault is Fault.FAHRENHEIT:
            temp_c, unit = [1.8 * t + 32 for t in temp_c], "degF"
        if fault is Fault.ABSURD:
            for i in ABSURD_HOURS:
                temp_c[i] = ABSURD_C
        if fault is Fault.EMPTY:
            times = []
        layers = {
            "temperature": _layer(unit, times, temp_c),
            "relativeHumidity": _layer("percent", times, rh_pct),
            "windSpeed": _layer("km_h-1", times, [3.6 * speed for speed in wind_ms]),
        }
        body = json.dumps({"properties": {"updateTime": issued_at.isoformat(), **layers}}).encode()
        return body[: len(body) // 2] if fault is Fault.BROKEN else body

    def _norwegian_answer(self, issued_at: datetime) -> bytes:
        names = ("air_temperature", "relative_humidity", "wind_speed")
        series = [
            {
                "time": f"{at:%Y-%m-%dT%H:%M:%SZ}",
                "data": {"instant": {"details": dict(zip(names, self._hour(at), strict=True))}},
            }
            for at in (issued_at + i * HOUR for i in range(AHEAD_H))
        ]
        meta = {
            "updated_at": issued_at.isoformat(),
            "units": dict(zip(names, ("celsius", "%", "m/s"), strict=True)),
        }
        return json.dumps({"properties": {"meta": meta, "timeseries": series}}).encode()


def _layer(unit: str, times: Sequence[datetime], values: Sequence[float]) -> dict[str, Any]:
    pairs = zip(times, values, strict=False)
    return {
        "uom": f"wmoUnit:{unit}",
        "values": [{"validTime": f"{at.isoformat()}/PT1H", "value": value} for at, value in pairs],
    }


@contextmanager
def services(hour: Callable[[datetime], Hour]) -> Iterator[Services]:
    """Serve both until the block is left; the suite's own web server would keep every request."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            status, headers, body = told.answer(self.path, self.headers["If-Modified-Since"])
            self.send_response(status)
            for name, value in ({"Content-Type": "application/json"} | headers).items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Keep quiet."""

    with socket.socket() as bound, ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        bound.bind(("127.0.0.1", 0))  # nobody listens, and nobody else can
        told = Services(hour, server.server_port, bound.getsockname()[1])
        threading.Thread(target=server.serve_forever, args=[0.05], daemon=True).start()
        yield told
        server.shutdown()


def random_faults(random: Random, hours: int, share: float, longest_h: int) -> list[Fault | None]:
    """Return the fault of each hour: outages of 1 to `longest_h` hours, each kind in its turn."""
    faults: list[Fault | None] = []
    mean_up_h = (1 + longest_h) / 2 * (1 - share) / share
    kinds = cycle(random.sample(list(Fault), len(Fault)))
    while len(faults) < hours:
        faults += [None] * max(1, round(random.expovariate(1 / mean_up_h)))
        faults += [next(kinds)] * random.randint(1, longest_h)
    return faults[:hours]


def leave_out_chances(patch: pytest.MonkeyPatch) -> None:
    """Do not ask how likely harm is: that decides nothing, and costs more than all the rest."""
    patch.setattr("drywind.cycle.MEMBERS", 1)
    patch.setattr("drywind.judge.assess.chances", lambda courses, *_: [None] * len(courses))


@contextmanager
def log_lines(name: str = "drywind") -> Iterator[list[str]]:
    """Collect what is logged at warning and above."""
    lines: list[str] = []
    handler = logging.Handler(logging.WARNING)
    handler.emit = lambda record: lines.append(record.getMessage())  # type: ignore[method-assign]
    logger = logging.getLogger(name)
    logger.addHandler(handler)
    try:
        yield lines
    finally:
        logger.removeHandler(handler)


def resident_mb() -> float:
    """Return how much memory this process holds."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@dataclass(frozen=True)
class Watch:
    """A yard watched pass by pass: `run_pass` on a real store, with a clock of its own."""

    told: Services
    store: Store
    zone: ZoneInfo
    sites: Mapping[str, Site]
    contact: Contact
    getter: Getter = field(
        default_factory=lambda: Getter(
            "yard@example.com", attempts=1, first_wait_s=0.001, longest_wait_s=0.01
        )
    )

    def look(self, now: datetime) -> Pass:
        """Do the pass of an instant, and let its words arrive."""
        self.told.now = now
        config = Config(
            "Yard",
            self.zone,
            self.contact.units,
            self.store.path.parent,
            self.told.settings,
            self.sites,
            {self.contact.name: self.contact},
            Policy(),
        )
        found = run_pass(config, self.store, self.getter, now)
        way = Destination(self.contact.url.get_secret_value(), self.contact.kind.value)
        deliver_due(self.store, {self.contact.name: way}, now, _accepted)
        return found


def _accepted(_url: str, _message: Message, _kind: Kind) -> tuple[Outcome, str]:
    return Outcome.SENT, "accepted"


def stacked(name: str, species: str, at: datetime, *events: Event) -> Stack:
    """Return a 4/4 stack under a pile roof at the site `yard`, fresh from the saw."""
    roofed = Setup("yard", measures=frozenset({Measure.PILE_ROOF}))
    return Stack(name, species, Thickness.parse("4/4"), at, roofed, events=events)
