"""What must hold of the stress in a drying board, worked by hand where it can be."""

from itertools import pairwise
from math import nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from drywind.wood import stress
from drywind.wood.diffusion import FIBER_SATURATION
from drywind.wood.drying import CELLS, Boards
from drywind.wood.stress import Layers, check_ratio, course, relaxed, set_strain, step

Array = NDArray[np.float64]

HALF_M = np.array([0.0143, 0.027])
OAK = Layers(
    Boards(HALF_M, np.array([560.0, 600.0]), np.ones(2)).cells_m,
    np.array([560.0, 600.0]),
    np.array([0.086, 0.105]),
)
WARM = np.array([20.0, 20.0])

profiles = arrays(np.float64, (CELLS, 2), elements=st.floats(0.03, 1.0))
creeps = arrays(np.float64, (CELLS, 2), elements=st.floats(-0.05, 0.05))
temperatures = arrays(np.float64, 2, elements=st.floats(-20.0, 60.0))


def two_layers(face_m: float, core_m: float) -> Layers:
    return Layers(np.array([[face_m], [core_m]]), np.array([560.0]), np.array([0.09]))


@pytest.fixture
def elastic(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take all creep away."""
    monkeypatch.setattr(stress, "SORPTIVE_CREEP", 0.0)
    monkeypatch.setattr(stress, "RELAXATION_DAYS", np.inf)


# --- balance --------------------------------------------------------------------------------


@given(creeps, profiles, profiles, temperatures)
def test_the_stresses_across_a_board_balance(
    creep: Array, before: Array, after: Array, temp_c: Array
) -> None:
    moment = step(OAK, creep, (before, after), temp_c)

    unbalanced = (moment.stress_pa * OAK.width_m).sum(0)
    strains = np.abs(creep) + np.abs(stress.shrinkage_strain(OAK, after))
    forces = OAK.stiffness_pa(after, temp_c) * OAK.width_m * strains
    assert (np.abs(unbalanced) <= 1e-12 * (forces.sum(0) + 1.0)).all()  # N/m; a board has 1e5


@given(creeps, profiles, profiles, temperatures)
def test_every_layer_ends_with_the_same_total_strain(
    creep: Array, before: Array, after: Array, temp_c: Array
) -> None:
    moment = step(OAK, creep, (before, after), temp_c)

    elastic = moment.stress_pa / OAK.stiffness_pa(np.minimum(after, FIBER_SATURATION), temp_c)
    total = elastic + moment.creep + stress.shrinkage_strain(OAK, after)
    np.testing.assert_allclose(total, np.broadcast_to(total[:1], total.shape), atol=1e-12)


@given(st.floats(0.03, 1.0), st.floats(0.03, 1.0), temperatures)
def test_a_board_that_dries_evenly_has_no_stress(
    before: float, after: float, temp_c: Array
) -> None:
    start = np.full((CELLS, 2), before)

    moment = step(OAK, relaxed(OAK, start).creep, (start, np.full((CELLS, 2), after)), temp_c)

    np.testing.assert_allclose(moment.stress_pa, 0.0, atol=1e-3)
    np.testing.assert_allclose(check_ratio(OAK, moment.stress_pa), 0.0, atol=1e-9)


@given(profiles, temperatures)
def test_a_board_of_unknown_past_starts_free_of_stress_and_stays_so_until_it_changes(
    mc: Array, temp_c: Array
) -> None:
    start = relaxed(OAK, mc)

    np.testing.assert_allclose(step(OAK, start.creep, (mc, mc), temp_c).stress_pa, 0.0, atol=1e-3)
    assert (relaxed(OAK, np.full((CELLS, 2), 0.8)).creep == 0.0).all()


def test_one_board_does_not_feel_its_neighbor_and_a_missing_layer_makes_its_board_unknown() -> None:
    before = np.full((CELLS, 2), 0.8)
    after = before.copy()
    after[:4] = [[0.1], [0.15], [0.2], [0.25]]
    whole = step(OAK, np.zeros((CELLS, 2)), (before, after), WARM)
    after[7, 1] = nan

    torn = step(OAK, np.zeros((CELLS, 2)), (before, after), WARM)

    np.testing.assert_allclose(torn.stress_pa[:, 0], whole.stress_pa[:, 0])
    assert np.isnan(torn.stress_pa[:, 1]).all()
    ratio = check_ratio(OAK, torn.stress_pa)
    assert ratio[0] > 0.0
    assert np.isnan(ratio[1])


# --- by hand --------------------------------------------------------------------------------


@pytest.mark.usefixtures("elastic")
def test_two_elastic_layers_share_the_shrinkage_as_two_springs_do() -> None:
    layers, temp_c = two_layers(0.002, 0.006), np.array([20.0])
    before, after = np.full((2, 1), 0.8), np.array([[0.10], [0.80]])

    moment = step(layers, np.zeros((2, 1)), (before, after), temp_c)

    face, core = 2.1e9 * 0.56**2 * np.array([np.exp(3.2 * 0.15), 1.0])
    shrinks = 0.09 * 0.20 / 0.30
    force = shrinks / (1.0 / (face * 0.002) + 1.0 / (core * 0.006))
    np.testing.assert_allclose(moment.stress_pa[:, 0], [force / 0.002, -force / 0.006], rtol=1e-12)
    np.testing.assert_array_equal(moment.creep, 0.0)


@pytest.mark.usefixtures("elastic")
def test_a_thin_face_on_a_thick_core_is_fully_restrained() -> None:
    layers, temp_c = two_layers(1e-9, 1.0), np.array([20.0])
    before, after = np.full((2, 1), 0.30), np.array([[0.27], [0.30]])

    moment = step(layers, np.zeros((2, 1)), (before, after), temp_c)

    np.testing.assert_allclose(moment.stress_pa[0], 2.1e9 * 0.56**2 * 0.09 * 0.03 / 0.30, rtol=1e-6)


def test_creep_holds_the_stress_of_a_restrained_face_under_shrinkage_over_sorptive_creep() -> None:
    layers, temp_c = two_layers(1e-9, 1.0), np.array([20.0])
    dry = np.linspace(0.30, 0.25, 2001)
    creep = np.zeros((2, 1))
    for before, after in pairwise(dry):
        mc = np.array([[before], [0.30]]), np.array([[after], [0.30]])
        moment = step(layers, creep, mc, temp_c, hours=1e-9)
        creep = moment.creep

    cap = 2.1e9 * 0.56**2 / 35.0 * 0.09 / 0.30
    np.testing.assert_allclose(moment.stress_pa[0], cap * (1.0 - np.exp(-35.0 * 0.05)), rtol=1e-3)


def test_at_constant_moisture_content_stress_decays_to_1_over_e_in_the_relaxation_time() -> None:
    layers, temp_c = two_layers(0.002, 0.006), np.array([20.0])
    wet = np.full((2, 1), 0.8)
    first = moment = step(layers, np.array([[0.0], [0.01]]), (wet, wet), temp_c, hours=1e-9)
    for _ in range(round(24 * stress.RELAXATION_DAYS)):
        moment = step(layers, moment.creep, (wet, wet), temp_c)

    np.testing.assert_allclose(moment.stress_pa / first.stress_pa, np.exp(-1.0), rtol=0.002)


@pytest.mark.parametrize("cell", [3, 9, 15])
def test_a_shell_in_even_tension_has_the_textbook_intensity_at_its_depth(cell: int) -> None:
    shell = np.zeros((CELLS, 2))
    shell[: cell + 1] = 1e6

    ratio = check_ratio(OAK, shell)

    depth = np.cumsum(OAK.width_m, axis=0)[cell]
    np.testing.assert_allclose(ratio, 1.12 * 1e6 * np.sqrt(np.pi * depth) / 4.1e5, rtol=1e-12)


def test_a_crack_in_tension_that_fades_with_depth_has_the_intensity_of_the_integral() -> None:
    """With s = 1 - x / a the integral of s / sqrt(a^2 - x^2) is pi / 2 - 1."""
    layers = Layers(np.full((400, 1), 1.0 / 400), np.array([560.0]), np.array([0.086]))
    middles = (np.arange(400) + 0.5) / 400

    intensity = layers.pull[-1] @ (1.0 - middles)

    exact = 1.12 * 2.0 / np.sqrt(np.pi) * (np.pi / 2.0 - 1.0)
    np.testing.assert_allclose(intensity, exact, rtol=2e-3)


def test_the_same_stress_is_nearer_to_a_check_the_deeper_it_goes() -> None:
    ratios = []
    for dry in (2, 6, 10):
        pulled = np.zeros((CELLS, 2))
        pulled[:dry] = 4e6
        ratios.append(check_ratio(OAK, pulled))

    assert (np.diff(ratios, axis=0) > 0.0).all()
    np.testing.assert_array_equal(check_ratio(OAK, np.full((CELLS, 2), -4e6)), 0.0)


# --- over hours -----------------------------------------------------------------------------


def drying(hours: int, steps: int) -> tuple[Array, Array]:
    """Return profiles of a front that moves inward with the square root of time, and 20 °C."""
    depth = np.cumsum(OAK.width_m, axis=0) - 0.5 * OAK.width_m
    front = 0.001 * np.sqrt(np.linspace(0.0, hours, steps + 1))[:, None, None]
    behind = np.clip(depth / np.maximum(front, 1e-9), 0.0, 1.0)
    return 0.08 + 0.72 * behind, np.full((steps + 1, 2), 20.0)


def test_hourly_steps_come_near_to_quarter_hours() -> None:
    coarse = course(OAK, *drying(72, 72))
    mc, temp_c = drying(72, 288)
    moment = relaxed(OAK, mc[0])
    for before, after in pairwise(mc):
        moment = step(OAK, moment.creep, (before, after), temp_c[0], hours=0.25)

    fine = check_ratio(OAK, moment.stress_pa)
    np.testing.assert_allclose(coarse.check[-1], fine, rtol=0.06)


def test_a_course_is_its_steps_one_after_another() -> None:
    mc, temp_c = drying(3, 3)
    moment = relaxed(OAK, mc[0])
    for i in range(3):
        moment = step(OAK, moment.creep, (mc[i], mc[i + 1]), temp_c[i + 1])

    whole = course(OAK, mc, temp_c)

    np.testing.assert_array_equal(whole.end.creep, moment.creep)
    np.testing.assert_array_equal(whole.check[-1], check_ratio(OAK, moment.stress_pa))
    assert (whole.check[0] == 0.0).all()
    assert (whole.tension[1:] > 0.0).all()
    assert (set_strain(OAK, whole.end.creep) > 0.0).all()


def test_set_is_the_outer_tenth_less_the_middle_one() -> None:
    layers = Layers(np.full((10, 1), 0.001), np.array([560.0]), np.array([0.09]))
    creep = np.array([0.03, 0.01, *[9.0] * 6, 0.004, 0.002])[:, None]

    np.testing.assert_allclose(set_strain(layers, creep), 0.02 - 0.003)


def test_a_missing_hour_leaves_the_rest_of_a_board_unknown() -> None:
    mc, temp_c = drying(6, 6)
    mc[3, :, 1] = nan

    whole = course(OAK, mc, temp_c)

    assert np.isfinite(whole.check[:, 0]).all()
    assert np.isnan(whole.check[3:, 1]).all()
    assert np.isnan(whole.tension[3:, 1]).all()
