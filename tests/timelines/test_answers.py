"""What people answer, and what is still said then: acknowledged, acted upon, snoozed."""

from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.messages.outlooks import NOW, local
from tests.timelines.scripts import (
    ACKED,
    ALL_CLEAR,
    FIRST,
    HELD,
    HOUR,
    REPEAT,
    SAFE,
    SILENT,
    SLEEPER,
    SNOOZED,
    WORSE,
    Answers,
    Sight,
    decisions,
    hourly,
    lasting,
    reasons,
    spoken,
)

ACK = Answers(acked_at=NOW + 2 * HOUR)
ACT = Answers(acted_at=NOW + 2 * HOUR)


@pytest.mark.parametrize("answer", [ACK, ACT], ids=["acknowledged", "acted upon"])
def test_what_was_answered_is_not_repeated(answer: Answers) -> None:
    told = reasons(hourly(*[lasting(1.2)] * 100), answers=answer)

    assert told == [FIRST, *[SILENT] * 71, *[ACKED] * 28]


def test_what_was_done_before_the_warning_is_no_answer_to_it() -> None:
    before = Answers(acted_at=NOW - HOUR)

    assert reasons(hourly(*[lasting(1.2)] * 73), answers=before)[-1] is REPEAT


@pytest.mark.parametrize("answer", [ACK, ACT], ids=["acknowledged", "acted upon"])
def test_what_was_answered_and_gets_worse_is_told_and_then_repeated_again(answer: Answers) -> None:
    told = spoken(decisions(hourly(*[lasting(1.2)] * 20, *[lasting(1.6)] * 80), answers=answer))

    assert told == [("Fri 18:00", FIRST), ("Sat 14:00", WORSE), ("Tue 14:00", REPEAT)]


def test_what_was_answered_is_told_to_be_over_and_the_next_danger_as_a_new_one() -> None:
    day = Sight(1.2, harm_at=local(13, 6))
    later = Sight(1.2, harm_at=local(17, 6))

    told = spoken(decisions(hourly(day, *[SAFE] * 47, *[later] * 60), answers=ACK))

    assert told == [("Fri 18:00", FIRST), ("Sat 14:00", ALL_CLEAR), ("Tue 16:00", FIRST)]


def snooze(until: datetime, at: datetime = NOW) -> Answers:
    return Answers(snoozed_at=at, snoozed_until=until)


def test_what_is_snoozed_is_told_when_the_snooze_is_over() -> None:
    soon = Sight(1.2, harm_at=local(13, 18))

    told = reasons(hourly(*[soon] * 15), answers=snooze(NOW + 12 * HOUR))

    assert told == [*[SNOOZED] * 12, FIRST, SILENT, SILENT]


def test_a_repeat_and_an_all_clear_wait_for_the_end_of_a_snooze() -> None:
    sights = [lasting(1.2)] * 80
    until = NOW + 76 * HOUR

    again = reasons(hourly(*sights), answers=snooze(until, NOW + HOUR))
    over = reasons(hourly(*sights[:2], *[SAFE] * 78), answers=snooze(until, NOW + HOUR))

    assert again == [FIRST, *[SILENT] * 71, *[SNOOZED] * 4, REPEAT, *[SILENT] * 3]
    assert over == [FIRST, *[SILENT] * 23, *[SNOOZED] * 52, ALL_CLEAR, *[SILENT] * 3]


@pytest.mark.parametrize(
    ("severity", "harm_at", "expected"),
    [
        (1.7, local(13, 6), WORSE),
        (1.69, local(13, 6), SNOOZED),  # not so much worse than the 1.2 that was told
        (1.7, local(14, 18), WORSE),
        (1.7, local(14, 19), SNOOZED),  # time enough when the snooze is over
    ],
)
def test_a_snooze_is_broken_by_what_is_much_worse_and_cannot_wait(
    severity: float, harm_at: datetime, expected: str
) -> None:
    first, worse = lasting(1.2), Sight(severity, harm_at=harm_at)
    answers = snooze(local(14, 18), NOW + HOUR)

    assert reasons(hourly(first, worse), answers=answers) == [FIRST, expected]


def test_a_new_danger_breaks_a_snooze_if_it_cannot_wait_and_something_helps() -> None:
    tonight = Sight(1.2, harm_at=NOW + 4 * HOUR)
    helpless = replace(tonight, helps=False)

    assert reasons(hourly(tonight), answers=snooze(NOW + 12 * HOUR)) == [FIRST]
    assert reasons(hourly(helpless), answers=snooze(NOW + 12 * HOUR)) == [SNOOZED]


def test_a_snooze_that_ends_at_night_is_followed_by_quiet_hours() -> None:
    soon = Sight(1.2, harm_at=local(13, 18))

    told = reasons(hourly(*[soon] * 13), SLEEPER, answers=snooze(NOW + 6 * HOUR))

    assert told == [*[SNOOZED] * 6, *[HELD] * 6, FIRST]


@given(
    st.lists(
        st.builds(
            Sight,
            st.sampled_from([0.5, 0.9, 1.1, 1.4, 1.65]),
            harm_at=st.sampled_from([None, local(13, 9), local(15, 9)]),
        ),
        min_size=10,
        max_size=60,
    ),
    st.integers(0, 20),
    st.integers(1, 40),
)
def test_a_snoozed_stack_is_silent_until_its_time_but_for_what_is_much_worse(
    sights: list[Sight], snoozed_at: int, hours: int
) -> None:
    """What is told in a snooze is 0.5 worse than what was, and begins before the snooze ends."""
    begins = NOW + snoozed_at * HOUR
    until = begins + hours * HOUR
    told_before = 0.0
    for decision in decisions(hourly(*sights), answers=snooze(until, begins)):
        if not decision.reason.speaks:
            continue
        if begins <= decision.made_at < until:
            assert decision.reason in {FIRST, WORSE}
            assert decision.severity >= told_before + 0.5
            assert decision.onset is not None
            assert decision.onset < until + HOUR
        told_before = decision.severity
