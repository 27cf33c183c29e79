"""What must hold of the stain clocks, the mold index and the insects' hours in any weather."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from drywind.wood.insects import INSECTS, open_hours
from drywind.wood.mold import mold
from drywind.wood.species import load_species
from drywind.wood.stain import (
    BEARS_DAYS,
    Dose,
    StickerStain,
    blue_dose,
    enzymatic_dose,
    stain_index,
    sticker_stain,
)

Array = NDArray[np.float64]
Clock = Callable[[ArrayLike, ArrayLike], Dose]

STAINS: dict[str, Clock] = {"enzymatic": enzymatic_dose, "blue": blue_dose}
CLOCKS: dict[str, Clock] = STAINS | {
    insect: lambda temp_c, mc, insect=insect: open_hours(insect, temp_c, mc) for insect in INSECTS
}
patient = settings(deadline=None)
"""For the mold index, which takes its hours one by one."""

every_stain = pytest.mark.parametrize("clock", STAINS.values(), ids=STAINS)
every_clock = pytest.mark.parametrize("clock", CLOCKS.values(), ids=CLOCKS)

temps, mcs, rhs = st.floats(-20.0, 60.0), st.floats(0.05, 1.5), st.floats(0.0, 1.1)
days = st.lists(st.tuples(temps, mcs), min_size=1, max_size=24).map(lambda hours: np.array(hours).T)
air = st.lists(st.tuples(temps, rhs), min_size=1, max_size=12).map(
    lambda hours: np.repeat(np.array(hours).T, 12, axis=1)
)


@every_clock
@given(days)
def test_what_has_run_never_runs_back(clock: Clock, hours: Array) -> None:
    dose = clock(*hours)

    assert dose.known.shape == hours[0].shape
    assert (np.diff(dose.known, prepend=0.0) >= 0.0).all()
    assert not dose.unknown_hours.any()


@every_clock
@given(days, temps, mcs, st.sampled_from(["temp", "mc", "both"]), st.data())
def test_an_unknown_hour_leaves_the_least_it_can_have_done_and_is_counted(
    clock: Clock, hours: Array, temp_c: float, mc: float, lost: str, data: st.DataObject
) -> None:
    """Whatever the hour was, the dose is at least what is called known."""
    at = data.draw(st.integers(0, hours.shape[1] - 1))
    gone = hours.copy()
    rows = {"temp": [0], "mc": [1], "both": [0, 1]}[lost]
    gone[rows, at] = np.nan
    hours[rows, at] = np.array([temp_c, mc])[rows]

    truth, known = clock(*hours), clock(*gone)

    assert (known.known <= truth.known + 1e-12).all()
    added = truth.known[-1] - known.known[-1]
    assert known.unknown_hours[-1] == known.unknown_hours[at] <= 1
    assert added <= 1e-12 or known.unknown_hours[-1] == 1
    assert lost != "both" or known.unknown_hours[-1] == 1


@every_clock
@given(days, days)
def test_boards_beside_each_other_run_as_each_would_alone(
    clock: Clock, one: Array, other: Array
) -> None:
    count = min(one.shape[1], other.shape[1])
    pair = np.stack([one[:, :count], other[:, :count]], axis=2)

    together = clock(*pair).known

    np.testing.assert_array_equal(together[:, 0], clock(*one[:, :count]).known)
    np.testing.assert_array_equal(together[:, 1], clock(*other[:, :count]).known)


@every_stain
@given(temps, mcs, mcs)
def test_wetter_wood_never_stains_less(clock: Clock, temp_c: float, a: float, b: float) -> None:
    drier, wetter = (clock([temp_c], [mc]).known[-1] for mc in sorted((a, b)))

    assert drier <= wetter


@given(temps, temps, mcs)
def test_warmth_never_slows_enzymatic_stain(a: float, b: float, mc: float) -> None:
    cooler, warmer = (enzymatic_dose([temp], [mc]).known[-1] for temp in sorted((a, b)))

    assert cooler <= warmer


@pytest.mark.parametrize(("temp_c", "mc"), [(np.nan, 0.10), (-5.0, np.nan)])
@every_stain
def test_an_hour_surely_too_dry_or_too_cold_is_not_unknown(
    clock: Clock, temp_c: float, mc: float
) -> None:
    dose = clock(np.full(24, temp_c), np.full(24, mc))

    assert (dose.known[-1], dose.unknown_hours[-1]) == (0.0, 0)


def test_every_class_a_species_may_have_bears_a_dose_and_the_readier_bears_less() -> None:
    for species in load_species().values():
        for stain, susceptibility in species.stain.items():
            assert stain_index(stain, susceptibility, BEARS_DAYS[stain][susceptibility]) == 1.0
    for classes in BEARS_DAYS.values():
        assert 0 < classes["prone"] < classes["some"] < classes["little"]


WORSE = list(StickerStain)


@given(
    st.sampled_from(["prone", "some", "little"]),
    st.tuples(st.floats(0.05, 1.0), st.floats(0.01, 0.1), st.floats(0.0, 3.0)),
    st.sets(st.integers(0, 2)),
)
def test_not_knowing_the_stickers_never_makes_them_better(
    susceptibility: str, known: tuple[float, float, float], lost: set[int]
) -> None:
    unknown = [float("nan") if i in lost else value for i, value in enumerate(known)]

    levels = [WORSE.index(sticker_stain(susceptibility, *three)) for three in (known, unknown)]

    assert levels[0] <= levels[1]


@patient
@given(air)
def test_the_mold_index_stays_between_0_and_6(weather: Array) -> None:
    index = mold(*weather).index

    assert ((index >= 0.0) & (index <= 6.0)).all()


@patient
@given(st.floats(1.0, 49.0), rhs, rhs)
def test_steady_damper_air_never_grows_less_mold(temp_c: float, a: float, b: float) -> None:
    rh = np.tile(np.sort([a, b]), (72, 1))

    drier, damper = mold(np.full_like(rh, temp_c), rh).index[-1]

    assert drier <= damper + 1e-12


@patient
@given(air, st.integers(1, 48), st.data())
def test_unknown_hours_let_mold_neither_grow_nor_die_and_are_counted(
    weather: Array, length: int, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, weather.shape[1]))
    gone = np.insert(weather, [at] * length, np.nan, axis=1)

    whole, holed = mold(*weather), mold(*gone)

    np.testing.assert_array_equal(np.delete(holed.index, np.s_[at : at + length]), whole.index)
    assert np.ptp(holed.index[max(at - 1, 0) : at + length]) == 0.0
    assert holed.unknown_hours[-1] == length
    assert not whole.unknown_hours.any()


@patient
@given(air, air)
def test_mold_on_boards_beside_each_other_grows_as_on_each_alone(one: Array, other: Array) -> None:
    hours = min(one.shape[1], other.shape[1])
    pair = np.stack([one[:, :hours], other[:, :hours]], axis=2)

    np.testing.assert_array_equal(mold(*pair).index[:, 0], mold(*one[:, :hours]).index)
