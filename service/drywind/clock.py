"""Instants: always timezone-aware UTC inside; local clocks only at the edges."""

import ctypes
from collections.abc import Callable
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from drywind.errors import UsageError

Clock = Callable[[], datetime]
"""Anything that tells the present instant; injected so that tests and the demo can own time."""


def utc_now() -> datetime:
    """Return the present instant by the machine's clock."""
    return datetime.now(UTC)


EARLIEST = datetime(2026, 11, 1, tzinfo=UTC)
"""No clock that is right shows a time before this program was written."""

_TIME_ERROR = 5
"""What adjtimex(2) returns while nothing keeps the clock right."""


def is_synchronized() -> bool:
    """Return whether the system says that its clock is kept right, by whatever time service."""
    answer = ctypes.create_string_buffer(512)  # struct timex, zeroed: reads and sets nothing
    try:
        state = int(ctypes.CDLL(None).adjtimex(answer))
    except (AttributeError, OSError):  # not Linux
        return False
    return 0 <= state < _TIME_ERROR


def parse_instant(text: str, zone: ZoneInfo) -> datetime:
    """Read an ISO 8601 time; one without an offset is taken as local time in `zone`.

    Raises
    ------
    UsageError
        If the text is not a date and time.
    """
    try:
        instant = datetime.fromisoformat(text)
        if instant.tzinfo is None:
            instant = instant.replace(tzinfo=zone)
        return instant.astimezone(UTC)
    except (ValueError, OverflowError):
        raise UsageError(
            f"{text!r} is not a time; write it like 2026-06-13T07:30 (local) or 2026-06-13T12:30Z"
        ) from None


def floor_hour(instant: datetime) -> datetime:
    """Return the start of the hour `instant` lies in."""
    return instant.replace(minute=0, second=0, microsecond=0)


def iso(instant: datetime) -> str:
    """Write an instant as ISO 8601 in UTC with a trailing Z, to the second."""
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
