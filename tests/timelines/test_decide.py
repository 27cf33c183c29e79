"""When to speak and when to be silent: scripted timelines of passes under a virtual clock."""

from dataclasses import replace
from datetime import datetime

import pytest
from tests.messages.outlooks import BURLAP, HOT_SATURDAY, LATE, NOW, ZONE, local, outlook, trial
from tests.timelines.scripts import (
    ALL_CLEAR,
    AWAKE,
    FIRST,
    HOUR,
    LAPSED,
    OVER,
    REPEAT,
    SAFE,
    SILENT,
    TOMORROW,
    WARNINGS_ONLY,
    WORSE,
    Sight,
    decisions,
    hourly,
    lasting,
    reasons,
    severities,
    spoken,
)

from drywind.alerts.decide import Before, decide
from drywind.alerts.records import Decision, Reason
from drywind.config import Policy, Topic


def test_a_week_of_safe_weather_is_a_week_of_silence() -> None:
    assert set(reasons(hourly(*[SAFE] * 168))) == {SILENT}


def test_a_danger_is_told_once_and_again_only_after_three_days() -> None:
    told = reasons(hourly(*[lasting(1.2)] * 145))

    assert told == [FIRST, *[SILENT] * 71, REPEAT, *[SILENT] * 71, REPEAT]


def test_a_danger_that_goes_on_day_by_day_is_new_after_three_as_the_hours_told_are_over() -> None:
    """Each pass sees harm 12 to 20 hours off."""
    told = reasons(hourly(*[OVER] * 145))

    assert told == [FIRST, *[SILENT] * 71, FIRST, *[SILENT] * 71, FIRST]


@pytest.mark.parametrize(("ends", "expected"), [(72, FIRST), (73, REPEAT)])
def test_it_is_still_the_same_danger_until_the_hours_told_are_over(
    ends: int, expected: Reason
) -> None:
    first = Sight(1.2, harm_at=TOMORROW, lasts_h=ends - 12)

    assert reasons([(NOW, first), (NOW + 72 * HOUR, OVER)]) == [FIRST, expected]


def test_before_a_repeat_is_due_no_new_danger_is_told_even_if_the_hours_told_are_over() -> None:
    """So that no forecast gives more than a text a day, save for what is worse."""
    over_at_10_pm, saturday = (Sight(1.2, harm_at=at) for at in (local(12, 14), local(13, 11)))

    assert reasons(hourly(over_at_10_pm, *[saturday] * 23)) == [FIRST, *[SILENT] * 23]


def test_the_owner_sets_after_how_long_a_warning_is_repeated() -> None:
    told = reasons(hourly(*[OVER] * 13), policy=Policy(repeat_hours=6))

    assert told == [FIRST, *[SILENT] * 5, REPEAT, *[SILENT] * 5, REPEAT]


def test_worse_is_told_only_past_the_step_from_what_was_told_last() -> None:
    told = reasons(severities(1.25, 1.0, 1.49, 1.5, 1.74, 1.26, 1.75))

    assert told == [FIRST, SILENT, SILENT, WORSE, SILENT, SILENT, WORSE]


def test_the_owner_sets_the_step() -> None:
    told = reasons(severities(1.1, 1.5, 1.6), policy=Policy(worse_step=0.5))

    assert told == [FIRST, SILENT, WORSE]


def test_a_danger_that_creeps_up_is_told_each_time_a_step_is_full() -> None:
    told = reasons(severities(*(1.125 + i / 16 for i in range(9))))

    assert told == [FIRST, SILENT, SILENT, SILENT, WORSE, SILENT, SILENT, SILENT, WORSE]


def test_the_repeat_counts_from_the_last_words_of_any_kind() -> None:
    told = spoken(decisions(hourly(*[lasting(1.1)] * 10, *[lasting(1.4)] * 80)))

    assert told == [("Fri 18:00", FIRST), ("Sat 04:00", WORSE), ("Tue 04:00", REPEAT)]


