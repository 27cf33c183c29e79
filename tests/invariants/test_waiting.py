"""What must hold of lots that wait, whatever the weather, the wood and how the logs lie."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.messages.outlooks import ZONE
from tests.timelines.scripts import AWAKE

from drywind.alerts.decide import Before, decide
from drywind.alerts.records import Decision, Reason
from drywind.config import Policy
from drywind.gather import LONGEST_WAIT, first_needed
from drywind.judge.findings import Hazard, Sign
from drywind.judge.waiting import (
    SAW_TO_STICKERS,
    WORST,
    courses,
    insect_hours,
    is_done,
    known_until,
    saw_by,
    waiting,
)
from drywind.units import Thickness
from drywind.wood.species import load_species
from drywind.yard import LogLot, Setup, Stack, Storage

Array = NDArray[np.float64]

FELLED = datetime(2026, 6, 10, 17, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)
AHEAD = 48
MAPLE = LogLot("L4", "hard_maple", FELLED, "gravel lot")

days = st.lists(st.floats(-10.0, 40.0), min_size=1, max_size=12).map(lambda d: np.repeat(d, 24))
ages = st.integers(0, 288)
lots = st.builds(
    replace,
    st.just(MAPLE),
    species=st.sampled_from(sorted(load_species())),
    stored=st.sampled_from(Storage),
    end_coated=st.booleans(),
    sawn_at=st.none() | ages.map(lambda hours: FELLED + hours * HOUR),
)
known_lots = lots.filter(lambda lot: bool(load_species()[lot.species].stain))
some = settings(max_examples=60, deadline=None)


def table(temp_c: Array) -> pd.DataFrame:
    """Return the weather from the hour of felling on."""
    hours = pd.date_range(FELLED.replace(minute=0), periods=len(temp_c), freq="h", unit="us")
    return pd.DataFrame({"temp_c": temp_c}, index=hours)


def at(hours: float) -> datetime:
    return FELLED + hours * HOUR


@some
@given(lots, days)
def test_what_has_stained_stays_and_only_grows(lot: LogLot, temp_c: Array) -> None:
    air = table(temp_c)

    for course in courses(lot, air, at(len(temp_c))):
        assert course.dose_days.shape == (len(temp_c) + 1,)
        assert course.dose_days[0] == 0.0
        assert (np.diff(course.dose_days) >= 0.0).all()
    done = [is_done(lot, air, at(hour)) for hour in range(0, len(temp_c) + 1, 12)]
    assert done == sorted(done)


@some
@given(known_lots, days, ages)
@example(MAPLE, np.full(288, 20.0), 40)
@example(MAPLE, np.full(288, 20.0), 66)
@example(replace(MAPLE, sawn_at=FELLED), np.full(288, 20.0), 66)
def test_a_finding_is_over_where_a_stain_sets_in_within_the_hours_ahead_alone(
    lot: LogLot, temp_c: Array, age: int
) -> None:
    """Held against a plain search through the shares of every stain."""
    air, now = table(temp_c), at(age)
    shares = [c.share for c in courses(lot, air, at(age + AHEAD))]
    pending = [s for s in shares if s[age] < 1.0]
    sets_in = [h for h in range(age + 1, age + AHEAD + 1) if any(s[h] >= 1.0 for s in pending)]

    found = waiting(lot, air, now, AHEAD)

    assert (found.subject, found.site, found.hazard) == ("L4", "gravel lot", Hazard.WAITING)
    assert found.over == found.helps == bool(sets_in)
    if sets_in:
        assert found.first is not None
        assert found.act_by is not None
        assert found.first == found.start == FELLED.replace(minute=0) + (sets_in[0] - 1) * HOUR
        assert found.severity == min(found.value / found.limit, WORST) >= 1.0
        assert now <= found.act_by <= max(now, found.first)
        assert found.end == now.replace(minute=0) + AHEAD * HOUR
    else:
        assert {found.first, found.start, found.end, found.act_by} == {None}
        assert found.severity == pytest.approx(min(1.0, max(s[-1] for s in shares)))
        assert (found.severity == 1.0) == is_done(lot, air, now)


@some
@given(known_lots, days, ages)
@example(MAPLE, np.full(288, 20.0), 40)
@example(MAPLE, np.full(288, 20.0), 66)
@example(replace(MAPLE, sawn_at=FELLED), np.full(288, 20.0), 66)
def test_a_lot_is_to_be_sawn_by_the_deadline_of_its_finding(
    lot: LogLot, temp_c: Array, age: int
) -> None:
    air, now = table(temp_c), at(age)
    by, found = saw_by(lot, air, now), waiting(lot, air, now, 2 * len(temp_c))

    assert by == found.act_by
    assert by is None or now <= by <= max(now, known_until(air, now))
    if found.first is not None:
        early = found.first if lot.is_sawn_at(now) else found.first - SAW_TO_STICKERS
        assert by == max(now, early)


@some
@given(lots, days, st.floats(0.0, 15.0), ages)
def test_sugar_stain_never_sets_in_later_in_warmer_weather(
    lot: LogLot, temp_c: Array, warmer: float, age: int
) -> None:
    def sugar(temps: Array) -> Array:
        found = courses(lot, table(temps), at(len(temps)))
        return np.concatenate(
            [c.share for c in found if c.sign is Sign.SUGAR_STAIN] or [np.zeros(1)]
        )

    assert (sugar(temp_c) <= sugar(temp_c + warmer)).all()

    oak = replace(lot, species="red_oak")
    cool, warm = (waiting(oak, table(t), at(age), AHEAD) for t in (temp_c, temp_c + warmer))
    assert cool.severity <= warm.severity or is_done(oak, table(temp_c + warmer), at(age))
    if cool.first is not None and warm.first is not None:
        assert warm.first <= cool.first


@some
@given(lots, days, ages, st.data())
def test_an_unknown_hour_is_never_safe_and_never_brings_stain_sooner(
    lot: LogLot, temp_c: Array, age: int, data: st.DataObject
) -> None:
    lot = replace(lot, species=data.draw(st.sampled_from(["hard_maple", "red_oak"])))
    until, now = age + AHEAD, at(age)
    temp_c = np.resize(temp_c, until)
    gone = temp_c.copy()
    gone[data.draw(st.integers(0, until - 1))] = np.nan

    whole, holed, short = (waiting(lot, table(t), now, AHEAD) for t in (temp_c, gone, temp_c[:-1]))

    assert (whole.complete, holed.complete, short.complete) == (True, False, False)
    assert holed.severity <= whole.severity or is_done(lot, table(temp_c), now)
    if holed.first is not None and not is_done(lot, table(temp_c), now):
        assert whole.first is not None
        assert whole.first <= holed.first


@pytest.mark.parametrize("species", ["white_oak", "black_walnut"])
def test_a_wood_of_whose_stains_nothing_is_known_is_never_called_safe(species: str) -> None:
    lot = replace(MAPLE, species=species)
    found = waiting(lot, table(np.full(200, 30.0)), at(100), AHEAD)

    assert (found.severity, found.first, found.complete) == (0.0, None, False)
    assert np.isnan(found.limit)


@some
@given(known_lots, days)
def test_how_logs_lie_slows_blue_stain_alone_and_only_until_they_are_sawn(
    lot: LogLot, temp_c: Array
) -> None:
    end, sawn = at(len(temp_c)), replace(lot, sawn_at=FELLED)
    bare = replace(lot, stored=Storage.OPEN, end_coated=False)

    for told, open_, board in zip(
        *(courses(one, table(temp_c), end) for one in (lot, bare, sawn)), strict=True
    ):
        assert (told.dose_days <= open_.dose_days).all()
        assert np.array_equal(board.dose_days, open_.dose_days)
        if told.sign is Sign.SUGAR_STAIN:
            assert np.array_equal(told.dose_days, open_.dose_days)
        elif lot.sawn_at is None and (lot.end_coated or lot.stored is Storage.SPRINKLED):
            assert not told.dose_days.any()


@pytest.mark.parametrize("logs", [{"stored": Storage.SPRINKLED}, {"end_coated": True}], ids=str)
def test_blue_stain_starts_at_the_saw_where_logs_were_shut_to_it(logs: dict[str, object]) -> None:
    air = table(np.full(240, 25.0))
    lot = replace(MAPLE, species="basswood", sawn_at=at(100), **logs)  # type: ignore[arg-type]

    [blue] = courses(lot, air, at(240))

    assert blue.dose_days[100] == 0.0
    assert blue.dose_days[124] == pytest.approx(1.0)


def test_a_warning_of_stain_that_has_since_set_in_is_neither_repeated_nor_cleared() -> None:
    """In a heat of 30 °C maple is gray after 39 hours; then a cold spell follows."""
    air = table(np.concatenate([np.full(60, 30.0), np.full(300, 2.0)]))
    before, made = Before(None), []
    for hour in range(0, 240, 3):
        found = waiting(MAPLE, air, at(hour), AHEAD)
        decision: Decision = decide(found, AWAKE, before, Policy(), at(hour), ZONE)
        if decision.reason.speaks:
            before = Before(decision)
            made.append((hour, decision.reason))

    assert made == [(0, Reason.FIRST)]


@given(ages, st.floats(-20.0, 40.0))
def test_warm_hours_are_counted_for_woods_beetles_take_to(age: int, temp_c: float) -> None:
    hours = insect_hours(MAPLE, table(np.full(300, temp_c)), at(age))

    assert hours == (age if 16.0 <= temp_c <= 35.0 else 0)


def test_weather_is_needed_from_the_oldest_stack_or_lot_on_but_no_lot_s_beyond_60_days() -> None:
    def stack(hours: float) -> Stack:
        return Stack("R7", "red_oak", Thickness.parse("4/4"), at(hours), Setup("gravel lot"))

    now = at(2400)
    late, ended = replace(MAPLE, felled_at=at(2000)), replace(MAPLE, ended_at=at(2300))

    assert first_needed([], [], now) is None
    assert first_needed([stack(2500)], [replace(MAPLE, felled_at=at(2500))], now) is None
    assert first_needed([], [late, ended], now) == at(2000)
    assert first_needed([stack(1000)], [late], now) == at(1000)
    assert first_needed([stack(1000)], [MAPLE, late], now) == now - LONGEST_WAIT == at(960)
