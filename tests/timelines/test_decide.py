"""When to speak and when to be silent: scripted timelines of passes under a virtual clock."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr
from tests.messages.outlooks import BURLAP, LATE, NOW, R7, ZONE, local, outlook, trial

from drywind.alerts.decide import Before, decide, key_of
from drywind.alerts.records import Decision, Reason
from drywind.climate.stack_air import Board
from drywind.clock import floor_hour
from drywind.config import Channel, Contact, Policy, Topic
from drywind.judge.hazards import Window
from drywind.judge.outlook import Outlook, Spell
from drywind.units import Units

FIRST, WORSE, REPEAT, ALL_CLEAR = Reason.FIRST, Reason.WORSE, Reason.REPEAT, Reason.ALL_CLEAR
HELD, SILENT = Reason.HELD_QUIET, Reason.NOTHING_NEW

AWAKE = Contact("Ada", Channel.TEXT, SecretStr("json://127.0.0.1"), frozenset(Topic), Units.US)
SLEEPER = replace(AWAKE, quiet=(time(21), time(5, 30)))
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Sight:
    """What a pass sees ahead.

    `harm_at` is when harm begins; None is twelve hours after the pass, whatever the severity.
    """

    severity: float
    complete: bool = True
    harm_at: datetime | None = None

    def outlook(self, now: datetime) -> Outlook:
        """Return it as the outlook of a pass."""
        harm = self.harm_at or now + 12 * HOUR
        stack = replace(R7, stacked_at=floor_hour(now) - 240 * HOUR)
        start = (harm - stack.stacked_at) // HOUR
        seen = outlook(
            [Window(Board.TYPICAL, start, 24, 4.0 * self.severity, 4.0, None)],
            trial(BURLAP, replace(LATE, loss_pct_per_day=1.0)),
            stack,
            spell=Spell(harm, harm, harm + 8 * HOUR, 35.0, 0.25, 5.0),
            now=now,
        )
        return replace(seen, pace=replace(seen.pace, complete=self.complete))


Script = Iterable[tuple[datetime, Sight]]
SAFE, OVER = Sight(0.5), Sight(1.2)


def hourly(*sights: Sight, start: datetime = NOW) -> Script:
    """Return one pass an hour."""
    return ((start + i * HOUR, sight) for i, sight in enumerate(sights))


def severities(*values: float) -> Script:
    """Return one pass an hour that sees these severities."""
    return hourly(*map(Sight, values))


def decisions(
    script: Script, contact: Contact = AWAKE, policy: Policy | None = None
) -> list[Decision]:
    """Do the passes; what was said last is remembered, what was kept back is not."""
    made: list[Decision] = []
    before = Before(None)
    for now, sight in script:
        made.append(decide(sight.outlook(now), contact, before, policy or Policy(), now, ZONE))
        if made[-1].reason.speaks:
            before = Before(made[-1])
    return made


def reasons(script: Script, contact: Contact = AWAKE, policy: Policy | None = None) -> list[Reason]:
    """Return the reason of every pass, silence included."""
    return [d.reason for d in decisions(script, contact, policy)]


def spoken(made: Sequence[Decision]) -> list[tuple[str, Reason]]:
    """Return when, on the wall clock, something was said, and why."""
    return [(f"{d.made_at.astimezone(ZONE):%a %H:%M}", d.reason) for d in made if d.reason.speaks]


def test_a_week_of_safe_weather_is_a_week_of_silence() -> None:
    assert set(reasons(hourly(*[SAFE] * 168))) == {SILENT}


def test_a_danger_is_told_once_and_again_only_after_a_day() -> None:
    told = reasons(hourly(*[OVER] * 49))

    assert told == [FIRST, *[SILENT] * 23, REPEAT, *[SILENT] * 23, REPEAT]


def test_the_owner_sets_after_how_long_a_warning_is_repeated() -> None:
    told = reasons(hourly(*[OVER] * 13), policy=Policy(repeat_hours=6))

    assert told == [FIRST, *[SILENT] * 5, REPEAT, *[SILENT] * 5, REPEAT]


def test_worse_is_told_only_past_the_step_from_what_was_told_last() -> None:
    told = reasons(severities(1.25, 1.0, 1.49, 1.5, 1.74, 1.26, 1.75))

    assert told == [FIRST, SILENT, SILENT, WORSE, SILENT, SILENT, WORSE]


def test_the_owner_sets_the_step() -> None:
    told = reasons(severities(1.0, 1.4, 1.5), policy=Policy(worse_step=0.5))

    assert told == [FIRST, SILENT, WORSE]


def test_a_danger_that_creeps_up_is_told_each_time_a_step_is_full() -> None:
    told = reasons(severities(*(1.0 + i / 16 for i in range(9))))

    assert told == [FIRST, SILENT, SILENT, SILENT, WORSE, SILENT, SILENT, SILENT, WORSE]


def test_the_repeat_counts_from_the_last_words_of_any_kind() -> None:
    told = spoken(decisions(severities(*[1.0] * 10, *[1.3] * 40)))

    assert told == [("Fri 18:00", FIRST), ("Sat 04:00", WORSE), ("Sun 04:00", REPEAT)]


def test_an_all_clear_waits_six_hours_after_the_warning_and_is_told_once() -> None:
    told = reasons(severities(1.2, *[0.84] * 30))

    assert told == [FIRST, *[SILENT] * 5, ALL_CLEAR, *[SILENT] * 24]


def test_an_all_clear_follows_a_repeat_too() -> None:
    told = reasons(severities(*[1.2] * 25, *[0.5] * 6))

    assert told == [FIRST, *[SILENT] * 23, REPEAT, *[SILENT] * 5, ALL_CLEAR]


def test_between_the_all_clear_and_the_limit_nothing_is_said_for_days() -> None:
    assert reasons(severities(1.2, *[0.85, 0.92, 0.99] * 32)) == [FIRST, *[SILENT] * 96]


def test_the_owner_sets_under_what_a_warning_ends() -> None:
    told = reasons(severities(1.2, *[0.7] * 9, 0.59), policy=Policy(all_clear_below=0.6))

    assert told == [FIRST, *[SILENT] * 9, ALL_CLEAR]


def test_weather_nobody_knows_never_ends_a_warning() -> None:
    partly = Sight(0.5, complete=False)
    told = reasons(hourly(OVER, *[partly] * 72, SAFE))

    assert told == [FIRST, *[SILENT] * 72, ALL_CLEAR]


def test_a_danger_in_partly_known_weather_is_told_all_the_same() -> None:
    assert reasons(hourly(Sight(1.2, complete=False))) == [FIRST]


def test_nothing_known_is_nothing_said_and_no_warning_ended() -> None:
    unknown = outlook([], spell=None)
    unknown = replace(unknown, pace=replace(unknown.pace, complete=False))
    (warned,) = decisions([(NOW - 12 * HOUR, OVER)])

    told = [decide(unknown, AWAKE, Before(b), Policy(), NOW, ZONE) for b in (None, warned)]

    assert [d.reason for d in told] == [SILENT, SILENT]


def test_after_an_all_clear_the_next_danger_is_a_first_warning_again() -> None:
    told = spoken(decisions(severities(1.6, *[0.5] * 9, *[1.1] * 3)))

    assert told == [("Fri 18:00", FIRST), ("Sat 00:00", ALL_CLEAR), ("Sat 04:00", FIRST)]


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


def test_what_is_seen_worse_in_the_night_is_told_in_the_morning() -> None:
    harm_at = local(13, 11)
    evening, night = Sight(1.2, harm_at=harm_at), Sight(1.6, harm_at=harm_at)
    script = hourly(*[evening] * 3, *[night] * 10)  # from 6 pm

    assert spoken(decisions(script, SLEEPER)) == [("Fri 18:00", FIRST), ("Sat 06:00", WORSE)]


def test_a_danger_that_goes_away_while_it_is_held_is_never_told() -> None:
    evening = Sight(1.2, harm_at=local(13, 11))
    script = hourly(*[evening] * 3, *[SAFE] * 24, start=local(12, 22))

    assert reasons(script, SLEEPER) == [*[HELD] * 3, *[SILENT] * 24]


def test_an_all_clear_never_breaks_a_night() -> None:
    script = hourly(OVER, *[Sight(0.5, harm_at=NOW)] * 14)  # from 6 pm

    assert spoken(decisions(script, SLEEPER)) == [("Fri 18:00", FIRST), ("Sat 06:00", ALL_CLEAR)]


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
    passes = [start + i * timedelta(minutes=30) for i in range(24)]

    def told(sight: Sight) -> list[Decision]:
        script = [(now, sight) for now in passes]
        return [d for d in decisions(script, SLEEPER) if d.reason.speaks]

    assert [(d.made_at, d.reason) for d in told(harm_late)] == [(morning, FIRST)]
    assert [(d.made_at, d.reason) for d in told(harm_early)] == [(start, FIRST)]


def test_who_wants_no_all_clear_gets_none() -> None:
    warnings_only = replace(AWAKE, hear=frozenset({Topic.WARNINGS}))

    assert reasons(severities(1.2, *[0.5] * 48), warnings_only) == [FIRST, *[SILENT] * 48]


def test_who_wants_no_warnings_hears_of_no_end_of_them_either() -> None:
    all_clear_only = replace(AWAKE, hear=frozenset({Topic.ALL_CLEAR}))

    assert set(reasons(severities(1.2, *[0.5] * 12), all_clear_only)) == {SILENT}


@pytest.mark.xfail(raises=AssertionError, reason="without an all clear a warning stays open")
def test_who_wants_no_all_clear_is_warned_of_the_next_danger_as_of_a_new_one() -> None:
    warnings_only = replace(AWAKE, hear=frozenset({Topic.WARNINGS}))
    told = spoken(decisions(severities(1.6, *[0.5] * 72, 1.1), warnings_only))

    assert told == [("Fri 18:00", FIRST), ("Mon 19:00", FIRST)]


@pytest.mark.xfail(raises=AssertionError, reason="only how bad it is counts as new")
def test_harm_that_will_begin_a_day_sooner_than_was_told_is_news() -> None:
    told = reasons(
        hourly(Sight(1.2, harm_at=local(14, 11)), *[Sight(1.2, harm_at=local(13, 11))] * 2)
    )

    assert told[0] is FIRST
    assert told[1].speaks
    assert not told[2].speaks


CHATTER_HOURS = 5 * 24


def test_a_forecast_that_flips_across_the_limit_alone_is_one_text_a_day() -> None:
    told = reasons(severities(*[1.1, 0.9] * (CHATTER_HOURS // 2)))

    assert [r for r in told if r.speaks] == [FIRST, *[REPEAT] * 4]


def test_a_forecast_that_flips_across_limit_and_all_clear_gives_a_bounded_number_of_texts() -> None:
    told = reasons(severities(*[1.1, 0.8] * (CHATTER_HOURS // 2)))

    assert [r for r in told if r.speaks] == [FIRST, ALL_CLEAR] * 15


@given(
    st.lists(
        st.builds(Sight, st.sampled_from([0.5, 0.84, 0.9, 1.0, 1.3, 1.8]), st.booleans()),
        max_size=40,
    )
)
def test_whatever_the_forecast_does_each_text_follows_from_the_one_before(
    sights: list[Sight],
) -> None:
    """Warnings open with FIRST and close with ALL_CLEAR; each text has its own ground and age."""
    script = list(hourly(*sights))
    made = decisions(script)
    last = None
    for (_, sight), decision in zip(script, made, strict=True):
        reason = decision.reason
        is_open = last is not None and last.reason is not ALL_CLEAR
        if not reason.speaks:
            continue
        assert (reason is FIRST) is not is_open
        assert (reason is ALL_CLEAR) is (sight.severity < 1.0)
        if last is not None and reason is WORSE:
            assert sight.severity >= last.severity + 0.25
        if last is not None and reason is REPEAT:
            assert decision.made_at - last.made_at >= 24 * HOUR
        if last is not None and reason is ALL_CLEAR:
            assert sight.complete
            assert sight.severity < 0.85
            assert decision.made_at - last.made_at >= 6 * HOUR
        last = decision


def test_a_decision_says_whom_what_and_how_bad_and_until_when_it_is_of_use() -> None:
    harm_at = local(13, 10)
    (made,) = decisions([(NOW, Sight(1.2, harm_at=harm_at))])

    assert made == Decision(
        contact="Ada",
        stack="R7",
        hazard="too_fast",
        reason=FIRST,
        made_at=NOW,
        severity=1.2,
        onset=harm_at,
        useful_until=harm_at + 8 * HOUR,  # the end of the spell
    )


def test_an_all_clear_carries_no_danger_and_is_of_use_for_six_hours() -> None:
    *_, made = decisions(severities(1.2, *[0.5] * 6))

    assert (made.reason, made.severity, made.onset) == (ALL_CLEAR, 0.0, None)
    assert made.useful_until == made.made_at + 6 * HOUR


def test_a_warning_of_harm_that_is_nearly_over_is_of_use_for_six_hours_all_the_same() -> None:
    (made,) = decisions([(NOW, Sight(1.2, harm_at=NOW - 7 * HOUR))])

    assert made.useful_until == NOW + 6 * HOUR


def keys(script: Script) -> list[str]:
    """Return the keys of the decisions that speak, each after the one before."""
    said = [d for d in decisions(script) if d.reason.speaks]
    return [key_of(d, Before(b)) for d, b in zip(said, [None, *said], strict=False)]


def test_a_pass_done_twice_comes_to_the_same_keys() -> None:
    script = list(severities(1.0, 1.3, *[0.5] * 6, 1.0))

    assert len(keys(script)) == 4
    assert keys(script) == keys(script)


def test_a_pass_done_again_minutes_later_after_a_crash_says_nothing_twice() -> None:
    """The words of the first try were never written, so both decide after the same words."""
    first, again = (decisions([(NOW + timedelta(minutes=m), OVER)])[0] for m in (0, 7))

    assert key_of(first, Before(None)) == key_of(again, Before(None))


def test_no_two_texts_of_a_long_story_share_a_key() -> None:
    story = [1.0, 1.3, *[1.3] * 48, *[0.5] * 10, *[1.0] * 30, *[0.5] * 10, 1.0]

    found = keys(severities(*story))

    assert len(found) == 9
    assert len(set(found)) == len(found)


def test_contacts_stacks_and_reasons_have_keys_of_their_own() -> None:
    (made,) = decisions([(NOW, OVER)])
    others = [
        replace(made, contact="Bob"),
        replace(made, stack="R8"),
        replace(made, hazard="wetting"),
        replace(made, reason=HELD),
    ]

    assert len({key_of(d, Before(None)) for d in [made, *others]}) == 5
