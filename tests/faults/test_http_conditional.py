"""A service asked only for what is new, and how that can go wrong, over real loopback HTTP."""

import gzip
import json
import logging
import socket
import time
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path

import httpx
import pytest
from pytest_httpserver import HTTPServer
from tests.faults.serving import getter, raw_server

from drywind.clock import utc_now
from drywind.errors import WeatherError
from drywind.weather import met_norway
from drywind.weather.forecast import Forecast
from drywind.weather.http import RefusedError
from drywind.weather.validators import LONGEST_LIFE, Validators

NOW = datetime(2026, 6, 13, 12, tzinfo=UTC)
KNOWN = Validators('"v1"', "Sat, 13 Jun 2026 10:44:31 GMT", NOW)
FORECAST = (Path(__file__).parents[1] / "replay/data/met_norway.json").read_text()
COMPLETE = "/locationforecast/2.0/complete"


def test_the_version_had_is_named_exactly_as_it_was_sent(httpserver: HTTPServer) -> None:
    """Also where it is no date at all: it is the server's word, not ours to read."""
    httpserver.expect_request("/grid").respond_with_json(
        {"n": 1}, headers={"ETag": 'W/"a,b"', "Last-Modified": "a while ago,  UTC"}
    )
    url = httpserver.url_for("/grid")

    first = getter().get_if_changed(url, Validators())
    getter().get_if_changed(url, first.validators)

    (asked, _), (asked_again, _) = httpserver.log
    assert "If-None-Match" not in asked.headers
    assert "If-Modified-Since" not in asked.headers
    assert asked_again.headers["If-None-Match"] == 'W/"a,b"'
    assert asked_again.headers["If-Modified-Since"] == "a while ago,  UTC"


def test_what_still_stands_comes_without_a_body_and_with_a_longer_life(
    httpserver: HTTPServer,
) -> None:
    httpserver.expect_request("/grid").respond_with_data(
        "", status=304, headers={"Cache-Control": "max-age=1800"}
    )

    answer = getter().get_if_changed(httpserver.url_for("/grid"), KNOWN)

    assert (answer.status, answer.body, answer.raw) == (304, None, b"")
    assert (answer.validators.etag, answer.validators.last_modified) == (
        KNOWN.etag,
        KNOWN.last_modified,
    )
    assert answer.validators.expires_at is not None
    assert timedelta(minutes=29) < answer.validators.expires_at - utc_now() <= timedelta(minutes=30)


def test_a_new_version_is_known_by_its_own_headers_alone(httpserver: HTTPServer) -> None:
    """An old tag kept beside a new date would ask for a version that never was."""
    httpserver.expect_request("/grid").respond_with_data(
        b'{"n": 2}',
        content_type="application/json",
        headers={"Last-Modified": "Sat, 13 Jun 2026 11:44:31 GMT"},
    )

    answer = getter().get_if_changed(httpserver.url_for("/grid"), KNOWN)

    assert (answer.status, answer.body, answer.raw) == (200, {"n": 2}, b'{"n": 2}')
    assert answer.validators == Validators(None, "Sat, 13 Jun 2026 11:44:31 GMT", None)


@pytest.mark.parametrize("known", [Validators(), Validators(expires_at=NOW)])
def test_a_version_that_was_never_named_cannot_still_stand(
    httpserver: HTTPServer, known: Validators
) -> None:
    httpserver.expect_request("/grid").respond_with_data("", status=304)

    with pytest.raises(WeatherError, match="answered 304"):
        getter().get_if_changed(httpserver.url_for("/grid"), known)


def test_an_empty_answer_that_is_said_to_be_gzip_is_not_broken_gzip(
    httpserver: HTTPServer,
) -> None:
    httpserver.expect_request("/grid").respond_with_data(
        "", status=304, headers={"Content-Encoding": "gzip"}
    )

    assert getter().get_if_changed(httpserver.url_for("/grid"), KNOWN).body is None


def test_the_version_is_named_again_after_a_fault_and_a_redirect(httpserver: HTTPServer) -> None:
    httpserver.expect_ordered_request("/old").respond_with_data("busy", status=503)
    httpserver.expect_ordered_request("/old").respond_with_data(
        "", status=301, headers={"Location": "/new"}
    )
    httpserver.expect_ordered_request("/new").respond_with_data("", status=304)

    assert getter().get_if_changed(httpserver.url_for("/old"), KNOWN).status == 304
    assert [request.headers["If-None-Match"] for request, _ in httpserver.log] == ['"v1"'] * 3


@pytest.mark.parametrize("odd", ["", "\xe9t\xe9", "a\r\nHost: evil.example", "\x00"])
def test_a_name_no_request_can_carry_is_not_sent_and_spoils_no_request(
    httpserver: HTTPServer, odd: str
) -> None:
    httpserver.expect_request("/grid").respond_with_json({"n": 1})

    answer = getter().get_if_changed(httpserver.url_for("/grid"), Validators(odd, odd))

    request, _ = httpserver.log[0]
    assert answer.body == {"n": 1}
    assert "If-None-Match" not in request.headers
    assert "If-Modified-Since" not in request.headers


def http_date(instant: datetime) -> str:
    return format_datetime(instant, usegmt=True)


SERVER_NOW = NOW - timedelta(days=400)
"""Its clock, or ours, is far off: a life is a span between two instants of one clock."""


