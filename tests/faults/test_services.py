"""Each weather service asked over real loopback sockets: when it is, and when it is left alone."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest
from pytest_httpserver import HTTPServer
from tests.faults.forecasters import (
    CHICAGO,
    HOUR,
    MET_C,
    OPEN_METEO_C,
    OSLO,
    TORONTO,
    US_C,
    Forecasters,
    Hasty,
    fails,
)

from drywind.clock import utc_now
from drywind.config import OpenMeteo, Service, WeatherSettings
from drywind.weather.open_meteo import Kind
from drywind.weather.services import Asked, Place, access, ask, may_ask, order
from drywind.weather.validators import LONGEST_LIFE, Remembered, Validators

NWS, MET, OPEN_METEO = Service.NWS, Service.MET_NORWAY, Service.OPEN_METEO
NOW = datetime(2026, 6, 12, 18, tzinfo=UTC)
DAY = timedelta(days=1)
SECOND = timedelta(seconds=1)


@pytest.fixture
def far(loopback: HTTPServer) -> Iterator[Forecasters]:
    yield Forecasters(loopback)
    loopback.clear()


def put(
    far: Forecasters,
    name: Service,
    known: Remembered | None = None,
    now: datetime = NOW,
    place: Place = CHICAGO,
) -> Asked:
    """Ask one of the three services."""
    return ask(name, far.with_open_meteo(), Hasty(), place, known or Remembered(), now)


@pytest.mark.parametrize(
    ("lat", "lon"),
    [
        (CHICAGO.lat, CHICAGO.lon),
        (61.22, -149.9),  # Anchorage
        (21.31, -157.86),  # Honolulu
        (18.47, -66.11),  # San Juan
        (13.47, 144.75),  # Guam
        (TORONTO.lat, TORONTO.lon),  # too near the border to know without asking
    ],
)
def test_where_the_us_service_may_know_the_place_it_is_asked_first(lat: float, lon: float) -> None:
    settings = WeatherSettings(contact="yard@mill.example")
    place = Place("somewhere", lat, lon, 0.0)

    assert order(settings, place) == (NWS, MET)
    hobby = settings.model_copy(update={"open_meteo": OpenMeteo.NONCOMMERCIAL})
    assert order(hobby, place) == (NWS, MET, OPEN_METEO)


@pytest.mark.parametrize(
    ("lat", "lon"),
    [
        (OSLO.lat, OSLO.lon),
        (22.57, 88.36),  # Kolkata
        (-33.87, 151.21),  # Sydney
        (19.43, -99.13),  # Mexico City
        (41.98, 87.9),  # Chicago with the sign of its longitude lost
    ],
)
def test_elsewhere_the_us_service_is_not_asked(lat: float, lon: float) -> None:
    settings = WeatherSettings(contact="yard@mill.example")
    place = Place("somewhere", lat, lon, 0.0)

    assert order(settings, place) == (MET,)
    hobby = settings.model_copy(update={"open_meteo": OpenMeteo.NONCOMMERCIAL})
    assert order(hobby, place) == (MET, OPEN_METEO)


def test_services_that_are_named_are_asked_and_no_other_wherever_the_place_is() -> None:
    settings = WeatherSettings(contact="yard@mill.example", services=(MET, NWS))

    assert order(settings, CHICAGO) == order(settings, OSLO) == (MET, NWS)


@pytest.mark.parametrize(
    ("name", "temp_c"), [(NWS, US_C), (MET, MET_C), (OPEN_METEO, OPEN_METEO_C)]
)
def test_a_service_that_answers_gives_its_forecast_and_the_trouble_before_is_forgotten(
    far: Forecasters, name: Service, temp_c: float
) -> None:
    far.us(NOW)
    far.met(NOW)
    far.open_meteo(NOW)
    troubled = Remembered(error="it was down", refused_until=NOW, asked_at=NOW - DAY)

    asked = put(far, name, troubled)

    assert asked.forecast is not None
    assert asked.forecast.source == name
    assert set(asked.forecast.table["temp_c"]) == {temp_c}
    after = asked.remembered
    assert (after.asked_at, after.answered_at) == (NOW, NOW)
    assert (after.error, after.refused_until) == ("", None)


def test_the_us_service_is_asked_where_a_place_is_only_once_and_again_when_it_has_moved(
    far: Forecasters,
) -> None:
    far.us(NOW)
    first = put(far, NWS)
    put(far, NWS, first.remembered, NOW + HOUR)
    assert far.asked == ["us points", "us grid", "us grid"]

    far.requests.clear()
    moved = replace(first.remembered, cell="https://api.weather.gov/gridpoints/LOT/1,1")
    far.replies["us old grid"] = fails(404)
    again = put(far, NWS, moved, NOW + 2 * HOUR)

    assert far.asked == ["us old grid", "us points", "us grid"]
    assert again.remembered.cell == first.remembered.cell


@pytest.mark.parametrize(
    ("status", "wait"),
    [(400, DAY), (401, DAY), (403, DAY), (410, DAY), (404, 30 * DAY), (422, 30 * DAY)],
)
@pytest.mark.parametrize(
    ("name", "question"), [(NWS, "us points"), (MET, "met"), (OPEN_METEO, "om forecast")]
)
def test_a_service_that_says_no_is_not_asked_for_a_day_or_a_month_where_it_knows_no_such_place(
    far: Forecasters, name: Service, question: str, status: int, wait: timedelta
) -> None:
    far.replies[question] = fails(status)

    asked = put(far, name)

    assert asked.forecast is None
    assert f"answered {status}" in asked.remembered.error
    assert asked.remembered.answered_at is None
    assert not may_ask(asked.remembered, NOW + wait - SECOND)
    assert may_ask(asked.remembered, NOW + wait)
    assert far.asked == [question]


def test_in_toronto_the_us_service_says_no_and_met_norway_forecasts(far: Forecasters) -> None:
    far.met(NOW)

    us, met = put(far, NWS, place=TORONTO), put(far, MET, place=TORONTO)

    assert us.remembered.refused_until == NOW + 30 * DAY
    assert met.forecast is not None
    assert far.requests[0].path == "/us/points/43.65,-79.38"
    assert far.requests[1].args.to_dict() == {"lat": "43.6500", "lon": "-79.3800", "altitude": "76"}


@pytest.mark.parametrize("status", [429, 500, 502, 503, 504])
def test_a_service_in_trouble_may_be_asked_at_the_next_pass_and_what_was_known_of_it_is_kept(
    far: Forecasters, status: int
) -> None:
    far.replies["met"] = fails(status)
    known = Remembered(Validators(None, "then"), None, NOW, NOW, NOW)

    asked = put(far, MET, known, NOW + HOUR)

    after = asked.remembered
    assert asked.forecast is None
    assert f"answered {status}" in after.error
    assert after == replace(known, asked_at=NOW + HOUR, error=after.error)
    assert may_ask(after, NOW + HOUR)


def test_met_norway_is_not_asked_before_its_answer_expires_and_then_only_for_news(
    far: Forecasters,
) -> None:
    """Its terms of service ask for both; the time an answer is good for is the machine's own."""
    now = utc_now()
    issued = format_datetime(now.replace(microsecond=0), usegmt=True)
    good_until = format_datetime(now + HOUR / 2, usegmt=True)
    far.met(now, Last_Modified=issued, Expires=good_until, Date=format_datetime(now, usegmt=True))

    first = put(far, MET, now=now).remembered
    far.replies["met"] = fails(304)
    news = put(far, MET, first, now + HOUR)

    assert not may_ask(first, now + HOUR / 2 - 10 * SECOND)
    assert may_ask(first, now + HOUR / 2 + 10 * SECOND)
    assert "If-Modified-Since" not in far.requests[0].headers
    assert far.requests[1].headers["If-Modified-Since"] == issued
    assert news.forecast is None
    assert (news.remembered.error, news.remembered.answered_at) == ("", now + HOUR)
    assert news.remembered.validators.last_modified == issued


def test_no_answer_is_said_to_be_good_for_longer_than_a_day(far: Forecasters) -> None:
    now = utc_now()
    far.met(now, Cache_Control="max-age=31536000")

    known = put(far, MET, now=now).remembered

    assert may_ask(known, now + LONGEST_LIFE + 10 * SECOND)


def test_a_clock_that_ran_ahead_and_was_set_right_does_not_silence_a_service() -> None:
    """Nothing that is waited for lies further ahead than it was put when it was learned."""
    ahead = NOW + 900 * DAY
    known = Remembered(Validators(expires_at=ahead + HOUR), asked_at=ahead)

    assert may_ask(known, NOW)


def test_open_meteo_is_asked_by_the_users_right_with_a_key_that_no_repr_shows(
    far: Forecasters,
) -> None:
    far.open_meteo(NOW)
    settings = far.with_open_meteo(open_meteo_key="hunter2")

    asked = ask(OPEN_METEO, settings, Hasty(), CHICAGO, Remembered(), NOW)

    assert asked.forecast is not None
    assert far.requests[0].args["apikey"] == "hunter2"
    assert access(settings).kind is Kind.SELF_HOSTED
    assert "hunter2" not in repr([settings, access(settings), asked])
