"""A weather service that is slow, broken, moved, greedy or absent, over real loopback sockets."""

import gzip
import logging
import socket
import time
import tracemalloc
import zlib
from collections.abc import Callable
from datetime import timedelta
from email.utils import format_datetime
from typing import Any

import pytest
from pytest_httpserver import HTTPServer
from tests.faults.serving import getter, raw_server

from drywind import __version__
from drywind.clock import utc_now
from drywind.errors import WeatherError
from drywind.weather import http, nws
from drywind.weather.http import RefusedError

GOOD: dict[str, Any] = {"temperature": 21.5}


def drip(connection: socket.socket, head: bytes) -> None:
    connection.sendall(head)
    for _ in range(600):
        connection.sendall(b" ")
        time.sleep(0.02)


def hang(_: socket.socket) -> None:
    time.sleep(5)


def drip_headers(connection: socket.socket) -> None:
    drip(connection, b"HTTP/1.1 200 OK\r\nX-Padding: ")


def drip_body(connection: socket.socket) -> None:
    drip(connection, b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n\r\n{")


@pytest.mark.parametrize("talk", [hang, drip_headers, drip_body])
def test_a_server_that_hangs_or_drips_is_left_at_the_deadline(
    talk: Callable[[socket.socket], None],
) -> None:
    with raw_server(talk) as url:
        begun = time.monotonic()
        with pytest.raises(WeatherError, match=r"no full answer within 0\.3 s") as failure:
            getter(attempts=1).get_json(url, deadline_s=0.3)

    assert time.monotonic() - begun < 1.0
    assert not failure.value.permanent


def break_off(connection: socket.socket) -> None:
    connection.sendall(
        b'HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 99\r\n\r\n{"temp'
    )


def say_nothing(_: socket.socket) -> None:
    """Close at once."""


def talk_nonsense(connection: socket.socket) -> None:
    connection.sendall(b"220 mail.mill.example ESMTP\r\n")


@pytest.mark.parametrize("talk", [break_off, say_nothing, talk_nonsense])
def test_an_answer_cut_off_or_not_http_is_asked_for_again(
    talk: Callable[[socket.socket], None],
) -> None:
    calls = []

    def counted(connection: socket.socket) -> None:
        calls.append(1)
        talk(connection)

    with raw_server(counted) as url, pytest.raises(WeatherError, match="broke off") as failure:
        getter().get_json(url)

    assert len(calls) == 3
    assert not failure.value.permanent


def test_a_closed_port_and_an_unknown_name_are_weather_errors() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]

    for url in (f"http://127.0.0.1:{port}/grid", "http://weather.invalid/grid"):
        with pytest.raises(WeatherError, match="could not be reached") as failure:
            getter(attempts=1).get_json(url)
        assert not failure.value.permanent


@pytest.mark.parametrize(
    "url", ["", "/points/1,2", "ftp://a.example/x", "http://[::1", "http://a.example:99999/"]
)
def test_what_is_no_web_address_fails_for_good(url: str) -> None:
    with pytest.raises(WeatherError, match="not a web address") as failure:
        getter().get_json(url)

    assert failure.value.permanent


def test_the_object_comes_with_its_bytes_and_we_say_who_asks(httpserver: HTTPServer) -> None:
    body = b'{"temperature": 21.5}'
    httpserver.expect_request("/grid").respond_with_data(body, content_type="application/geo+json")

    answer = getter().get_json(httpserver.url_for("/grid"))

    assert answer == (GOOD, body)
    request, _ = httpserver.log[0]
    assert request.headers["User-Agent"] == f"drywind/{__version__} (yard@mill.example)"


@pytest.mark.parametrize("status", [429, 500, 502, 503, 504])
def test_a_passing_fault_is_forgiven_when_the_next_answer_is_good(
    httpserver: HTTPServer, status: int
) -> None:
    httpserver.expect_ordered_request("/grid").respond_with_data("busy", status=status)
    httpserver.expect_ordered_request("/grid").respond_with_json(GOOD)

    body, _ = getter().get_json(httpserver.url_for("/grid"))

    assert body == GOOD


def test_a_service_down_for_long_is_given_up_in_one_plain_sentence(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/grid").respond_with_data(
        "<html>down</html>", status=503, content_type="text/html"
    )

    with pytest.raises(WeatherError) as failure:
        getter().get_json(httpserver.url_for("/grid?key=secret"))

    assert str(failure.value) == f"{httpserver.host}:{httpserver.port}/grid answered 503"
    assert not failure.value.permanent
    assert len(httpserver.log) == 3


def test_the_wait_a_server_asks_for_is_kept(httpserver: HTTPServer) -> None:
    httpserver.expect_ordered_request("/grid").respond_with_data(
        "slow down", status=429, headers={"Retry-After": "1"}
    )
    httpserver.expect_ordered_request("/grid").respond_with_json(GOOD)

    begun = time.monotonic()
    getter().get_json(httpserver.url_for("/grid"))

    assert 1.0 <= time.monotonic() - begun < 1.5


@pytest.mark.parametrize("form", ["seconds", "date"])
def test_a_server_that_asks_for_a_long_wait_is_left_alone_at_once(
    httpserver: HTTPServer, form: str
) -> None:
    later = format_datetime(utc_now() + timedelta(hours=1), usegmt=True)
    header = {"seconds": "3600", "date": later}[form]
    httpserver.expect_request("/grid").respond_with_data(
        "slow down", status=429, headers={"Retry-After": header}
    )

    with pytest.raises(WeatherError, match=r"asks us to wait (3600|3599) s") as failure:
        getter().get_json(httpserver.url_for("/grid"))

    assert not failure.value.permanent
    assert len(httpserver.log) == 1


@pytest.mark.parametrize("header", ["soon", "-5", "nan", "Sat, 01 Jan 2000 00:00:00 GMT"])
def test_a_wait_that_means_nothing_is_ignored(httpserver: HTTPServer, header: str) -> None:
    httpserver.expect_ordered_request("/grid").respond_with_data(
        "busy", status=503, headers={"Retry-After": header}
    )
    httpserver.expect_ordered_request("/grid").respond_with_json(GOOD)

    assert getter().get_json(httpserver.url_for("/grid"))[0] == GOOD


@pytest.mark.parametrize("status", [400, 401, 403, 404, 422])
def test_a_refusal_is_final_and_not_asked_again(httpserver: HTTPServer, status: int) -> None:
    httpserver.expect_request("/grid").respond_with_json({"title": "no"}, status=status)

    with pytest.raises(RefusedError) as failure:
        getter().get_json(httpserver.url_for("/grid"))

    assert (failure.value.status, failure.value.permanent) == (status, True)
    assert len(httpserver.log) == 1


def test_a_login_page_in_place_of_the_forecast_is_not_read(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/grid").respond_with_data(
        "<html>Welcome to GuestWiFi</html>", content_type="text/html"
    )

    with pytest.raises(WeatherError, match="login page") as failure:
        getter().get_json(httpserver.url_for("/grid"))

    assert not failure.value.permanent
    assert len(httpserver.log) == 1


@pytest.mark.parametrize(
    "body",
    [
        b'{"temperature": 21',
        b"Unexpected error while streaming data",
        b"",
        b'{"temperature": NaN}',
        b'{"temperature": -Infinity}',
        b'{"temperature": "\xff"}',
        b'{"a": ' + b"[" * 200_000,
        b'{"a": ' + b"9" * 5000 + b"}",
    ],
    ids=["cut", "text", "empty", "nan", "infinity", "not-utf8", "deep", "huge-number"],
)
def test_broken_json_is_asked_for_again_and_never_passed_on(
    httpserver: HTTPServer, body: bytes
) -> None:
    httpserver.expect_request("/grid").respond_with_data(body, content_type="application/json")

    with pytest.raises(WeatherError, match="broken JSON"):
        getter(attempts=2).get_json(httpserver.url_for("/grid"))

    assert len(httpserver.log) == 2


def test_json_that_is_not_an_object_is_refused(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/grid").respond_with_json([GOOD])

    with pytest.raises(WeatherError, match="not an object"):
        getter().get_json(httpserver.url_for("/grid"))


def gzipped(httpserver: HTTPServer, packed: bytes, encoding: str = "gzip") -> str:
    httpserver.expect_request("/grid").respond_with_data(
        packed, headers={"Content-Type": "application/json", "Content-Encoding": encoding}
    )
    return httpserver.url_for("/grid")


def test_a_gzipped_answer_is_unpacked(httpserver: HTTPServer) -> None:
    body = b'{"temperature": 21.5}'

    assert getter().get_json(gzipped(httpserver, gzip.compress(body))) == (GOOD, body)


@pytest.mark.parametrize(
    "packed", [gzip.compress(bytes(999))[:-9], b"not gzip at all"], ids=["cut short", "no gzip"]
)
def test_broken_gzip_is_asked_for_again(httpserver: HTTPServer, packed: bytes) -> None:
    with pytest.raises(WeatherError, match=r"broke off|broken gzip"):
        getter(attempts=2).get_json(gzipped(httpserver, packed))

    assert len(httpserver.log) == 2


def test_a_gzip_bomb_is_never_unpacked(httpserver: HTTPServer) -> None:
    """100 MB of zeros come as 100 kB, of which no more than the cap may ever be in memory."""
    press = zlib.compressobj(wbits=zlib.MAX_WBITS + 16)
    bomb = b"".join(press.compress(bytes(1_000_000)) for _ in range(100)) + press.flush()
    url = gzipped(httpserver, bomb)

    tracemalloc.start()
    try:
        with pytest.raises(WeatherError, match="more than 5000000 bytes"):
            getter().get_json(url)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()

    assert peak < 4 * http.MAX_BYTES
    assert len(httpserver.log) == 1


def test_a_bomb_packed_twice_is_refused_unopened(httpserver: HTTPServer) -> None:
    packed = gzip.compress(gzip.compress(bytes(1000)))

    with pytest.raises(WeatherError, match="encoding that was not asked for"):
        getter().get_json(gzipped(httpserver, packed, "gzip, gzip"))


def test_an_endless_answer_is_cut_at_the_cap() -> None:
    def pour(connection: socket.socket) -> None:
        connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n\r\n")
        while True:
            connection.sendall(b" " * 65536)

    with raw_server(pour) as url, pytest.raises(WeatherError, match="more than 5000000 bytes"):
        getter().get_json(url)


def test_a_redirect_on_the_same_host_is_followed(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/points").respond_with_data(
        "", status=301, headers={"Location": "/grid"}
    )
    httpserver.expect_request("/grid").respond_with_json(GOOD)

    assert getter().get_json(httpserver.url_for("/points"))[0] == GOOD


def test_a_redirect_to_another_host_or_port_is_not_followed(httpserver: HTTPServer) -> None:
    with HTTPServer(port=0) as other:
        httpserver.expect_request("/grid").respond_with_data(
            "", status=302, headers={"Location": other.url_for("/login")}
        )

        with pytest.raises(WeatherError, match="another host") as failure:
            getter().get_json(httpserver.url_for("/grid"))

        assert other.log == []
    assert not failure.value.permanent


@pytest.mark.parametrize("target", ["http://xn--a.invalid/", "mailto:x"])
def test_a_redirect_to_nowhere_is_a_weather_error(httpserver: HTTPServer, target: str) -> None:
    httpserver.expect_request("/grid").respond_with_data(
        "", status=302, headers={"Location": target}
    )

    with pytest.raises(WeatherError):
        getter(attempts=1).get_json(httpserver.url_for("/grid"))


def test_a_ring_of_redirects_is_left_after_three(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/grid").respond_with_data(
        "", status=302, headers={"Location": "/grid"}
    )

    with pytest.raises(WeatherError, match="redirects more than 3 times"):
        getter().get_json(httpserver.url_for("/grid"))

    assert len(httpserver.log) == 4


def test_a_key_in_the_query_reaches_neither_error_nor_log(
    httpserver: HTTPServer, caplog: pytest.LogCaptureFixture
) -> None:
    httpserver.expect_ordered_request("/grid").respond_with_data("busy", status=503)
    httpserver.expect_ordered_request("/grid").respond_with_data("no", status=404)

    with caplog.at_level(logging.DEBUG), pytest.raises(RefusedError) as failure:
        getter().get_json(httpserver.url_for("/grid?apikey=hunter2"))

    assert "hunter2" not in str(failure.value)
    ours = [vars(record) for record in caplog.records if record.name != "werkzeug"]
    assert any(record["name"] == "stamina" for record in ours)
    assert "hunter2" not in repr(ours)


POINTS = {"properties": {"forecastGridData": "https://api.weather.gov/gridpoints/XYZ/9,9"}}


def grid() -> dict[str, Any]:
    def layer(unit: str, value: float) -> dict[str, Any]:
        run = {"validTime": "2026-06-13T10:00:00+00:00/PT48H", "value": value}
        return {"uom": f"wmoUnit:{unit}", "values": [run]}

    return {
        "properties": {
            "updateTime": "2026-06-13T10:30:00+00:00",
            "temperature": layer("degC", 20),
            "relativeHumidity": layer("percent", 50),
            "windSpeed": layer("km_h-1", 9),
        }
    }


@pytest.mark.parametrize("status", [400, 404])
def test_a_cell_that_moved_is_looked_up_again_once(httpserver: HTTPServer, status: int) -> None:
    httpserver.expect_request("/gridpoints/XYZ/1,1").respond_with_json({}, status=status)
    httpserver.expect_request("/points/37.2,-80.5").respond_with_json(POINTS)
    httpserver.expect_request("/gridpoints/XYZ/9,9").respond_with_json(grid())

    forecast, cell_url = nws.fetch(
        getter(), httpserver.url_for(""), 37.2, -80.5, httpserver.url_for("/gridpoints/XYZ/1,1")
    )

    assert len(forecast.table) == 48
    assert cell_url == "https://api.weather.gov/gridpoints/XYZ/9,9"
    assert [request.path for request, _ in httpserver.log] == [
        "/gridpoints/XYZ/1,1",
        "/points/37.2,-80.5",
        "/gridpoints/XYZ/9,9",
    ]


def test_a_place_the_service_does_not_know_is_refused_without_a_loop(
    httpserver: HTTPServer,
) -> None:
    httpserver.expect_request("/gridpoints/XYZ/1,1").respond_with_json({}, status=404)
    httpserver.expect_request("/points/37.2,-80.5").respond_with_json(POINTS)
    httpserver.expect_request("/gridpoints/XYZ/9,9").respond_with_json({}, status=404)

    with pytest.raises(RefusedError):
        nws.fetch(
            getter(), httpserver.url_for(""), 37.2, -80.5, "https://a.example/gridpoints/XYZ/1,1"
        )

    assert len(httpserver.log) == 3


def test_a_refusal_that_is_not_about_the_cell_is_not_taken_for_a_move(
    httpserver: HTTPServer,
) -> None:
    httpserver.expect_request("/gridpoints/XYZ/1,1").respond_with_json({}, status=403)

    with pytest.raises(RefusedError):
        nws.fetch(
            getter(), httpserver.url_for(""), 37.2, -80.5, "https://a.example/gridpoints/XYZ/1,1"
        )

    assert len(httpserver.log) == 1
