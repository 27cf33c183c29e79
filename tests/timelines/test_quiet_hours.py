"""Quiet hours by the wall clock, also on the two nights a year it is changed."""

from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr
from tests.faults.configuring import ENV, GOOD

from drywind.config import Channel, Contact, Topic, load
from drywind.units import Units

CHICAGO = ZoneInfo("America/Chicago")


def contact(folder: Path, quiet: str | None) -> Contact:
    file = folder / "drywind.toml"
    hours = "" if quiet is None else f'quiet_hours = "{quiet}"'
    file.write_text(GOOD + hours, encoding="utf-8")
    return load(file, ENV).contacts["Ada"]


@pytest.mark.parametrize(
    ("quiet", "local", "expected"),
    [
        ("21:00-05:30", time(20, 59, 59), False),
        ("21:00-05:30", time(21), True),
        ("21:00-05:30", time(0), True),
        ("21:00-05:30", time(5, 29, 59), True),
        ("21:00-05:30", time(5, 30), False),
        ("12:00-13:00", time(11, 59), False),
        ("12:00-13:00", time(12), True),
        ("12:00-13:00", time(13), False),
        ("12:00-00:00", time(23, 59), True),
        ("12:00-00:00", time(0), False),
        (None, time(3), False),
    ],
)
def test_quiet_hours_hold_from_their_start_up_to_their_end(
    tmp_path: Path, quiet: str | None, local: time, expected: bool
) -> None:
    assert contact(tmp_path, quiet).is_quiet(local) is expected


@pytest.mark.parametrize(
    ("quiet", "now", "ends"),
    [
        ("21:00-05:30", "2026-06-13T03:00:00Z", "2026-06-13T10:30:00Z"),
        ("21:00-05:30", "2026-06-13T03:00:30.5Z", "2026-06-13T10:30:00Z"),
        ("21:00-05:30", "2026-06-13T18:00:30.5Z", "2026-06-13T18:00:30.5Z"),
        # 8 March 2026: 02:00 CST (08:00Z) becomes 03:00 CDT, the night is an hour shorter.
        ("21:00-05:30", "2026-03-08T04:00:00Z", "2026-03-08T10:30:00Z"),
        ("21:00-02:30", "2026-03-08T04:00:00Z", "2026-03-08T08:00:00Z"),
        # 1 November 2026: 02:00 CDT (07:00Z) becomes 01:00 CST, the night is an hour longer.
        ("21:00-05:30", "2026-11-01T03:00:00Z", "2026-11-01T11:30:00Z"),
        ("21:00-01:30", "2026-11-01T03:00:00Z", "2026-11-01T06:30:00Z"),
        ("21:00-01:30", "2026-11-01T07:10:00Z", "2026-11-01T07:30:00Z"),
    ],
)
def test_quiet_hours_end_by_the_wall_clock_also_when_it_is_changed(
    tmp_path: Path, quiet: str, now: str, ends: str
) -> None:
    instant = datetime.fromisoformat(now)

    assert contact(tmp_path, quiet).quiet_ends(instant, CHICAGO) == datetime.fromisoformat(ends)


@given(
    st.times(),
    st.times(),
    st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31), timezones=st.just(UTC)),  # noqa: DTZ001
)
def test_the_end_of_quiet_is_the_first_instant_that_is_not_quiet(
    start: time, end: time, now: datetime
) -> None:
    quiet = (start.replace(second=0, microsecond=0), end.replace(second=0, microsecond=0))
    person = Contact("Ada", Channel.TEXT, SecretStr(""), frozenset(Topic), Units.US, quiet)

    free = person.quiet_ends(now, CHICAGO)

    assert not person.is_quiet(free.astimezone(CHICAGO).time())
    assert free == now or person.is_quiet(
        (free - timedelta(microseconds=1)).astimezone(CHICAGO).time()
    )
