"""The public weather services as they are today: run by hand, ``pytest -m live``.

Needs the network, and an address in DRYWIND_LIVE_CONTACT at which the services can reach you.
"""

import os
from datetime import UTC, datetime, timedelta

import pytest

from drywind.weather import met_norway, nws, nws_alerts, nws_observed
from drywind.weather.http import Getter
from drywind.weather.nws_stations import find_stations

pytestmark = pytest.mark.live

NWS_URL, MET_URL = "https://api.weather.gov", "https://api.met.no/weatherapi"
CHICAGO, OSLO = (41.98, -87.9, 205.0), (59.91, 10.75, 20.0)


@pytest.fixture
def getter() -> Getter:
    contact = os.environ.get("DRYWIND_LIVE_CONTACT", "")
    if not contact:
        pytest.skip("set DRYWIND_LIVE_CONTACT to an address of yours")
    return Getter(contact)


def test_the_us_service_forecasts_a_week_and_tells_what_it_observed(getter: Getter) -> None:
    now = datetime.now(UTC)
    lat, lon, altitude_m = CHICAGO

    forecast, _ = nws.fetch(getter, NWS_URL, lat, lon)
    stations = find_stations(getter, NWS_URL, lat, lon, altitude_m)
    observed, station = nws_observed.fetch(getter, NWS_URL, stations, now - timedelta(days=1), now)
    nws_alerts.fetch(getter, NWS_URL, lat, lon)

    assert forecast.table.index[-1] > now + timedelta(days=6)
    assert now - forecast.issued_at < timedelta(hours=24)
    assert observed.table["temp_c"].notna().sum() >= 12
    assert station.distance_km < 50.0


def test_met_norway_forecasts_nine_days_and_says_when_nothing_is_new(getter: Getter) -> None:
    now = datetime.now(UTC)

    forecast, validators = met_norway.fetch(getter, MET_URL, *OSLO)
    again, _ = met_norway.fetch(getter, MET_URL, *OSLO, validators)

    assert forecast is not None
    assert forecast.table.index[-1] > now + timedelta(days=8)
    assert validators.expires_at is not None
    assert again is None
