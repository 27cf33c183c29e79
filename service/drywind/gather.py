"""Getting weather into the store: the forecast of each place, and what its past hours were.

Each pass asks a place's services in order until one has a forecast that is fresh. Past hours are
filled from observations and archives, at most every few hours; what nobody knows stays unknown.
"""

import logging
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta

import pandas as pd

from drywind.clock import floor_hour
from drywind.config import Config, OpenMeteo, Service, WeatherSettings
from drywind.errors import WeatherError
from drywind.store import Store
from drywind.weather import nws_alerts, nws_observed, open_meteo
from drywind.weather.choice import FRESH, OBSERVED, REACH, leading
from drywind.weather.forecast import Forecast
from drywind.weather.hour import WeatherHour
from drywind.weather.http import Getter, RefusedError
from drywind.weather.members import packed, unpacked
from drywind.weather.nws_alerts import Notice
from drywind.weather.nws_stations import find_stations
from drywind.weather.seen import SiteWeather
from drywind.weather.services import REFUSED_FOR, Place, access, ask, may_ask, order
from drywind.weather.table import to_hours
from drywind.weather.validators import Remembered
from drywind.yard import LogLot, Site, Stack

FILL_EVERY = timedelta(hours=3)
"""How often past hours are asked for (assumption: stations report hourly, some of them late)."""

OBSERVED_FOR = timedelta(days=6)
"""The US service keeps observations of about a week."""

ENSEMBLE = "ncep_gefs_seamless"
"""The service's name of the ensemble asked for: 31 members, for the whole world."""
NOTICES = "nws_alerts"
ARCHIVE = "open_meteo_archive"
ARCHIVE_LAG = timedelta(days=6)
"""The archive ends about five days ago."""

LONGEST_WAIT = timedelta(days=60)
"""How far back weather is got for a lot: in warm weather one that waited longer has stained
(assumption)."""

LONGEST_FILL = timedelta(days=400)
"""How far back gaps are filled: no board is air-dried for longer (assumption)."""

_log = logging.getLogger(__name__)


def place_of(site: Site) -> Place:
    """Return the place whose forecast serves a site."""
    lat, lon = (float(degrees) for degrees in site.place.split(","))
    return Place(site.place, lat, lon, site.altitude_m)


def first_needed(stacks: Iterable[Stack], lots: Iterable[LogLot], now: datetime) -> datetime | None:
    """Return the first hour whose weather matters to stacks that stand or lots that wait."""
    stacked = [s.stacked_at for s in stacks if s.stands_at(now)]
    felled = [max(lot.felled_at, now - LONGEST_WAIT) for lot in lots if lot.waits_at(now)]
    return min([*stacked, *felled], default=None)


def fetch_weather(
    config: Config, store: Store, getter: Getter, now: datetime, since: datetime | None = None
) -> tuple[SiteWeather, ...]:
    """Fetch and store the forecast of every place that has a site, and fill its past.

    Parameters
    ----------
    since
        The first hour that matters, see `first_needed`; None without any.
    """
    now = now.replace(microsecond=0)  # the store keeps whole seconds
    places = {site.place: place_of(site) for site in config.sites.values()}
    notices = {}
    for place in places.values():
        _fetch_forecast(config.weather, store, getter, place, now)
        if since is not None:
            _fill_past(config.weather, store, getter, place, (since, now))
        notices[place.key] = _notices(config.weather, store, getter, place, now)
    return tuple(
        replace(site_weather(config, store, site, now), notices=notices[site.place])
        for site in config.sites.values()
    )


def site_weather(config: Config, store: Store, site: Site, now: datetime) -> SiteWeather:
    """Return how a site stands for weather, from what the store holds."""
    names = order(config.weather, place_of(site))
    issued = _issued(store, site.place, names, now + REACH) or _issued(
        store, site.place, names, now
    )
    source = leading(issued, now, names)
    newest = max(issued.values(), default=store.latest_issue(site.place))
    known = {name: store.remembered(site.place, name) for name in names}
    last = max((k.asked_at for k in known.values() if k.asked_at), default=None)
    lines = "; ".join(
        f"{name}: {k.error}"
        for name, k in known.items()
        if k.error and (k.asked_at == last or _is_refused(k, now))
    )
    since = min((k.first_asked_at for k in known.values() if k.first_asked_at), default=None)
    at = issued[source] if source else newest
    return SiteWeather(site.name, at, lines or None, source, asked_since=since)


def _is_refused(known: Remembered, now: datetime) -> bool:
    """Return whether a service that serves the place has said no, and is let alone for it."""
    if known.refused_until is None or known.asked_at is None:
        return False
    return now < known.refused_until <= known.asked_at + REFUSED_FOR


def _issued(
    store: Store, place: str, names: tuple[Service, ...], reaching: datetime
) -> dict[str, datetime]:
    found = {name.value: store.latest_issue(place, name, reaching) for name in names}
    return {name: at for name, at in found.items() if at is not None}


