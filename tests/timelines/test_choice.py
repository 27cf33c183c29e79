"""Which service is believed of each hour, told service by service and hour by hour."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from math import nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drywind.clock import floor_hour
from drywind.weather.choice import FRESH, OBSERVED, STALE_AFTER, best_hours, leading
from drywind.weather.hour import WeatherHour

NOW = datetime(2026, 6, 12, 18, 20, tzinfo=UTC)
PRESENT = floor_hour(NOW)
HOUR = timedelta(hours=1)
SECOND = timedelta(seconds=1)

NWS, MET, THIRD = ORDER = ("nws", "met_norway", "open_meteo")
ARCHIVE = "open_meteo_archive"


def told(source: str, hour: int, age: timedelta = HOUR, temp_c: float = 20.0) -> WeatherHour:
    """Return a service's word, `age` old, about the hour that begins so many after this one."""
    return WeatherHour(
        *(PRESENT + hour * HOUR, temp_c, 0.5, 2.0, 270.0, nan, nan, 0.0, 0.0, source, NOW - age)
    )


def believed(*words: WeatherHour, order: Sequence[str] = ORDER) -> list[tuple[int, str]]:
    """Return the hours that are believed, counted from this one, and whose word on each is."""
    return [((h.time_utc - PRESENT) // HOUR, h.source) for h in best_hours(words, NOW, order)]


@pytest.mark.parametrize(
    ("ages", "leader"),
    [
        ({NWS: HOUR, MET: 0 * HOUR}, NWS),
        ({NWS: 12 * HOUR, MET: 0 * HOUR}, NWS),
        ({NWS: 12 * HOUR + SECOND, MET: 2 * HOUR}, MET),
        ({NWS: 12 * HOUR + SECOND, MET: 12 * HOUR, THIRD: HOUR}, MET),
        ({NWS: 30 * HOUR, MET: 20 * HOUR, THIRD: 25 * HOUR}, MET),
        ({NWS: 20 * HOUR, MET: 20 * HOUR}, NWS),
        ({NWS: 48 * HOUR + SECOND, MET: 48 * HOUR}, MET),
        ({NWS: 48 * HOUR + SECOND}, None),
        ({OBSERVED: HOUR, "stranger": HOUR}, None),
        ({OBSERVED: HOUR, NWS: 40 * HOUR}, NWS),
        ({}, None),
    ],
)
def test_the_first_fresh_service_leads_and_without_one_the_newest_that_is_not_stale(
    ages: dict[str, timedelta], leader: str | None
) -> None:
    newest = {name: NOW - age for name, age in ages.items()}

    assert (FRESH, STALE_AFTER) == (12 * HOUR, 48 * HOUR)
    assert leading(newest, NOW, ORDER) == leader


def test_the_order_is_the_callers() -> None:
    newest = {NWS: NOW, MET: NOW - 11 * HOUR}

    assert leading(newest, NOW, [MET, NWS]) == MET
    assert leading(newest, NOW, [THIRD]) is None


def test_a_younger_forecast_of_a_later_service_does_not_take_over_hour_by_hour() -> None:
    """Nor does it go on where the first one's ends: that would patch a spell together."""
    words = [told(NWS, hour, 11 * HOUR) for hour in range(3)]
    words += [told(MET, hour) for hour in range(9)]

    assert believed(*words) == [(0, NWS), (1, NWS), (2, NWS)]


def test_a_service_that_falls_silent_is_passed_over_after_half_a_day_until_it_speaks_again() -> (
    None
):
    old = [told(NWS, hour, 13 * HOUR) for hour in range(3)]
    other = [told(MET, hour) for hour in range(2)]

    assert believed(*old, *other) == [(0, MET), (1, MET)]
    assert believed(*old[1:], told(NWS, 0, HOUR), *other) == [(0, NWS), (1, NWS), (2, NWS)]


def test_while_no_service_is_fresh_the_newest_is_believed_for_two_days_and_then_none() -> None:
    words = [told(NWS, 0, 30 * HOUR), told(MET, 0, 20 * HOUR)]

    assert believed(*words) == [(0, MET)]
    assert believed(*(told(name, 0, 48 * HOUR + SECOND) for name in ORDER)) == []


def test_a_remnant_of_a_stale_issue_is_not_believed_because_its_service_has_spoken_since() -> None:
    words = [told(NWS, 0), told(NWS, 1, 48 * HOUR), told(NWS, 2, 48 * HOUR + SECOND)]

    assert believed(*words) == [(0, NWS), (1, NWS)]


def test_what_a_service_told_of_past_hours_does_not_make_it_lead() -> None:
    words = [told(NWS, -1), told(NWS, 0, 20 * HOUR), told(MET, 0, 2 * HOUR)]

    assert believed(*words) == [(-1, NWS), (0, MET)]


@pytest.mark.parametrize("source", [OBSERVED, ARCHIVE, "stranger"])
def test_of_the_hours_ahead_only_a_service_that_forecasts_is_believed(source: str) -> None:
    words = [told(source, hour) for hour in (-1, 0, 1)]

    assert believed(*words) == [(-1, source)]
    assert believed(*words, told(MET, 1, 40 * HOUR)) == [(-1, source), (1, MET)]


def test_this_hour_counts_as_ahead_even_at_its_end() -> None:
    words = [told(OBSERVED, 0), told(NWS, 0), told(OBSERVED, -1), told(NWS, -1)]

    assert best_hours(words, PRESENT + HOUR - SECOND, ORDER) == [words[2], words[1]]
    assert best_hours(words, PRESENT + HOUR, ORDER) == [words[2], words[0]]


def test_an_observed_hour_is_better_than_any_later_word_about_it() -> None:
    observed, *later = (
        told(OBSERVED, -3, 3 * HOUR),
        told(NWS, -3, HOUR),
        told(ARCHIVE, -3, 0 * HOUR),
    )

    assert believed(*later, observed) == believed(observed, *later) == [(-3, OBSERVED)]


def test_of_a_past_hour_nobody_observed_the_last_word_stands_and_the_first_in_order_of_two() -> (
    None
):
    assert believed(told(NWS, -9, 20 * HOUR), told(MET, -9, 9 * HOUR)) == [(-9, MET)]
    assert believed(told(NWS, -9), told(MET, -9), told(ARCHIVE, -9)) == [(-9, NWS)]
    assert believed(told(ARCHIVE, -9), told(MET, -9)) == [(-9, MET)]
    assert believed(told(NWS, -9, 20 * HOUR), told(ARCHIVE, -9)) == [(-9, ARCHIVE)]


def test_a_past_hour_is_known_however_long_ago_it_was_foretold() -> None:
    assert believed(told(NWS, -999, 1100 * HOUR)) == [(-999, NWS)]


def test_an_observation_without_temperature_does_not_hide_one_that_was_foretold() -> None:
    """A station whose thermometer fails still reports its wind."""
    [best] = best_hours([told(NWS, -1), told(OBSERVED, -1, temp_c=nan)], NOW, ORDER)

    assert best.temp_c == 20.0


WORDS = st.lists(
    st.builds(
        told,
        st.sampled_from([*ORDER, OBSERVED, ARCHIVE]),
        st.integers(-4, 4),
        st.integers(0, 60 * 60).map(lambda minutes: timedelta(minutes=minutes)),
    ),
    unique_by=lambda word: (word.source, word.time_utc),
    max_size=30,
)


@settings(deadline=None)
@given(WORDS, st.permutations(ORDER))
def test_every_hour_comes_once_and_in_order_by_a_word_that_was_told(
    words: list[WeatherHour], order: list[str]
) -> None:
    best = best_hours(words, NOW, order)

    times = [hour.time_utc for hour in best]
    assert times == sorted(set(times))
    assert set(best) <= set(words)
    past = {word.time_utc for word in words if word.time_utc < PRESENT}
    assert {time for time in times if time < PRESENT} == past
    ahead = [hour for hour in best if hour.time_utc >= PRESENT]
    assert len({hour.source for hour in ahead}) <= 1
    assert {hour.source for hour in ahead} <= set(order)
    assert all(hour.issued_at >= NOW - STALE_AFTER for hour in ahead)


@settings(deadline=None)
@given(st.data())
def test_what_is_believed_does_not_hang_on_the_order_of_telling(data: st.DataObject) -> None:
    words = data.draw(WORDS)
    shuffled = data.draw(st.permutations(words))

    assert best_hours(shuffled, NOW, ORDER) == best_hours(words, NOW, ORDER)
