"""When a first warning is told: on the evening before, at once, or not yet."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.messages.outlooks import ZONE, local
from tests.timelines.scripts import (
    AWAKE,
    FIRST,
    HELD,
    HOUR,
    NOT_YET,
    SAFE,
    SILENT,
    SLEEPER,
    Sight,
    decisions,
    hourly,
    reasons,
    spoken,
)

from drywind.alerts.manner import release
from drywind.config import Contact

SUNDAY_NOON = Sight(1.2, harm_at=local(14, 12))
FRIDAY_8AM = local(12, 8)


def test_harm_of_the_day_after_tomorrow_waits_for_the_evening_before() -> None:
    """Seen from Friday 8 am on; a later forecast of it is better."""
    told = reasons(hourly(*[SUNDAY_NOON] * 40, start=FRIDAY_8AM))

    assert told == [*[NOT_YET] * 32, FIRST, *[SILENT] * 7]


def test_what_goes_away_before_that_evening_is_never_told() -> None:
    told = reasons(hourly(*[SUNDAY_NOON] * 20, *[SAFE] * 40, start=FRIDAY_8AM))

    assert told == [*[NOT_YET] * 20, *[SILENT] * 40]


@pytest.mark.parametrize(
    ("harm_at", "evening"),
    [
        (local(14, 0), local(13, 16)),  # midnight begins a day
        (local(14, 0) - HOUR / 60, local(12, 16)),
        (local(14, 23, 59), local(13, 16)),
        # 8 March and 1 November 2026: the clocks change in the night.
        (datetime(2026, 3, 8, 10, tzinfo=ZONE), datetime(2026, 3, 7, 22, tzinfo=UTC)),
        (datetime(2026, 3, 9, 10, tzinfo=ZONE), datetime(2026, 3, 8, 21, tzinfo=UTC)),
        (datetime(2026, 11, 1, 10, tzinfo=ZONE), datetime(2026, 10, 31, 21, tzinfo=UTC)),
        (datetime(2026, 11, 2, 10, tzinfo=ZONE), datetime(2026, 11, 1, 22, tzinfo=UTC)),
    ],
)
def test_the_evening_before_begins_at_4_pm_on_the_wall_clock(
    harm_at: datetime, evening: datetime
) -> None:
    finding = Sight(1.2, harm_at=harm_at).finding(evening)

    assert release(finding, AWAKE, ZONE) == evening


@pytest.mark.parametrize(("lead_h", "evening"), [(0, "Sat 16:00"), (8, "Sat 08:00")])
def test_work_that_needs_a_day_is_told_that_much_earlier(lead_h: float, evening: str) -> None:
    sight = replace(SUNDAY_NOON, lead_h=lead_h)

    assert spoken(decisions(hourly(*[sight] * 60, start=FRIDAY_8AM))) == [(evening, FIRST)]


@pytest.mark.parametrize(
    ("quiet", "told_at"),
    [
        ((time(21), time(5, 30)), "Sat 16:00"),
        ((time(18), time(6)), "Sat 16:00"),
        ((time(17), time(6)), "Sat 15:00"),
        ((time(16), time(6)), "Sat 14:00"),
        ((time(12), time(6)), "Sat 10:00"),
        ((time(15), time(16, 30)), "Sat 13:00"),
        ((time(23), time(18, 30)), "Fri 21:00"),  # only the evenings are left
    ],
)
def test_where_quiet_hours_would_swallow_the_evening_it_is_told_before_they_begin(
    quiet: tuple[time, time], told_at: str
) -> None:
    script = hourly(*[SUNDAY_NOON] * 60, start=FRIDAY_8AM)

    assert spoken(decisions(script, replace(AWAKE, quiet=quiet))) == [(told_at, FIRST)]


def test_harm_that_begins_within_hours_is_told_at_once() -> None:
    soon = Sight(1.2, harm_at=local(12, 11))

    assert reasons(hourly(soon, start=FRIDAY_8AM)) == [FIRST]


def test_what_is_first_seen_in_quiet_hours_is_held_whatever_evening_that_is() -> None:
    script = hourly(*[Sight(1.2, harm_at=local(13, 12))] * 10, start=local(12, 22))

    assert reasons(script, SLEEPER) == [*[HELD] * 8, FIRST, SILENT]


quiet_times = st.integers(0, 47).map(lambda i: time(i // 2, 30 * (i % 2)))
nights = st.tuples(quiet_times, quiet_times).filter(lambda q: q[0] != q[1])


def waking_hours(quiet: tuple[time, time]) -> float:
    start, end = (t.hour + t.minute / 60 for t in quiet)
    return 24 - (end - start) % 24


def passes(harm_at: datetime) -> Iterator[datetime]:
    return (harm_at - i * HOUR for i in range(72, 0, -1))


@given(st.one_of(st.none(), nights), st.integers(0, 30 * 24), st.sampled_from([0.0, 3.0, 9.0]))
def test_what_is_foreseen_days_before_is_told_hours_before_it_begins(
    quiet: tuple[time, time] | None, hour: int, lead_h: float
) -> None:
    """Whatever the quiet hours, if somebody is awake for three hours a day; passes are hourly.

    Seven hours are left of an evening that begins at 4 pm with harm at midnight.
    """
    if quiet is not None and waking_hours(quiet) < 3:
        return
    contact: Contact = replace(AWAKE, quiet=quiet)
    harm_at = local(1, 0) + hour * HOUR
    sight = Sight(1.2, harm_at=harm_at, lead_h=lead_h)

    (told,) = [
        d for d in decisions([(n, sight) for n in passes(harm_at)], contact) if d.reason.speaks
    ]

    assert not contact.is_quiet(told.made_at.astimezone(ZONE).time())
    assert harm_at - told.made_at >= timedelta(hours=7 + lead_h)