def _fetch_forecast(
    settings: WeatherSettings, store: Store, getter: Getter, place: Place, now: datetime
) -> None:
    """Ask the services of a place in order, until one has a fresh forecast."""
    for name in order(settings, place):
        known = store.remembered(place.key, name)
        if may_ask(known, now):
            asked = ask(name, settings, getter, place, known, now)
            store.remember(place.key, name, asked.remembered)
            if asked.remembered.error:
                _log.warning("no forecast for %s: %s", place.key, asked.remembered.error)
            if asked.forecast is not None:
                store.note_foretold(place.key, _keep(store, place, asked.forecast))
                if name is Service.OPEN_METEO:
                    _fetch_ensemble(settings, store, getter, place, now)
        issued = store.latest_issue(place.key, name, now + REACH)
        if issued is not None and now - issued <= FRESH:
            return


def _fetch_ensemble(
    settings: WeatherSettings, store: Store, getter: Getter, place: Place, now: datetime
) -> None:
    kept = store.ensemble(place.key)
    if kept is not None and timedelta() <= now - kept[0] < FILL_EVERY:
        return
    try:
        found = open_meteo.fetch_ensemble(
            getter, access(settings), place.lat, place.lon, ENSEMBLE, now
        )
    except WeatherError as error:
        _log.info("no ensemble for %s: %s", place.key, error)
        return
    store.save_ensemble(place.key, found.issued_at, packed(found.members))


def fresh_ensemble(store: Store, place: str, now: datetime) -> list[pd.DataFrame]:
    """Return the ensemble kept of a place, if it is fresh."""
    kept = store.ensemble(place)
    return unpacked(kept[1]) if kept is not None and now - kept[0] <= FRESH else []


def _keep(store: Store, place: Place, forecast: Forecast) -> list[WeatherHour]:
    """Keep the hours of a forecast, and return them."""
    if forecast.dropped:
        _log.warning("%s for %s: dropped %s", forecast.source, place.key, forecast.dropped)
    hours = to_hours(forecast.table)
    store.save_hours(place.key, hours)
    return hours


def _fill_past(
    settings: WeatherSettings,
    store: Store,
    getter: Getter,
    place: Place,
    span: tuple[datetime, datetime],
) -> None:
    """Fetch what a place's past hours were like, by each service that can tell."""
    since, now = floor_hour(span[0]), span[1]
    until = floor_hour(now)
    recent = max(since, until - OBSERVED_FOR)
    if _answers(settings, store, place, now) and recent < until:

        def observed() -> Forecast:
            stations = find_stations(
                getter, settings.nws_url, place.lat, place.lon, place.altitude_m
            )
            hours, station = nws_observed.fetch(getter, settings.nws_url, stations, recent, until)
            _log.info("%s: observed at %s, %.0f km off", place.key, station.id, station.distance_km)
            return hours

        _now_and_then(store, place, OBSERVED, now, observed)
    if settings.open_meteo is OpenMeteo.NONE:
        return
    earliest = max(since, until - LONGEST_FILL)
    if old := _missing(store, place, earliest, until - ARCHIVE_LAG):
        start, end = old
        where = (place.lat, place.lon)

        def archived() -> Forecast:
            right = access(settings)
            return open_meteo.fetch_past(getter, right, where, start.date(), end.date(), now)

        _now_and_then(store, place, ARCHIVE, now, archived)


def _answers(settings: WeatherSettings, store: Store, place: Place, now: datetime) -> bool:
    """Return whether the US service serves a place and has not just failed to.

    One that is down is not asked more than once in a pass.
    """
    known = store.remembered(place.key, Service.NWS)
    failed = known.asked_at == now and bool(known.error)
    return Service.NWS in order(settings, place) and may_ask(known, now) and not failed


def _notices(
    settings: WeatherSettings, store: Store, getter: Getter, place: Place, now: datetime
) -> tuple[Notice, ...]:
    """Return what the US service warns of at a place that matters to stacks."""
    known = store.remembered(place.key, NOTICES)
    if not _answers(settings, store, place, now) or not may_ask(known, now):
        return ()
    try:
        found = nws_alerts.fetch(getter, settings.nws_url, place.lat, place.lon)
    except WeatherError as error:
        _log.info("no warnings for %s: %s", place.key, error)
        again = replace(known, asked_at=now, refused_until=now + FILL_EVERY, error=str(error))
        store.remember(place.key, NOTICES, again)
        return ()
    return tuple(n for n in nws_alerts.standing(found, now) if nws_alerts.matters(n))


def _missing(
    store: Store, place: Place, start: datetime, end: datetime
) -> tuple[datetime, datetime] | None:
    """Return the first and the last hour of a span that no service told of; None if none."""
    told = {hour.time_utc for hour in store.hours(place.key, start, end)}
    count = max(0, (end - start) // timedelta(hours=1))
    gaps = [at for i in range(count) if (at := start + timedelta(hours=i)) not in told]
    return (gaps[0], gaps[-1]) if gaps else None


def _now_and_then(
    store: Store, place: Place, name: str, now: datetime, get: Callable[[], Forecast]
) -> None:
    """Get and keep past hours, unless they were asked for a while ago or refused."""
    known = store.remembered(place.key, name)
    lately = known.asked_at is not None and timedelta() <= now - known.asked_at < FILL_EVERY
    if lately or not may_ask(known, now):
        return
    known = replace(known, asked_at=now, error="", refused_until=None)
    try:
        _keep(store, place, get())
    except WeatherError as error:
        _log.info("no past weather for %s: %s", place.key, error)
        refused = isinstance(error, RefusedError)
        known = replace(
            known, error=str(error), refused_until=now + REFUSED_FOR if refused else None
        )
    store.remember(place.key, name, known)
