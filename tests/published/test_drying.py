"""The drying model against exact series and an independent solver.

They check that its equations are solved right; only published times (`test_drying_times`) say
anything about wood.
"""

import numpy as np
import psychrolib
import pytest
from tests.published.lumber import Array, steady_air
from tests.published.method_of_lines import CASES, made_cases, method_of_lines

from drywind.climate.transfer import vapor_coefficient
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import diffusion, emc, solver
from drywind.wood.diffusion import FIBER_SATURATION
from drywind.wood.drying import Boards, Course, State, simulate

ISOTHERMAL = np.array([1e6])
"""A heat-transfer coefficient that holds a board at the temperature of the air."""


def vapor_ms_of(kg_per_s_pa: float, temp_c: float) -> Array:
    return np.array([kg_per_s_pa * solver.VAPOR_GAS_CONSTANT * (temp_c + 273.15)])


# --- exact series ---------------------------------------------------------------------------


def crank_mean(biot: float, fourier: Array) -> Array:
    """Return the mean change left in a slab with a surface resistance, 1 at first.

    Crank 1975, The Mathematics of Diffusion, eq. 4.53 (from memory).
    """
    roots = np.arange(200) * np.pi + 1.0
    for _ in range(200):
        roots = np.arange(200) * np.pi + np.arctan2(biot, roots)
    terms = 2.0 * biot**2 / (roots**2 * (roots**2 + biot**2 + biot))
    return np.exp(-np.outer(fourier, roots**2)) @ terms