@pytest.mark.parametrize(
    ("headers", "life"),
    [
        ({"Cache-Control": "public, max-age=749, s-maxage=3600"}, timedelta(seconds=749)),
        ({"cache-control": 'MAX-AGE="60"'}, timedelta(seconds=60)),
        ({"Cache-Control": "s-maxage=3600"}, None),
        ({"Cache-Control": "max-age=soon"}, None),
        ({"Cache-Control": "max-age=99999999999999999999"}, LONGEST_LIFE),
        ({"Expires": http_date(NOW + timedelta(minutes=32))}, timedelta(minutes=32)),
        ({"Expires": http_date(NOW + timedelta(days=9))}, LONGEST_LIFE),
        ({"Expires": http_date(NOW - timedelta(days=9))}, timedelta()),
        ({"Expires": "0"}, None),
        ({"Expires": "Sat, 13 Jun 99999 12:00:00 GMT"}, None),
        ({}, None),
        (
            {
                "Date": http_date(SERVER_NOW),
                "Expires": http_date(SERVER_NOW + timedelta(minutes=32)),
            },
            timedelta(minutes=32),
        ),
        (
            {"Cache-Control": "max-age=60", "Expires": http_date(NOW + timedelta(hours=5))},
            timedelta(seconds=60),
        ),
    ],
)
def test_an_answer_lives_as_long_as_its_server_says_but_no_longer_than_a_day(
    headers: dict[str, str], life: timedelta | None
) -> None:
    expected = None if life is None else NOW + life

    assert Validators.of(httpx.Headers(headers), NOW).expires_at == expected


def test_a_version_to_be_withdrawn_works_and_is_warned_of(
    httpserver: HTTPServer, caplog: pytest.LogCaptureFixture
) -> None:
    httpserver.expect_request(COMPLETE).respond_with_data(
        FORECAST, status=203, content_type="application/json"
    )

    with caplog.at_level(logging.WARNING):
        forecast, _ = fetch(httpserver)

    assert forecast is not None
    (warned,) = [r.getMessage() for r in caplog.records if r.name.startswith("drywind")]
    assert "answered 203: this version of the service will be withdrawn" in warned


def fetch(
    httpserver: HTTPServer, known: Validators | None = None
) -> tuple[Forecast | None, Validators]:
    return met_norway.fetch(getter(), httpserver.url_for(""), 37.25, -80.5, 640.0, known)


@pytest.mark.parametrize("status", [400, 403, 404, 422])
def test_a_refusal_is_final_whatever_page_comes_with_it(
    httpserver: HTTPServer, status: int
) -> None:
    httpserver.expect_request(COMPLETE).respond_with_data(
        "<html>No</html>", status=status, content_type="text/html"
    )

    with pytest.raises(RefusedError) as failure:
        fetch(httpserver, KNOWN)

    assert failure.value.status == status
    assert len(httpserver.log) == 1


def test_a_service_that_throttles_us_is_left_alone_at_once(httpserver: HTTPServer) -> None:
    httpserver.expect_request(COMPLETE).respond_with_data(
        "slow down", status=429, headers={"Retry-After": "900"}
    )

    with pytest.raises(WeatherError, match="asks us to wait 900 s") as failure:
        fetch(httpserver, KNOWN)

    assert not failure.value.permanent
    assert len(httpserver.log) == 1


def test_a_gzipped_forecast_is_read(httpserver: HTTPServer) -> None:
    httpserver.expect_request(COMPLETE).respond_with_data(
        gzip.compress(FORECAST.encode()),
        headers={"Content-Type": "application/json", "Content-Encoding": "gzip"},
    )

    forecast, _ = fetch(httpserver)

    assert forecast is not None
    assert len(forecast.table) == 22


def test_a_forecast_that_breaks_off_is_asked_for_again(httpserver: HTTPServer) -> None:
    for body in (FORECAST[:-500], FORECAST):
        httpserver.expect_ordered_request(COMPLETE).respond_with_data(
            body, content_type="application/json"
        )

    forecast, _ = fetch(httpserver)

    assert forecast is not None
    assert len(httpserver.log) == 2


def test_an_answer_that_cannot_be_used_is_never_taken_for_a_version_had(
    httpserver: HTTPServer,
) -> None:
    """Its headers must not come back: named next time, they would keep us from a good answer."""
    empty = json.loads(FORECAST)
    empty["properties"]["timeseries"] = []
    httpserver.expect_request(COMPLETE).respond_with_json(empty, headers={"ETag": '"broken"'})

    with pytest.raises(WeatherError, match="no hour with temperature"):
        fetch(httpserver, KNOWN)


def test_a_dripping_answer_that_nothing_changed_is_left_at_the_deadline() -> None:
    def drip(connection: socket.socket) -> None:
        connection.sendall(b"HTTP/1.1 304 Not Modified\r\nX-Padding: ")
        for _ in range(600):
            connection.sendall(b" ")
            time.sleep(0.02)

    with raw_server(drip) as url:
        begun = time.monotonic()
        with pytest.raises(WeatherError, match=r"no full answer within 0\.3 s"):
            getter(attempts=1).get_if_changed(url, KNOWN, deadline_s=0.3)

    assert time.monotonic() - begun < 1.0
