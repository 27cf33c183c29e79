"""The clocks of slow drying: carried on from where they stood, and stopped by the unknown."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from drywind.wood.clocks import Clocks, run
from drywind.wood.mold import mold

HOURS, BOARDS = 60, 2
SHAPE = (HOURS, BOARDS)
temps = arrays(float, SHAPE, elements=st.floats(-15, 45))
shares = arrays(float, SHAPE, elements=st.floats(0, 1))
shells = arrays(float, SHAPE, elements=st.floats(0.05, 1.0))
Array = NDArray[np.float64]


@given(temps, shares, shells, st.integers(0, HOURS))
def test_taken_up_halfway_they_come_to_the_same(
    temp_c: Array, rh: Array, shell: Array, at: int
) -> None:
    whole = run(Clocks.clean(BOARDS), temp_c, rh, shell)
    half = run(Clocks.clean(BOARDS), temp_c[:at], rh[:at], shell[:at])
    rest = run(half.at(-1), temp_c[at:], rh[at:], shell[at:])

    for f in fields(Clocks):
        assert getattr(rest.at(-1), f.name) == pytest.approx(
            getattr(whole.at(-1), f.name), abs=1e-9
        )


@given(temps, shares, shells)
def test_stain_never_runs_back_and_mold_stays_in_its_bounds(
    temp_c: Array, rh: Array, shell: Array
) -> None:
    gone = run(Clocks.clean(BOARDS), temp_c, rh, shell)

    assert (np.diff(gone.enzymatic, axis=0) >= 0).all()
    assert (np.diff(gone.blue, axis=0) >= 0).all()
    assert ((gone.mold >= 0) & (gone.mold <= 6)).all()


@given(temps, shares, shells)
def test_hours_nobody_knows_stop_them_all(temp_c: Array, rh: Array, shell: Array) -> None:
    unknown = temp_c.copy()
    unknown[20:40] = np.nan
    gone = run(Clocks.clean(BOARDS), unknown, rh, shell)

    for f in fields(Clocks):
        course = getattr(gone, f.name)
        assert np.isfinite(course).all()
        assert (course[20:41] == course[20]).all()


@given(temps, shares, shells)
def test_a_wet_face_is_as_damp_as_can_be_and_a_dry_one_no_drier_than_the_air(
    temp_c: Array, rh: Array, shell: Array
) -> None:
    soaked = run(Clocks.clean(BOARDS), temp_c, rh, np.ones_like(shell))
    bone_dry = run(Clocks.clean(BOARDS), temp_c, rh, np.zeros_like(shell))

    assert soaked.mold[-1] == pytest.approx(mold(temp_c, np.ones_like(rh)).index[-1])
    assert bone_dry.mold[-1] == pytest.approx(mold(temp_c, rh).index[-1])


def test_what_ran_before_stacking_counts() -> None:
    cold = np.zeros(SHAPE)
    gone = run(Clocks.clean(BOARDS, 2.5, 1.5), cold, cold, cold)

    assert gone.at(-1).enzymatic.tolist() == [2.5, 2.5]
    assert gone.at(-1).blue.tolist() == [1.5, 1.5]
