"""What must hold of boards taken up at a reading: a front that goes inward, and the mean read."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drywind.wood.drying import CELLS, Boards, State

BOARDS = Boards(np.array([0.014, 0.028, 0.05]), np.full(3, 560.0), np.full(3, 1e-9))

greens = st.floats(0.30, 1.40)
shares = st.floats(0.05, 1.0)
faces = st.floats(0.01, 0.30)


@given(greens, shares, faces)
def test_the_mean_is_the_one_read_and_no_cell_is_wetter_than_green_or_drier_than_the_face(
    green: float, share: float, face: float
) -> None:
    mean = max(share * green, 0.06)
    state = State.part_dried(BOARDS, (green, np.full(3, mean)), np.full(3, face))

    np.testing.assert_allclose((state.mc * BOARDS.cells_m).sum(0) / BOARDS.half_thickness_m, mean)
    assert state.mc.min() >= 0.99 * min(face, mean)
    assert state.mc.max() <= 1.01 * green + 1e-9
    assert (np.diff(state.mc, axis=0) >= -1e-12).all()


def test_a_board_hardly_dried_has_green_wood_in_the_middle_and_one_long_dried_has_none() -> None:
    early, late = (
        State.part_dried(BOARDS, (0.8, np.full(3, mean)), np.full(3, 0.1)) for mean in (0.7, 0.3)
    )

    np.testing.assert_allclose(early.mc[CELLS - 3 :], 0.8, rtol=0.01)
    assert early.mc[0].max() < 0.5
    assert late.mc.max() < 0.45


@pytest.mark.parametrize("mean", [0.8, 0.9])
def test_a_board_read_at_green_or_above_is_uniform(mean: float) -> None:
    state = State.part_dried(BOARDS, (0.8, np.full(3, mean)), np.full(3, 0.1))

    np.testing.assert_allclose(state.mc, mean)


def test_every_thickness_has_the_same_profile_of_its_own_depth() -> None:
    thick = replace(BOARDS, half_thickness_m=2.0 * BOARDS.half_thickness_m)

    thin_mc, thick_mc = (
        State.part_dried(boards, (0.8, np.full(3, 0.5)), np.full(3, 0.1)).mc
        for boards in (BOARDS, thick)
    )

    np.testing.assert_allclose(thin_mc, thick_mc)
