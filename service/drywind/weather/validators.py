"""Which version of an answer was had, so that a service need not send it twice (RFC 9110, 9111).

Pure: headers and instants in, headers and instants out.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

LONGEST_LIFE = timedelta(hours=24)
"""No answer is good for longer, whatever its server says: a forecast is out of date by then."""

_MAX_AGE = re.compile(r'max-age\s*=\s*"?(\d{1,9})', re.IGNORECASE)


@dataclass(frozen=True)
class Validators:
    """Which version of an answer was had, by its server's own words.

    Attributes
    ----------
    etag, last_modified
        As the server sent them, never read but only sent back; None if it sent none.
    expires_at
        The server has nothing newer before, and asks not to be asked; None if it does not say.
    """

    etag: str | None = None
    last_modified: str | None = None
    expires_at: datetime | None = None

    @classmethod
    def of(cls, headers: Mapping[str, str], now: datetime) -> "Validators":
        """Read the headers of an answer had at `now`; their names are in any case."""
        return cls(headers.get("ETag"), headers.get("Last-Modified"), _expires_at(headers, now))

    def conditions(self) -> dict[str, str]:
        """Return the headers that ask for an answer only if this version no longer stands.

        What no request can carry is left out, lest one odd answer spoil all requests after it.
        """
        named = {"If-None-Match": self.etag, "If-Modified-Since": self.last_modified}
        return {
            name: value
            for name, value in named.items()
            if value and value.isascii() and value.isprintable()
        }

    def over(self, known: "Validators") -> "Validators":
        """Return these as sent with the news that `known` still stands, which may not repeat it."""
        return Validators(
            self.etag or known.etag, self.last_modified or known.last_modified, self.expires_at
        )


@dataclass(frozen=True)
class Remembered:
    """What is remembered of one service at one place, from pass to pass.

    Attributes
    ----------
    cell
        Where it keeps the forecast of the place, if it names such an address.
    first_asked_at, asked_at, answered_at
        When it was asked first and last, and when it last had something or said that nothing was
        new.
    refused_until
        Before then it is not asked, because it said no.
    error
        What went wrong when it was last asked; empty if nothing did.
    """

    validators: Validators = field(default_factory=Validators)
    cell: str | None = None
    first_asked_at: datetime | None = None
    asked_at: datetime | None = None
    answered_at: datetime | None = None
    refused_until: datetime | None = None
    error: str = ""


def http_date(text: str) -> datetime | None:
    """Read the date of a header, which is always in UTC; None if it is none."""
    try:
        return parsedate_to_datetime(text).replace(tzinfo=UTC)
    except ValueError:
        return None


def _expires_at(headers: Mapping[str, str], now: datetime) -> datetime | None:
    """Return the end of the answer's life, told by our clock though the server's may differ."""
    if max_age := _MAX_AGE.search(headers.get("Cache-Control", "")):
        life = timedelta(seconds=int(max_age[1]))
    elif expires := http_date(headers.get("Expires", "")):
        life = expires - (http_date(headers.get("Date", "")) or now)
    else:
        return None
    return now + min(max(life, timedelta()), LONGEST_LIFE)
