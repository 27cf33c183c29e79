"""Servers that do not prove who they are: nothing is read from them, and nothing is told to them.

One authority of the test's own is trusted, so that each certificate is refused for the one thing
that is wrong with it, and a right one is not.
"""

import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import trustme
from tests.faults.test_mail import MESSAGE, Inbox, serve

from drywind.delivery import send_apprise
from drywind.errors import WeatherError
from drywind.store import Outcome
from drywind.weather.http import Getter

YESTERDAY = datetime.now(UTC) - timedelta(days=1)


@pytest.fixture
def authority(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> trustme.CA:
    """Make a certificate authority that both ways out trust, and no other."""
    made = trustme.CA()
    made.cert_pem.write_to_path(str(tmp_path / "authority.pem"))
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    monkeypatch.delenv("SSL_CERT_DIR", raising=False)
    return made


def right(authority: trustme.CA) -> trustme.LeafCert:
    return authority.issue_cert("127.0.0.1")


def self_signed(_: trustme.CA) -> trustme.LeafCert:
    return trustme.CA().issue_cert("127.0.0.1")


def of_another_host(authority: trustme.CA) -> trustme.LeafCert:
    return authority.issue_cert("weather.test")


def expired(authority: trustme.CA) -> trustme.LeafCert:
    long_ago = YESTERDAY - timedelta(days=90)
    return authority.issue_cert("127.0.0.1", not_before=long_ago, not_after=YESTERDAY)


Issue = Callable[[trustme.CA], trustme.LeafCert]
wrong = pytest.mark.parametrize("issue", [self_signed, of_another_host, expired])


def context(certificate: trustme.LeafCert) -> ssl.SSLContext:
    made = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    certificate.configure_cert(made)
    return made


@contextmanager
def secure_server(certificate: trustme.LeafCert, heard: list[bytes]) -> Iterator[str]:
    """Serve an empty JSON object over TLS; keep what was asked for."""

    def answer(listener: socket.socket) -> None:
        secure = context(certificate)
        with suppress(OSError):
            while True:
                connection, _ = listener.accept()
                with suppress(OSError), secure.wrap_socket(connection, server_side=True) as client:
                    heard.append(client.recv(65536))
                    head = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"
                    client.sendall(head + b"Content-Length: 2\r\n\r\n{}")

    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(target=answer, args=[listener], daemon=True).start()
        yield f"https://127.0.0.1:{listener.getsockname()[1]}/grid"
        listener.shutdown(socket.SHUT_RDWR)


def get(url: str) -> dict[str, Any]:
    return Getter("yard@mill.example", attempts=1).get_json(url)[0]


def test_weather_is_read_from_a_server_with_a_right_certificate(authority: trustme.CA) -> None:
    with secure_server(right(authority), []) as url:
        assert get(url) == {}


@wrong
def test_weather_is_not_read_from_a_server_with_a_wrong_one(
    authority: trustme.CA, issue: Issue
) -> None:
    heard: list[bytes] = []
    with secure_server(issue(authority), heard) as url, pytest.raises(WeatherError):
        get(url)

    assert heard == []


def test_weather_is_not_read_from_a_plain_server_where_a_secure_one_is_named() -> None:
    heard: list[bytes] = []

    def answer(listener: socket.socket) -> None:
        with suppress(OSError), listener.accept()[0] as connection:
            heard.append(connection.recv(65536))
            connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\n\r\n{}")

    with socket.create_server(("127.0.0.1", 0)) as listener:
        threading.Thread(target=answer, args=[listener], daemon=True).start()
        with pytest.raises(WeatherError):
            get(f"https://127.0.0.1:{listener.getsockname()[1]}/grid")

    assert b"GET" not in b"".join(heard)


def secured(mode: str, certificate: trustme.LeafCert) -> dict[str, Any]:
    if mode == "ssl":
        return {"ssl_context": context(certificate), "auth_require_tls": False}
    return {"tls_context": context(certificate), "require_starttls": True}


@pytest.mark.parametrize("mode", ["ssl", "starttls"])
def test_mail_goes_to_a_server_with_a_right_certificate(authority: trustme.CA, mode: str) -> None:
    with serve(Inbox(), **secured(mode, right(authority))) as inbox:
        url = inbox.url(f"&mode={mode}", way="mailtos://")

        assert send_apprise(url, MESSAGE, "email") == (Outcome.SENT, "accepted")


@wrong
@pytest.mark.parametrize("mode", ["ssl", "starttls"])
def test_no_mail_and_no_password_goes_to_a_server_with_a_wrong_one(
    authority: trustme.CA, issue: Issue, mode: str
) -> None:
    passwords: list[object] = []

    def login(_server: object, _session: object, _envelope: object, _how: str, who: object) -> None:
        passwords.append(who)

    settings = secured(mode, issue(authority))
    with serve(Inbox(), authenticator=login, **settings) as inbox:
        url = inbox.url(f"&mode={mode}", way="mailtos://ada:right@")
        outcome, _ = send_apprise(url, MESSAGE, "email")

    assert outcome is Outcome.FAILED_FOR_NOW
    assert (inbox.mails, passwords) == ([], [])


@pytest.mark.parametrize("mode", ["ssl", "starttls"])
def test_no_mail_and_no_password_goes_to_a_plain_server_where_a_secure_one_is_named(
    mode: str,
) -> None:
    passwords: list[object] = []

    def login(_server: object, _session: object, _envelope: object, _how: str, who: object) -> None:
        passwords.append(who)

    with serve(Inbox(), authenticator=login, auth_require_tls=False) as inbox:
        url = inbox.url(f"&mode={mode}&cto=2", way="mailtos://ada:right@")
        outcome, _ = send_apprise(url, MESSAGE, "email")

    assert outcome is not Outcome.SENT
    assert (inbox.mails, passwords) == ([], [])
