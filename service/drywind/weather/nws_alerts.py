"""Warnings of the US National Weather Service in force at a place.

They are at ``/alerts/active?point={lat},{lon}``, in the Common Alerting Protocol written as
GeoJSON. Every update is a message of its own that names those it replaces in ``references``; old
and new may be served side by side. ``expires`` is when the message is to be replaced, ``ends``
when the weather itself ends (the maintainers on github.com/weather-gov/api, issues 15 and 190,
seen). Parsing and choosing are pure; only `fetch` talks to the service.
"""

import logging
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from drywind.errors import WeatherError
from drywind.weather.http import Getter
from drywind.weather.nws_answer import features_of, point, read_instant

_log = logging.getLogger(__name__)

_VTEC = re.compile(
    r"/[OTEX]\.(?P<action>[A-Z]{3})\.(?P<event>[A-Z]{4}\.[A-Z]{2}\.[A-Z]\.\d{4})"
    r"\.\d{6}T\d{4}Z-\d{6}T\d{4}Z/"
)
"""Valid Time Event Code: action, then office, phenomenon, significance and number of the event."""

_OVER = {"CAN", "EXP", "UPG"}
"""Actions that end an event: canceled, expired, replaced by a graver one (National Weather Service
Instruction 10-1703, from memory)."""


class Concern(StrEnum):
    """What a warning is about, as far as drying lumber goes."""

    DRY_WIND = "dry_wind"
    WIND = "wind"
    HEAT = "heat"
    RAIN = "rain"
    FROST = "frost"


_CONCERNS = {
    "red flag warning": Concern.DRY_WIND,
    "fire weather watch": Concern.DRY_WIND,
    "wind advisory": Concern.WIND,
    "high wind watch": Concern.WIND,
    "high wind warning": Concern.WIND,
    "dust advisory": Concern.WIND,
    "blowing dust advisory": Concern.WIND,
    "blowing dust warning": Concern.WIND,
    "dust storm warning": Concern.WIND,
    "heat advisory": Concern.HEAT,
    "excessive heat watch": Concern.HEAT,
    "excessive heat warning": Concern.HEAT,
    "extreme heat watch": Concern.HEAT,
    "extreme heat warning": Concern.HEAT,
    "severe thunderstorm watch": Concern.RAIN,
    "severe thunderstorm warning": Concern.RAIN,
    "freeze watch": Concern.FROST,
    "freeze warning": Concern.FROST,
    "hard freeze watch": Concern.FROST,
    "hard freeze warning": Concern.FROST,
}
"""Events by the service's names, old ones too: excessive heat became extreme heat in March 2025,
and hard freeze became freeze in October 2024 (both announced by the service, seen in the press)."""


@dataclass(frozen=True)
class Notice:
    """One message about dangerous weather.

    Attributes
    ----------
    id
        Of this message; an update has one of its own.
    event
        The service's name for the weather, such as "Red Flag Warning".
    sent
        When the message was sent.
    onset
        When the weather begins, where the message says so.
    ends
        When the weather ends, where the message says so.
    expires
        When the message is to be replaced, where it says so.
    severity
        The service's word for it: Extreme, Severe, Moderate, Minor or Unknown.
    headline
        One line for people, or nothing.
    references
        The messages this one replaces.
    vtec
        Office, phenomenon, significance and number, which all messages about one event share; or
        nothing.
    over
        Whether it says that the danger is past, canceled, or the matter of another warning.
    """

    id: str
    event: str
    sent: datetime
    onset: datetime | None
    ends: datetime | None
    expires: datetime | None
    severity: str
    headline: str
    references: frozenset[str]
    vtec: str
    over: bool


def fetch(getter: Getter, base_url: str, lat: float, lon: float) -> list[Notice]:
    """Get the messages in force at a place, superseded ones among them (see `standing`).

    Parameters
    ----------
    getter
        Does the HTTP.
    base_url
        Where the service is.
    lat, lon
        Degrees; sent with at most four decimals, which is all the service accepts.

    Raises
    ------
    WeatherError
        If the service cannot be had or its answer cannot be used.
    """
    url = f"{base_url.rstrip('/')}/alerts/active?point={point(lat, lon)}"
    body, _ = getter.get_json(url)
    return parse(body)


def parse(body: Mapping[str, Any]) -> list[Notice]:
    """Read an answer; tests and exercises are left out.

    A message that cannot be read is left out with a line in the log: one broken message must not
    hide the others.

    Raises
    ------
    WeatherError
        If the answer is no list of messages, or none of them can be read.
    """
    features = features_of(body)
    notices, broken = [], 0
    for feature in features:
        try:
            properties = feature["properties"]
            if properties["status"] == "Actual":
                notices.append(_notice(properties))
        except (KeyError, TypeError, ValueError):
            broken += 1
    if broken == len(features) > 0:
        raise WeatherError("none of the weather service's warnings can be read")
    if broken:
        _log.warning("%d of the weather service's warnings cannot be read", broken)
    return notices


def standing(notices: Iterable[Notice], now: datetime) -> list[Notice]:
    """Return the messages that hold at `now`: the last word on each event, in the order sent.

    A message falls that another one replaces, whose weather has ended, or whose event a later
    message speaks of. One that gives no end stands until it is to be replaced, and where it does
    not say that either, for as long as it is served. A kept list must pass here at every use.
    """
    notices = sorted(notices, key=lambda notice: (notice.sent, not notice.over))
    replaced = frozenset[str]().union(*(notice.references for notice in notices))
    latest = {notice.vtec or notice.id: notice for notice in notices}
    return [
        notice
        for notice in notices
        if notice is latest[notice.vtec or notice.id]
        and notice.id not in replaced
        and not notice.over
        and not _ended(notice, now)
    ]


def matters(notice: Notice) -> Concern | None:
    """Return what a message means to drying lumber, or None where it means nothing."""
    return _CONCERNS.get(" ".join(notice.event.split()).casefold())


def _ended(notice: Notice, now: datetime) -> bool:
    end = notice.ends or notice.expires
    return end is not None and end <= now


def _notice(properties: Mapping[str, Any]) -> Notice:
    action, vtec = _event_code(properties.get("parameters"))
    return Notice(
        id=_text(properties["id"]),
        event=_text(properties["event"]),
        sent=read_instant(properties["sent"]),
        onset=_instant(properties.get("onset")),
        ends=_instant(properties.get("ends")),
        expires=_instant(properties.get("expires")),
        severity=str(properties.get("severity") or "Unknown"),
        headline=str(properties.get("headline") or ""),
        references=_references(properties.get("references")),
        vtec=vtec,
        over=properties.get("messageType") == "Cancel" or action in _OVER,
    )


def _event_code(parameters: Any) -> tuple[str, str]:
    """Return the action and the event of the first code that can be read, or two empty texts."""
    match parameters:
        case {"VTEC": [*codes]}:
            found = (_VTEC.fullmatch(code) for code in codes if isinstance(code, str))
            code = next(filter(None, found), None)
            if code is not None:
                return code["action"], code["event"]
    return "", ""


def _references(entries: Any) -> frozenset[str]:
    match entries:
        case [*entries]:
            named = (entry.get("identifier") for entry in entries if isinstance(entry, Mapping))
            return frozenset(name for name in named if isinstance(name, str))
    return frozenset()


def _instant(text: Any) -> datetime | None:
    """Read an instant that a message may do without, rather than lose the message."""
    try:
        return read_instant(text)
    except ValueError:
        return None


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value:
        raise ValueError(f"{value!r} is not a text")
    return value