def test_with_constant_diffusion_a_board_dries_by_cranks_series(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The linear case: D 5e-10 m2/s, surface coefficient 1e-6 m/s, 25.4 mm, from 80 to 12 %.

    The model is made linear where its two material relations enter; all the rest is as ever.
    The frozen numbers were worked apart from the program, where FiPy, py-pde and SciPy agreed.
    """
    monkeypatch.setattr(diffusion, "FIBER_SATURATION", 0.0)
    monkeypatch.setattr(emc, "isotherm", lambda _at, h: (h, np.ones_like(h)))
    half, density, surface, saturation = 0.0127, 500.0, 1e-6, float(saturation_pressure_pa(20.0))
    boards = Boards(np.array([half]), np.array([density]), np.array([5e-10]))
    air = steady_air(480, 20.0, 0.12, ISOTHERMAL, vapor_ms_of(density * surface / saturation, 20.0))

    course = simulate(boards, air, State.green(np.array([0.80]), np.array([20.0])))

    days = np.array([1, 5, 10, 20])
    series = 12.0 + 68.0 * crank_mean(surface * half / 5e-10, 5e-10 * 86400.0 * days / half**2)
    np.testing.assert_allclose(series, [42.988, 14.679, 12.126, 12.000], atol=0.001)
    np.testing.assert_allclose(100.0 * course.mc[24 * days, 0], series, atol=0.1)


def test_very_wet_wood_loses_a_steady_stream_with_the_profile_of_carslaw_and_jaeger() -> None:
    """Above fiber saturation diffusion is constant and the face wet: the stream is prescribed.

    Carslaw and Jaeger 1959, Conduction of Heat in Solids, section 3.8 (from memory).
    """
    half, density, diffusivity, stream = 0.0143, 560.0, 8e-10, 2e-5  # stream in kg/(m2 s)
    boards = Boards(np.array([half]), np.array([density]), np.array([diffusivity]))
    pull = 0.5 * float(saturation_pressure_pa(20.0))
    air = steady_air(48, 20.0, 0.5, ISOTHERMAL, vapor_ms_of(stream / pull, 20.0))

    course = simulate(boards, air, State.green(np.array([1.50]), np.array([20.0])))

    cells = boards.cells_m[:, 0]
    edges = np.concatenate([[0.0], np.cumsum(cells)])
    middle = half - 0.5 * (edges[1:] + edges[:-1])  # from the middle of the board
    fourier, n = diffusivity * 48 * 3600.0 / half**2, np.arange(1, 200)[:, None]
    waves = (-1.0) ** n / n**2 * np.exp(-fourier * n**2 * np.pi**2)
    waves = waves * np.cos(n * np.pi * middle / half)
    shape = (3 * middle**2 - half**2) / (6 * half**2) - 2 / np.pi**2 * waves.sum(0)
    lost = stream * half / (density * diffusivity)
    assert course.end.mc.min() > FIBER_SATURATION
    assert course.mc[-1, 0] == pytest.approx(1.50 - lost * fourier, abs=1e-4)
    np.testing.assert_allclose(course.end.mc[:, 0], 1.50 - lost * (fourier + shape), atol=1e-3)


@pytest.mark.parametrize(("temp_c", "rh"), [(35.0, 0.25), (20.0, 0.65), (5.0, 0.40)])
def test_a_wet_board_in_the_shade_settles_at_the_wet_bulb(temp_c: float, rh: float) -> None:
    """PsychroLib's wet bulb (ASHRAE Handbook of Fundamentals 2017) is the oracle.

    Within 0.5 K: the handbook's wet bulb is of adiabatic saturation, from which a wet body in
    moving air strays a little, and the model holds the latent heat at its 20 °C value.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    heat = np.array([15.0])
    pressure = 101325.0
    vapor = vapor_coefficient(heat, np.array([pressure / (287.05 * (temp_c + 273.15))]))
    boards = Boards(np.array([0.0143]), np.array([560.0]), np.array([1e-8]))

    course = simulate(
        boards,
        steady_air(12, temp_c, rh, heat, vapor),
        State.green(np.array([2.0]), np.array([temp_c])),
    )

    wet_bulb = psychrolib.GetTWetBulbFromRelHum(temp_c, rh, pressure)
    assert course.end.temp_c[0] == pytest.approx(wet_bulb, abs=0.5)


# --- an independent solver ------------------------------------------------------------------


@pytest.fixture(scope="module")
def both_solvers() -> tuple[Course, Array, Array]:
    """Return the model's course of all cases, and the other solver's means and shells."""
    boards, drivers, green = made_cases()
    course = simulate(boards, drivers, State.green(green, drivers.air_temp_c[0]))
    return course, *method_of_lines(boards, drivers, green)


@pytest.mark.parametrize("case", CASES)
def test_moisture_is_within_a_tenth_of_a_point_of_an_independent_solver_for_16_days(
    both_solvers: tuple[Course, Array, Array], case: str
) -> None:
    course, means, _ = both_solvers
    at = list(CASES).index(case)

    np.testing.assert_allclose(100.0 * course.mc[:, at], means[:, at], atol=0.1, rtol=0)


@pytest.mark.parametrize("case", CASES)
def test_the_outer_millimeter_is_within_half_a_point_of_an_independent_solver_from_day_1(
    both_solvers: tuple[Course, Array, Array], case: str
) -> None:
    """It decides over a warning in the first three days, where 6 points are a whole limit."""
    course, _, shells = both_solvers
    at = list(CASES).index(case)

    np.testing.assert_allclose(100.0 * course.shell_mc[24:, at], shells[24:, at], atol=0.5, rtol=0)


def test_a_hundred_times_tighter_tolerances_move_no_moisture_by_a_hundredth_of_a_point(
    both_solvers: tuple[Course, Array, Array], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, *_ = both_solvers
    boards, drivers, green = made_cases()
    for name in ("TOLERANCE_MC", "TOLERANCE_K", "TOLERANCE_RH"):
        monkeypatch.setattr(solver, name, getattr(solver, name) / 100.0)

    tight = simulate(boards, drivers, State.green(green, drivers.air_temp_c[0]))

    assert not np.array_equal(tight.mc, course.mc)
    np.testing.assert_allclose(tight.mc, course.mc, atol=1e-4, rtol=0)