def test_what_is_told_worse_carries_the_worst_and_the_earliest_told() -> None:
    late, soon = Sight(1.6, harm_at=local(13, 22)), Sight(1.2, harm_at=local(13, 8))

    for script in (hourly(late, soon), hourly(soon, late)):
        first, worse = decisions(script)

        assert (first.reason, worse.reason) == (FIRST, WORSE)
        assert (worse.severity, worse.onset) == (1.6, soon.harm_at)


def test_what_is_told_first_or_again_carries_what_is_seen_then() -> None:
    later = replace(lasting(1.2), harm_at=TOMORROW + HOUR)

    _, again = decisions([(NOW, lasting(1.6)), (NOW + 72 * HOUR, later)])

    assert (again.reason, again.severity, again.onset) == (REPEAT, 1.2, TOMORROW + HOUR)


def test_harm_that_will_begin_in_the_morning_and_not_at_night_as_was_told_is_news_once() -> None:
    night, morning = (Sight(1.2, harm_at=local(13, hour)) for hour in (23, 9))

    assert reasons(hourly(night, morning, morning)) == [FIRST, WORSE, SILENT]


@pytest.mark.parametrize(
    ("harm_at", "expected"),
    [
        (local(13, 10), WORSE),
        (local(13, 10, 1), SILENT),
        (local(13, 22), SILENT),
        (local(14, 22), SILENT),  # later
    ],
)
def test_harm_is_news_if_it_begins_twelve_hours_sooner_than_was_told(
    harm_at: datetime, expected: str
) -> None:
    told = reasons(hourly(Sight(1.2, harm_at=local(13, 22)), Sight(1.2, harm_at=harm_at)))

    assert told == [FIRST, expected]


def test_worse_is_told_once_a_day_on_the_wall_clock() -> None:
    """From 6 pm, a pass an hour: midnight is the seventh."""
    told = reasons(severities(1.2, 1.5, 1.8, 2.1, 2.4, 2.7, 3.0, 3.3))

    assert told == [FIRST, WORSE, *[SILENT] * 4, WORSE, SILENT]


def test_harm_that_draws_near_step_by_step_is_news_each_time_twelve_hours_are_full() -> None:
    hours = [local(13, 23) - i * 4 * HOUR for i in range(7)]

    told = reasons(hourly(*(Sight(1.2, harm_at=hour) for hour in hours)))

    assert told == [FIRST, SILENT, SILENT, WORSE, SILENT, SILENT, WORSE]


def test_an_all_clear_waits_for_the_end_of_the_hours_warned_of_and_is_told_once() -> None:
    told = spoken(decisions(severities(1.2, *[0.84] * 60)))  # warned of Sat 6 am to 2 pm

    assert told == [("Fri 18:00", FIRST), ("Sat 14:00", ALL_CLEAR)]


@pytest.mark.parametrize("hours", [24, 72])
def test_an_all_clear_waits_no_longer_than_a_day_whenever_a_repeat_would_come(hours: int) -> None:
    told = reasons(hourly(lasting(1.2), *[SAFE] * 48), policy=Policy(repeat_hours=hours))

    assert told == [FIRST, *[SILENT] * 23, ALL_CLEAR, *[SILENT] * 24]


def test_an_all_clear_waits_six_hours_where_the_harm_is_nearly_over_when_told() -> None:
    nearly_over = Sight(1.2, harm_at=NOW - 7 * HOUR)

    assert reasons(hourly(nearly_over, *[SAFE] * 7)) == [FIRST, *[SILENT] * 5, ALL_CLEAR, SILENT]


def test_an_all_clear_waits_for_the_end_of_the_hours_told_last() -> None:
    daily = Policy(repeat_hours=24)
    until_sunday = Sight(1.2, harm_at=TOMORROW, lasts_h=26)
    worse, renewed, repeated = (
        severities(*[1.2] * 10, 1.6, *[0.5] * 30),
        severities(*[1.2] * 25, *[0.5] * 30),
        hourly(*[until_sunday] * 25, *[SAFE] * 30),
    )

    assert spoken(decisions(worse)) == [
        ("Fri 18:00", FIRST),
        ("Sat 04:00", WORSE),
        ("Sun 00:00", ALL_CLEAR),
    ]
    assert spoken(decisions(renewed, policy=daily)) == [
        ("Fri 18:00", FIRST),
        ("Sat 18:00", FIRST),
        ("Sun 14:00", ALL_CLEAR),
    ]
    assert spoken(decisions(repeated, policy=daily)) == [
        ("Fri 18:00", FIRST),
        ("Sat 18:00", REPEAT),
        ("Sun 08:00", ALL_CLEAR),
    ]


