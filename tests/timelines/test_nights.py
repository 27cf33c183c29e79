"""What waits for the end of a contact's quiet hours, and what does not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from tests.messages.outlooks import NOW, ZONE, local
from tests.timelines.scripts import (
    ALL_CLEAR,
    FIRST,
    HELD,
    HOUR,
    OVER,
    REPEAT,
    SAFE,
    SILENT,
    SLEEPER,
    WORSE,
    Sight,
    decisions,
    hourly,
    reasons,
    spoken,
)

from drywind.alerts.decide import Before, decide
from drywind.alerts.records import Decision, Reason
from drywind.config import Policy
from drywind.judge.outlook import Spell


def test_a_warning_that_can_wait_is_held_over_the_quiet_hours_and_told_at_their_end() -> None:
    late_harm = Sight(1.2, harm_at=local(13, 11))
    passes = [*range(0, 8 * 60, 60), 449, 450, 480]  # minutes after 10 pm
    script = [(local(12, 22) + timedelta(minutes=m), late_harm) for m in sorted(passes)]

    made = decisions(script, SLEEPER)

    assert [d.reason for d in made] == [HELD] * 9 + [FIRST, SILENT]
    assert spoken(made) == [("Sat 05:30", FIRST)]


@pytest.mark.parametrize(
    ("harm_at", "expected"),
    [
        (local(12, 12), FIRST),  # under way
        (local(13, 2), FIRST),  # in the night
        (local(13, 6, 29), FIRST),  # less than an hour after quiet ends
        (local(13, 6, 30), HELD),
    ],
)
def test_a_night_is_broken_only_if_morning_would_be_too_late(
    harm_at: datetime, expected: Reason
) -> None:
    assert reasons([(local(12, 22), Sight(1.2, harm_at=harm_at))], SLEEPER) == [expected]


@pytest.mark.parametrize(
    ("worst_from", "expected"),
    [(local(13, 6, 29), FIRST), (local(13, 6, 30), HELD), (local(13, 12), HELD)],
)
def test_harm_that_begins_in_the_night_is_left_until_morning_if_the_worst_comes_later(
    worst_from: datetime, expected: Reason
) -> None:
    now = local(12, 22)
    spell = Spell(now, worst_from, worst_from + 5 * HOUR, 35.0, 0.25, 5.0)
    seen = replace(OVER.outlook(now), spell=spell)

    assert decide(seen.too_fast, SLEEPER, Before(None), Policy(), now, ZONE).reason is expected


def test_no_night_is_broken_to_tell_that_nothing_helps() -> None:
    helpless = Sight(1.2, harm_at=local(13, 2), helps=False)

    told = spoken(decisions(hourly(*[helpless] * 9, start=local(12, 22)), SLEEPER))

    assert told == [("Sat 06:00", FIRST)]


def test_what_is_seen_worse_in_the_night_is_told_in_the_morning() -> None:
    harm_at = local(13, 11)
    evening, night = Sight(1.2, harm_at=harm_at), Sight(1.6, harm_at=harm_at)
    script = hourly(*[evening] * 3, *[night] * 10)  # from 6 pm

    assert spoken(decisions(script, SLEEPER)) == [("Fri 18:00", FIRST), ("Sat 06:00", WORSE)]


def test_what_gets_worse_or_comes_sooner_breaks_a_night_if_morning_would_be_too_late() -> None:
    evening = Sight(1.2, harm_at=local(13, 16))
    worse, sooner = Sight(1.6, harm_at=local(13, 4)), Sight(1.2, harm_at=local(13, 4))

    for night in (worse, sooner):
        script = hourly(*[evening] * 6, night)  # from 6 pm

        assert spoken(decisions(script, SLEEPER)) == [("Fri 18:00", FIRST), ("Sat 00:00", WORSE)]


def test_a_repeat_never_breaks_a_night() -> None:
    """The first warning has been told, so whoever sleeps has heard of it."""
    before_morning = Sight(1.2, harm_at=local(13, 5))
    script = hourly(*[before_morning] * 13)  # from 6 pm

    told = decisions(script, SLEEPER, Policy(repeat_hours=6))

    assert spoken(told) == [("Fri 18:00", FIRST), ("Sat 06:00", REPEAT)]
    assert [d.reason for d in told[6:12]] == [HELD] * 6


def test_a_danger_that_goes_away_while_it_is_held_is_never_told() -> None:
    evening = Sight(1.2, harm_at=local(13, 11))
    script = hourly(*[evening] * 3, *[SAFE] * 24, start=local(12, 22))

    assert reasons(script, SLEEPER) == [*[HELD] * 3, *[SILENT] * 24]


def test_an_all_clear_never_breaks_a_night() -> None:
    script = hourly(Sight(1.2, harm_at=NOW), *[SAFE] * 14)  # from 6 pm; warned of until 2 am

    told = reasons(script, SLEEPER)

    assert told == [FIRST, *[SILENT] * 7, *[HELD] * 4, ALL_CLEAR, *[SILENT] * 2]


@pytest.mark.parametrize(
    ("evening", "morning"),
    [
        # 8 March 2026: 2 am CST becomes 3 am CDT.
        (datetime(2026, 3, 7, 22, tzinfo=ZONE), datetime(2026, 3, 8, 10, 30, tzinfo=UTC)),
        # 1 November 2026: 2 am CDT becomes 1 am CST.
        (datetime(2026, 10, 31, 22, tzinfo=ZONE), datetime(2026, 11, 1, 11, 30, tzinfo=UTC)),
    ],
)
def test_on_the_nights_the_clocks_change_a_held_warning_waits_for_the_wall_clock(
    evening: datetime, morning: datetime
) -> None:
    harm_late, harm_early = (Sight(1.2, harm_at=morning + timedelta(minutes=m)) for m in (60, 59))
    start = evening.astimezone(UTC)
    passes = [start + i * HOUR / 2 for i in range(24)]

    def told(sight: Sight) -> list[Decision]:
        script = [(now, sight) for now in passes]
        return [d for d in decisions(script, SLEEPER) if d.reason.speaks]

    assert [(d.made_at, d.reason) for d in told(harm_late)] == [(morning, FIRST)]
    assert [(d.made_at, d.reason) for d in told(harm_early)] == [(start, FIRST)]
