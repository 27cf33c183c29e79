"""The forecast services, in the order a place asks them, and one question put to each.

A service that says no is left alone for a while; one that has nothing new says so without sending
it again; and what each said last is remembered from pass to pass.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from drywind.config import OpenMeteo, Service, WeatherSettings
from drywind.errors import WeatherError
from drywind.weather import met_norway, nws, open_meteo
from drywind.weather.forecast import Forecast
from drywind.weather.http import Getter, RefusedError
from drywind.weather.validators import LONGEST_LIFE, Remembered

REFUSED_FOR = timedelta(hours=24)
"""How long a service that said no is not asked again; asking on could get the yard barred."""

NOT_HERE_FOR = timedelta(days=30)
"""The same where it does not know the place."""

_NOT_HERE = {404, 422}

_US_BOXES = (
    (24.0, 49.5, -125.0, -66.5),  # the states between Canada and Mexico
    (51.0, 72.0, -180.0, -129.0),  # Alaska
    (18.5, 22.5, -161.0, -154.5),  # Hawaii
    (17.5, 18.7, -67.5, -64.3),  # Puerto Rico and the Virgin Islands
    (13.0, 20.7, 144.5, 146.2),  # Guam and the Northern Marianas
)
"""South, north, west and east of what the US service covers, roughly: it says itself where not."""


@dataclass(frozen=True)
class Place:
    """Where a forecast is wanted: its name in the store, degrees, and meters above the sea."""

    key: str
    lat: float
    lon: float
    altitude_m: float

    @property
    def may_be_american(self) -> bool:
        """Whether the US service may know it."""
        return any(
            south <= self.lat <= north and west <= self.lon <= east
            for south, north, west, east in _US_BOXES
        )


@dataclass(frozen=True)
class Asked:
    """What came of asking: a forecast, or None, and what to remember."""

    forecast: Forecast | None
    remembered: Remembered


def order(settings: WeatherSettings, place: Place) -> tuple[Service, ...]:
    """Return the services a place asks, the first first."""
    if settings.services:
        return settings.services
    american = (Service.NWS,) if place.may_be_american else ()
    allowed = (Service.OPEN_METEO,) if settings.open_meteo is not OpenMeteo.NONE else ()
    return (*american, Service.MET_NORWAY, *allowed)


def may_ask(known: Remembered, now: datetime) -> bool:
    """Return whether a service has neither said no nor that it has nothing new yet.

    A wait longer than any we take was set by a clock that ran ahead, and does not count.
    """
    waits = (
        (known.refused_until, NOT_HERE_FOR),
        (known.validators.expires_at, LONGEST_LIFE),
    )
    return all(until is None or not now < until <= now + longest for until, longest in waits)


def ask(
    name: Service,
    settings: WeatherSettings,
    getter: Getter,
    place: Place,
    known: Remembered,
    now: datetime,
) -> Asked:
    """Ask a service for the forecast of a place; what goes wrong is remembered, not raised."""
    first = known.first_asked_at or now
    fresh = replace(known, first_asked_at=first, asked_at=now, error="", refused_until=None)
    try:
        forecast, after = _fetch(name, settings, getter, place, fresh)
    except RefusedError as error:
        wait = NOT_HERE_FOR if error.status in _NOT_HERE else REFUSED_FOR
        return Asked(None, replace(fresh, error=str(error), refused_until=now + wait))
    except WeatherError as error:
        return Asked(None, replace(fresh, error=str(error)))
    return Asked(forecast, replace(after, answered_at=now))


def _fetch(
    name: Service, settings: WeatherSettings, getter: Getter, place: Place, known: Remembered
) -> tuple[Forecast | None, Remembered]:
    where = (place.lat, place.lon)
    match name:
        case Service.NWS:
            forecast, cell = nws.fetch(getter, settings.nws_url, *where, known.cell)
            return forecast, replace(known, cell=cell)
        case Service.MET_NORWAY:
            new, validators = met_norway.fetch(
                getter, settings.met_norway_url, *where, place.altitude_m, known.validators
            )
            return new, replace(known, validators=validators)
        case Service.OPEN_METEO:
            assert known.asked_at is not None
            right = access(settings)
            return open_meteo.fetch_forecast(getter, right, *where, known.asked_at), known


def access(settings: WeatherSettings) -> open_meteo.Access:
    """Return by what right Open-Meteo may be asked; `settings` must allow it."""
    key = settings.open_meteo_key
    return open_meteo.Access(
        open_meteo.Kind(settings.open_meteo),
        settings.open_meteo_url,
        key.get_secret_value() if key else None,
    )
