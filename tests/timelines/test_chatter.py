"""How much is said at most while forecasts waver, and that every text has its ground."""

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.messages.outlooks import NOW, ZONE, local
from tests.timelines.scripts import (
    ALL_CLEAR,
    FIRST,
    HOUR,
    LAPSED,
    REPEAT,
    WORSE,
    Script,
    Sight,
    decisions,
    hourly,
    lasting,
    reasons,
    severities,
)

from drywind.alerts.records import Reason
from drywind.config import Policy

DAYS = 5
SEEN_TWO_WAYS = DAYS * 24 // 2
"""So often two forecasts take turns."""


def told(script: Script) -> list[Reason]:
    """Return the reasons of what is said."""
    return [reason for reason in reasons(script) if reason.speaks]


def test_a_forecast_that_flips_across_the_limit_alone_is_one_text_a_day() -> None:
    anew = severities(*[1.1, 0.9] * SEEN_TWO_WAYS)
    the_same = hourly(*(lasting(s) for s in [1.1, 0.9] * SEEN_TWO_WAYS))

    assert told(anew) == [FIRST] * DAYS
    assert told(the_same) == [FIRST, REPEAT]


def test_a_forecast_that_flips_across_limit_and_all_clear_gives_two_texts_a_day() -> None:
    """Harm is always 12 to 20 hours off: each warning stands for 20 hours, and is 22 after."""
    said = told(severities(*[1.1, 0.8] * SEEN_TWO_WAYS))

    assert said == [*[FIRST, ALL_CLEAR] * DAYS, FIRST]


@pytest.mark.parametrize("start", range(0, 24, 3))
def test_afternoons_seen_dangerous_and_harmless_in_turn_give_two_texts_a_day(start: int) -> None:
    script = []
    for i in range(DAYS * 24):
        now = NOW + (start + i) * HOUR
        afternoon = now.astimezone(ZONE).replace(hour=11)
        if now >= afternoon + 8 * HOUR:
            afternoon += timedelta(days=1)
        script.append((now, Sight((1.1, 0.8)[i % 2], harm_at=afternoon)))

    assert len(told(script)) <= 2 * DAYS + 1


def test_harm_over_each_time_it_is_told_gives_a_text_every_four_hours() -> None:
    """The worst a forecast could do: an all clear waits for six hours whatever was told."""
    flips = [Sight(1.1, harm_at=NOW - 8 * HOUR), Sight(0.8)] * SEEN_TWO_WAYS

    assert told(hourly(*flips)) == [FIRST, ALL_CLEAR] * 15


def test_a_forecast_that_flips_across_the_step_is_told_worse_once() -> None:
    anew = severities(*[1.1, 1.4] * SEEN_TWO_WAYS)
    the_same = hourly(*(lasting(s) for s in [1.1, 1.4] * SEEN_TWO_WAYS))

    assert told(anew) == [FIRST, WORSE, FIRST]
    assert told(the_same) == [FIRST, WORSE, REPEAT]


def test_harm_seen_now_late_and_now_soon_is_told_sooner_once() -> None:
    late, soon = (Sight(1.2, harm_at=NOW + h * HOUR, lasts_h=200) for h in (28, 14))

    said = told(hourly(*[late, soon] * SEEN_TWO_WAYS))

    assert said == [FIRST, WORSE, REPEAT]


def test_harm_seen_now_worse_and_now_sooner_is_told_each_way_once_a_day() -> None:
    late = Sight(1.6, harm_at=NOW + 28 * HOUR, lasts_h=200)
    soon = Sight(1.2, harm_at=NOW + 14 * HOUR, lasts_h=200)

    said = told(hourly(*[late, soon] * SEEN_TWO_WAYS))

    assert said[:2] == [FIRST, WORSE]
    assert len(said) <= 2 * DAYS + 1


@settings(deadline=None)
@given(
    st.lists(
        st.builds(
            Sight,
            st.sampled_from([0.5, 0.84, 0.9, 1.0, 1.3, 1.8]),
            st.booleans(),
            st.sampled_from([None, local(12, 9), local(13, 11), local(14, 11)]),
        ),
        min_size=25,
        max_size=60,
    )
)
def test_whatever_the_forecast_does_each_text_follows_from_the_one_before(
    sights: list[Sight],
) -> None:
    """Warnings open with FIRST and close with ALL_CLEAR; each text has its own ground and age.

    A warning whose hours are over opens anew. So that all this happens in two days, warnings are
    repeated after one.
    """
    script = list(hourly(*sights))
    last = worse_on = None
    for (now, sight), decision in zip(
        script, decisions(script, policy=Policy(repeat_hours=24)), strict=True
    ):
        reason, today = decision.reason, now.astimezone(ZONE).date()
        is_open = last is not None and last.reason is not ALL_CLEAR
        if reason is LAPSED:
            assert last is not None
            assert now - last.made_at >= 24 * HOUR
            assert now >= last.useful_until
        if not reason.speaks:
            continue
        assert is_open or reason is FIRST
        assert (reason is ALL_CLEAR) is (sight.severity < 1.0)
        if last is not None and reason is FIRST and is_open:
            assert now - last.made_at >= 24 * HOUR
            assert now >= last.useful_until
        if last is not None and reason is WORSE:
            assert last.onset is not None
            assert decision.onset is not None
            assert decision.onset <= last.onset
            assert decision.severity >= max(last.severity, sight.severity)
            assert today != worse_on
            worse_on = today
            sooner = (sight.harm_at or now + 12 * HOUR) <= last.onset - 12 * HOUR
            assert sooner or sight.severity >= last.severity + 0.25
        if last is not None and reason is REPEAT:
            assert now - last.made_at >= 24 * HOUR
            assert now < last.useful_until
        if last is not None and reason is ALL_CLEAR:
            assert sight.complete
            assert sight.severity < 0.85
            assert now >= last.useful_until or now - last.made_at >= 24 * HOUR
            assert now - last.made_at >= 6 * HOUR
        last = decision
