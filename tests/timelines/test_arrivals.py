"""One message when a stack reaches 30, 25 and 20 %, by day, and silence otherwise."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.messages.outlooks import local
from tests.timelines.scripts import AWAKE, HOUR, SLEEPER, WARNINGS_ONLY, Sight
from tests.timelines.yards import MAIL, Yard, messages, yard

from drywind.alerts.gsm7 import septets
from drywind.arrivals import speak_of_arrivals
from drywind.config import Contact
from drywind.judge.outlook import Outlook
from drywind.samples import Entry
from drywind.yard import Event, EventKind

NOON = local(12, 12)
R7, CHECK = "drywind R7 red oak 4/4, gravel", "Weigh a sample board to be sure."
PACE = 0.5 / 24.0
"""Points an hour."""


def dried(mc_pct: float, now: datetime, *events: Event, hours: int = 48) -> Outlook:
    """Return a stack that has come to a moisture content at half a point a day."""
    seen = Sight(0.1).outlook(now)
    course = np.full_like(seen.run.mc_pct, np.nan)
    rows = np.arange(max(seen.now - hours, 0), seen.now + 1)
    course[rows] = (mc_pct + PACE * (seen.now - rows))[:, None]
    stack = replace(seen.case.stack, events=events)
    run = replace(seen.run, mc_pct=course, case=replace(seen.case, stack=stack))
    return replace(seen, run=run)


@pytest.fixture
def at_yard(tmp_path: Path) -> Iterator[Yard]:
    """Open a yard with a phone and a mailbox."""
    with yard(tmp_path, (AWAKE, MAIL)) as made:
        yield made


def texts(at: Yard, outlook: Outlook, now: datetime, contact: Contact = AWAKE) -> list[str]:
    """Do a pass, and return what a contact is told."""
    said = speak_of_arrivals(at.config, at.store, [outlook], now)
    return [message.text for message in messages(said, contact)]


def test_each_goal_is_told_once_as_it_is_passed(at_yard: Yard) -> None:
    told = []
    for i in range(30 * 12):
        now = NOON + 2 * i * HOUR
        told += texts(at_yard, dried(31.0 - 2 * PACE * i, now), now)

    assert told == [
        f"{R7}: about 30% MC, new surface checks are no longer likely. {CHECK}",
        f"{R7}: about 25% MC, ready for the kiln. {CHECK}",
        f"{R7}: about 20% MC, air-dry. {CHECK}",
    ]
    assert all(septets(text) <= 160 for text in told)


@pytest.mark.parametrize("mc_pct", [60.0, 31.0, 27.0, 18.0])
def test_a_stack_that_passes_nothing_is_not_spoken_of(at_yard: Yard, mc_pct: float) -> None:
    assert texts(at_yard, dried(mc_pct, NOON), NOON) == []


def test_a_reading_that_shows_it_was_reached_long_ago_is_told(at_yard: Yard) -> None:
    """Of the goals passed unseen the driest is named."""
    reading = Event("R7", NOON - HOUR, EventKind.WEIGHED, Entry(mc_pct=23.0).detail)

    (text,) = texts(at_yard, dried(23.0, NOON, reading), NOON)

    assert "about 23% MC, ready for the kiln" in text


def test_nobody_is_woken_and_who_hears_no_good_news_hears_none(tmp_path: Path) -> None:
    with yard(tmp_path, (SLEEPER, replace(WARNINGS_ONLY, name="Bob"))) as at:
        midnight, morning = local(13, 0), local(13, 7)
        at_night = texts(at, dried(24.9, midnight), midnight, SLEEPER)
        by_day = texts(at, dried(24.8, morning), morning, SLEEPER)
        bob = texts(at, dried(24.7, morning), morning, replace(WARNINGS_ONLY, name="Bob"))

    assert (at_night, len(by_day), bob) == ([], 1, [])


def test_a_dry_run_says_it_and_keeps_nothing(at_yard: Yard) -> None:
    outlook = dried(24.9, NOON)

    dry = speak_of_arrivals(at_yard.config, at_yard.store, [outlook], NOON, dry_run=True)

    assert [said.is_new for said in dry] == [False, False]
    assert len(texts(at_yard, outlook, NOON + timedelta(minutes=1))) == 1