def test_between_the_all_clear_and_the_limit_nothing_is_said_for_days() -> None:
    told = reasons(severities(1.2, *[0.85, 0.92, 0.99] * 32))

    assert told == [FIRST, *[SILENT] * 23, LAPSED, *[SILENT] * 72]
    assert not LAPSED.speaks


def test_the_owner_sets_under_what_a_warning_ends() -> None:
    told = reasons(severities(1.2, *[0.7] * 30, 0.59), policy=Policy(all_clear_below=0.6))

    assert told == [FIRST, *[SILENT] * 23, LAPSED, *[SILENT] * 6, ALL_CLEAR]


def test_weather_nobody_knows_never_ends_a_warning() -> None:
    partly = Sight(0.5, complete=False)
    told = reasons(hourly(OVER, *[partly] * 72, SAFE))

    assert told == [FIRST, *[SILENT] * 72, ALL_CLEAR]


def test_a_danger_in_partly_known_weather_is_told_all_the_same() -> None:
    assert reasons(hourly(Sight(1.2, complete=False))) == [FIRST]


def test_nothing_known_is_nothing_said_and_no_warning_ended() -> None:
    unknown = outlook([], spell=None)
    unknown = replace(unknown, pace=replace(unknown.pace, complete=False))
    (warned,) = decisions([(NOW - 30 * HOUR, OVER)])

    told = [decide(unknown.too_fast, AWAKE, Before(b), Policy(), NOW, ZONE) for b in (None, warned)]

    assert [d.reason for d in told] == [SILENT, SILENT]


def test_after_an_all_clear_the_next_danger_is_a_first_warning_again() -> None:
    told = spoken(decisions(severities(1.6, *[0.5] * 23, *[1.1] * 3)))

    assert told == [("Fri 18:00", FIRST), ("Sat 14:00", ALL_CLEAR), ("Sat 18:00", FIRST)]


def test_who_wants_no_warnings_hears_of_no_end_of_them_either() -> None:
    all_clear_only = replace(AWAKE, hear=frozenset({Topic.ALL_CLEAR}))

    assert set(reasons(severities(1.2, *[0.5] * 30), all_clear_only)) == {SILENT}


def test_who_wants_no_all_clear_is_warned_of_the_next_danger_as_of_a_new_one() -> None:
    """That the end in between is decided but not told, the outbox shows."""
    told = spoken(decisions(severities(1.6, *[0.5] * 72, 1.1), WARNINGS_ONLY))

    assert told == [("Fri 18:00", FIRST), ("Sat 14:00", ALL_CLEAR), ("Mon 19:00", FIRST)]


def test_a_decision_says_whom_what_and_how_bad_and_until_when_it_is_of_use() -> None:
    seen = outlook([LATE], trial(BURLAP, replace(LATE, loss_pct_per_day=3.0)))

    made = decide(seen.too_fast, AWAKE, Before(None), Policy(), NOW, ZONE)

    assert made == Decision(
        contact="Ada",
        stack="R7",
        hazard="too_fast",
        reason=FIRST,
        made_at=NOW,
        severity=5.9 / 3.8,
        onset=HOT_SATURDAY.first,  # when harm begins, not when its window does
        useful_until=HOT_SATURDAY.end,
    )


def test_an_all_clear_carries_no_danger_and_is_of_use_for_six_hours() -> None:
    *_, made = decisions(severities(1.2, *[0.5] * 20))

    assert (made.reason, made.severity, made.onset) == (ALL_CLEAR, 0.0, None)
    assert made.useful_until == made.made_at + 6 * HOUR


def test_a_warning_of_harm_that_is_nearly_over_is_of_use_for_six_hours_all_the_same() -> None:
    (made,) = decisions([(NOW, Sight(1.2, harm_at=NOW - 7 * HOUR))])

    assert made.useful_until == NOW + 6 * HOUR
