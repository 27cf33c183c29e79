"""Fetching JSON from a public web service that may be slow, broken, moved or not there.

httpx limits each read but not their sum: a server that sends a byte now and then, even within the
headers, holds a synchronous client for ever. So each attempt runs under `asyncio.timeout`, which
ends it wherever it stands.
"""

import asyncio
import json
import logging
import zlib
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, NoReturn

import httpx
import stamina

from drywind import __version__
from drywind.clock import iso, utc_now
from drywind.errors import ClockError, WeatherError
from drywind.weather.validators import Validators, http_date

MAX_BYTES = 5_000_000
"""The longest body read, counted after decompression."""

MAX_REDIRECTS = 3

CLOCK_BEHIND, CLOCK_AHEAD = timedelta(hours=1), timedelta(days=7)
"""Our clock is wrong if a server's is ahead of it, or behind it, by so much: a cache between may
tell an older time, but never a later one (assumptions)."""

_LAST_PORT = 65535

_PASSING = {429, 500, 502, 503, 504}
"""Statuses worth asking again for; every other one is an answer."""

_log = logging.getLogger(__name__)

# httpx reports each request with its whole address, keys in the query included.
logging.getLogger("httpx").setLevel(logging.WARNING)


class RefusedError(WeatherError):
    """The service said no; asking the same again cannot help.

    `status` is the HTTP status, by which a caller may know a better question.
    """

    def __init__(self, message: str, status: int) -> None:
        super().__init__(message, permanent=True)
        self.status = status


class _PassingError(WeatherError):
    """A fault that may be gone at the next attempt, after `wait_s` if the server named a wait."""

    def __init__(self, message: str, wait_s: float | None = None) -> None:
        super().__init__(message)
        self.wait_s = wait_s


@dataclass(frozen=True)
class Answer:
    """What a service answered.

    Attributes
    ----------
    body
        The JSON object; None if the version already had still stands.
    raw
        Its bytes as sent, decompressed; empty if there is no body.
    validators
        Which version it is, for the next request.
    status
        The HTTP status.
    """

    body: dict[str, Any] | None
    raw: bytes
    validators: Validators
    status: int


class Getter:
    """Gets JSON over HTTP and turns every way that can fail into a `WeatherError`.

    Parameters
    ----------
    contact
        E-mail address or web page the services can complain to; goes into the User-Agent.
    attempts
        How often a request is sent before a passing fault is final.
    first_wait_s
        Pause after the first fault; each further one is four times as long, with jitter.
    longest_wait_s
        No pause is longer. A server that asks for more by Retry-After is left alone at once.
    """

    def __init__(
        self,
        contact: str,
        *,
        attempts: int = 4,
        first_wait_s: float = 2.0,
        longest_wait_s: float = 60.0,
    ) -> None:
        self._headers = {
            "User-Agent": f"drywind/{__version__} ({contact})",
            "Accept": "application/geo+json, application/json",
            "Accept-Encoding": "gzip",
        }
        self._attempts = attempts
        self._first_wait_s = first_wait_s
        self._longest_wait_s = longest_wait_s
        self._tls = httpx.create_ssl_context()
        self.clock_was_held = False
        """Whether a server told the time, and our clock agreed."""

    def get_json(self, url: str, deadline_s: float = 20.0) -> tuple[dict[str, Any], bytes]:
        """Get the JSON object at `url` and its bytes; see `get_if_changed`."""
        answer = self.get_if_changed(url, Validators(), deadline_s)
        assert answer.body is not None, "no version was named that could still stand"
        return answer.body, answer.raw

    def get_if_changed(self, url: str, known: Validators, deadline_s: float = 20.0) -> Answer:
        """Get the JSON object at `url`, or learn that the version already had still stands.

        Parameters
        ----------
        url
            Whole address. Redirects are followed on the same scheme, host and port only.
        known
            The version already had; an empty one asks for the object whatever it is.
        deadline_s
            Longest time one attempt may take, from connecting to the last byte. Only the system's
            look-up of the host name cannot be cut short, should it take longer by itself.

        Raises
        ------
        RefusedError
            If the service answers with a status that asking again cannot change.
        WeatherError
            If no attempt brought a JSON object.
        ClockError
            If the service tells quite another time than the clock of this computer.
        """
        target = _address(url)
        for attempt in stamina.retry_context(
            on=_backoff,
            attempts=self._attempts,
            timeout=None,
            wait_initial=self._first_wait_s,
            wait_max=self._longest_wait_s,
            wait_jitter=self._first_wait_s,
            wait_exp_base=4,
        ):
            with attempt:
                response, raw = asyncio.run(self._attempt(target, deadline_s, known))
                unchanged = response.status_code == httpx.codes.NOT_MODIFIED
                body = None if unchanged else _parse(raw, _place(target))
                news = Validators.of(response.headers, utc_now())
                validators = news.over(known) if unchanged else news
                return Answer(body, raw, validators, response.status_code)
        raise AssertionError("stamina returns or raises")

    async def _attempt(
        self, url: httpx.URL, deadline_s: float, known: Validators
    ) -> tuple[httpx.Response, bytes]:
        headers = self._headers | known.conditions()
        # No timeouts of httpx's own: the deadline bounds all phases together.
        client = httpx.AsyncClient(headers=headers, verify=self._tls, timeout=None)  # noqa: S113
        try:
            async with asyncio.timeout(deadline_s), client:
                return await self._follow(client, url)
        except TimeoutError:
            raise _PassingError(
                f"{_place(url)} gave no full answer within {deadline_s:g} s"
            ) from None
        except httpx.ConnectError as error:
            if "not yet valid" in str(error):
                raise ClockError(
                    f"to the clock of this computer, {iso(utc_now())}, the certificate of"
                    f" {_place(url)} is not yet valid"
                ) from error
            raise _PassingError(f"{_place(url)} could not be reached ({error})") from error
        except (httpx.TransportError, httpx.InvalidURL, UnicodeError) as error:
            raise _PassingError(f"{_place(url)} broke off or sent an unreadable answer") from error

    async def _follow(
        self, client: httpx.AsyncClient, url: httpx.URL
    ) -> tuple[httpx.Response, bytes]:
        place, home = _place(url), _origin(url)
        for _ in range(MAX_REDIRECTS + 1):
            async with client.stream("GET", url) as response:
                self._hold_clock(response)
                if response.next_request is None:
                    if _is_unchanged(response):
                        return response, b""
                    self._check(response, place)
                    return response, await _read(response, place)
                url = response.next_request.url
            if _origin(url) != home:
                raise WeatherError(f"{place} sends us to another host, which is not followed")
        raise WeatherError(f"{place} redirects more than {MAX_REDIRECTS} times")

    def _hold_clock(self, response: httpx.Response) -> None:
        """Hold our clock against the one of the server, and raise `ClockError` if it is wrong."""
        told, now = http_date(response.headers.get("Date", "")), utc_now()
        if told is None:
            return
        if not -CLOCK_AHEAD <= told - now <= CLOCK_BEHIND:
            raise ClockError(
                f"the clock of this computer says {iso(now)},"
                f" but {_place(response.request.url)} says {iso(told)}"
            )
        self.clock_was_held = True

    def _check(self, response: httpx.Response, place: str) -> None:
        """Raise unless the answer is a success that says it is JSON."""
        status = response.status_code
        if status in _PASSING:
            wait_s = _retry_after_s(response.headers.get("Retry-After", ""))
            if wait_s is not None and wait_s > self._longest_wait_s:
                raise WeatherError(f"{place} answered {status} and asks us to wait {wait_s:.0f} s")
            raise _PassingError(f"{place} answered {status}", wait_s)
        if response.is_client_error:
            raise RefusedError(f"{place} answered {status}", status)
        if not response.is_success:
            raise WeatherError(f"{place} answered {status}")
        if "json" not in response.headers.get("Content-Type", "").lower():
            raise WeatherError(
                f"{place} answered with something other than JSON, as a network's login page does"
            )
        if status == httpx.codes.NON_AUTHORITATIVE_INFORMATION:
            _log.warning("%s answered 203: this version of the service will be withdrawn", place)


def _is_unchanged(response: httpx.Response) -> bool:
    """Say whether the answer is that the version we named in the request still stands."""
    asked = {"if-none-match", "if-modified-since"} & response.request.headers.keys()
    return response.status_code == httpx.codes.NOT_MODIFIED and bool(asked)


async def _read(response: httpx.Response, place: str) -> bytes:
    """Read the body, decompressing no more of it than `MAX_BYTES`."""
    encoding = response.headers.get("Content-Encoding", "identity").lower()
    if encoding not in {"identity", "gzip"}:
        raise WeatherError(f"{place} answered in an encoding that was not asked for")
    unzip = zlib.decompressobj(wbits=zlib.MAX_WBITS + 16) if encoding == "gzip" else None
    body = bytearray()
    try:
        async for chunk in response.aiter_raw():
            body += unzip.decompress(chunk, MAX_BYTES + 1 - len(body)) if unzip else chunk
            if len(body) > MAX_BYTES:
                raise WeatherError(f"{place} sent more than {MAX_BYTES} bytes")
    except zlib.error:
        raise _PassingError(f"{place} sent broken gzip") from None
    if unzip is not None and not unzip.eof:
        raise _PassingError(f"{place} broke off in mid-answer")
    return bytes(body)


def _parse(raw: bytes, place: str) -> dict[str, Any]:
    try:
        body = json.loads(raw, parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        raise _PassingError(f"{place} sent broken JSON") from None
    if not isinstance(body, dict):
        raise WeatherError(f"{place} sent JSON that is not an object")
    return body


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not JSON")


def _backoff(error: Exception) -> bool | float:
    """Tell stamina whether to try again, and after how long if the server said so."""
    if not isinstance(error, _PassingError):
        return False
    return True if error.wait_s is None else error.wait_s


def _retry_after_s(header: str) -> float | None:
    """Return the seconds a Retry-After header asks for, or None where it asks for nothing."""
    try:
        wait_s = float(header)
    except ValueError:
        until = http_date(header)
        if until is None:
            return None
        wait_s = (until - utc_now()).total_seconds()
    return wait_s if wait_s > 0.0 else None


def _address(text: str) -> httpx.URL:
    """Read an address, or raise `WeatherError` where httpx would fail in a way of its own later."""
    try:
        url = httpx.URL(text)
        usable = url.scheme in {"http", "https"} and url.host and (url.port or 0) <= _LAST_PORT
    except (httpx.InvalidURL, UnicodeError):
        usable = False
    if not usable:
        raise WeatherError("the address of a weather service is not a web address", permanent=True)
    return url


def _origin(url: httpx.URL) -> tuple[str, str, int | None]:
    return url.scheme, url.host, url.port


def _place(url: httpx.URL) -> str:
    """Name an address for people: host and path, never the query, which may carry a key."""
    return url.netloc.decode() + url.raw_path.decode().partition("?")[0]
