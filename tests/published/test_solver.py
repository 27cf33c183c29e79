"""The drying model's solver against finer, independent and general-purpose ones.

They say that its equations are solved right, over 24 made cases and 24 drawn ones; only published
drying times (`test_drying_times`) say anything about wood.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest
from scipy.optimize import brentq
from tests.published.cases import LATENT_HEAT, VAPOR_GAS_CONSTANT, Cases, made_cases
from tests.published.conftest import Against
from tests.published.fine_reference import (
    EVERY_H,
    Fine,
    all_cases,
    fingerprint,
    frozen,
    solve_finely,
)
from tests.published.lumber import Array, steady_air
from tests.published.method_of_lines import method_of_lines
from tests.published.pde_library import Grid, by_fipy

from drywind.climate.stack_air import Drivers
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import solver
from drywind.wood.drying import Boards, Course, State, simulate

OURS_FINE = "own equations, 200 cells, steps of 1 min, frozen"
BDF = "SciPy solve_ivp BDF, method of lines on 70 nodes, live"
FIPY = "FiPy, 60 cells, 8 steps an hour, live"
KINDS = ["made", "drawn"]
THIN_M, THIN_WITHIN, THICK_WITHIN = 0.0175, 0.5, 1.0
LIVE_H, BDF_H = 12, 72
EVERY_KIND = np.array([0, 5, 10, 14, 18, 23])
"""Of the made cases: every place once, every wood."""
ALIKE_PCT = 1e-4
"""Points of moisture content: the file keeps single floats, another machine rounds otherwise."""


class Kind(NamedTuple):
    """Cases of a kind, the model's course of them, and their fine reference."""

    name: str
    cases: Cases
    course: Course
    fine: Fine


def by_model(cases: Cases) -> Course:
    start = State.green(cases.start_mc, cases.drivers.air_temp_c[0])
    return simulate(cases.boards, cases.drivers, start)


@pytest.fixture(scope="module", params=range(len(KINDS)), ids=KINDS)
def kind(request: pytest.FixtureRequest) -> Kind:
    """Return the made cases, then the drawn ones."""
    cases = all_cases()[request.param]
    name = f"{len(cases.names)} {KINDS[request.param]} cases"
    return Kind(name, cases, by_model(cases), frozen()[request.param])


# --- the fine reference ---------------------------------------------------------------------


def test_the_fine_reference_was_made_from_just_these_cases(kind: Kind) -> None:
    """If it fails, make the reference anew: `tests.published.fine_reference` says how."""
    np.testing.assert_allclose(fingerprint(kind.cases), kind.fine.fingerprint, rtol=1e-9)


def test_the_fine_reference_is_what_the_models_equations_come_to_today() -> None:
    """If it fails, make the reference anew, once you know why the model moved."""
    mc_pct, shell_mc_pct = solve_finely(made_cases(), LIVE_H)

    fine = frozen()[0]
    times = LIVE_H // EVERY_H + 1
    np.testing.assert_allclose(fine.mc_pct[:times], mc_pct[::EVERY_H], atol=ALIKE_PCT, rtol=0)
    np.testing.assert_allclose(
        fine.shell_mc_pct[:times], shell_mc_pct[::EVERY_H], atol=ALIKE_PCT, rtol=0
    )


def test_average_moisture_is_within_a_tenth_of_a_point_of_the_fine_reference_for_16_days(
    kind: Kind, against: Against
) -> None:
    ours = 100.0 * kind.course.mc[::EVERY_H]
    against.value(f"MC %, {kind.name}, 16 d", OURS_FINE, ours, kind.fine.mc_pct, 0.1)


def test_the_outer_millimeter_is_within_half_a_point_of_the_fine_reference_or_one_if_thick(
    kind: Kind, against: Against
) -> None:
    """From day 1. In boards over 5/4 the outer cells are wide, and a few make the millimeter.

    It decides over a warning in the first three days, where 6 points are a whole limit.
    """
    thin = kind.cases.boards.half_thickness_m < THIN_M

    against.value(
        f"outer 1 mm MC %, {kind.name}, from day 1",
        OURS_FINE,
        100.0 * kind.course.shell_mc[24::EVERY_H],
        kind.fine.shell_mc_pct[24 // EVERY_H :],
        np.where(thin, THIN_WITHIN, THICK_WITHIN),
    )


# --- other solvers --------------------------------------------------------------------------


def test_an_independent_solver_comes_to_the_same_moisture_every_hour_of_three_days(
    kind: Kind, against: Against
) -> None:
    """Model and fine reference share their code; this solver was written from the equations.

    Its own tolerance and nodes, in the first night's steep face, are good to 0.02 point of the
    mean and 0.2 point of the outer millimeter.
    """
    everyone = np.arange(len(kind.cases.names))
    means, shells = method_of_lines(kind.cases.some(everyone, BDF_H))

    ours, times = 100.0 * kind.course.mc[: BDF_H + 1], slice(24 // EVERY_H, BDF_H // EVERY_H + 1)
    against.value(f"MC %, {kind.name}, 3 d, hourly", BDF, ours, means, 0.1)
    for what, fine, theirs, within in (
        ("MC %", kind.fine.mc_pct, means, 0.02),
        ("outer 1 mm MC %", kind.fine.shell_mc_pct, shells, 0.2),
    ):
        name = f"{what} of the fine reference, {kind.name}, days 1 to 3"
        against.value(name, BDF, fine[times], theirs[::EVERY_H][times], within)


def test_a_general_purpose_library_comes_to_the_same_moisture_every_hour_of_a_day(
    against: Against,
) -> None:
    """FiPy's own first-order steps stray by 0.04 point themselves, less the shorter they are."""
    cases = made_cases().some(EVERY_KIND, 24)
    theirs = by_fipy(cases, Grid(cells=60, spread=1.06, steps=8))

    ours = 100.0 * by_model(cases).mc
    against.value(f"MC %, {len(EVERY_KIND)} made cases, 1 d, hourly", FIPY, ours, theirs, 0.1)


# --- water, and convergence -----------------------------------------------------------------


def test_a_wet_board_loses_to_a_billionth_what_changing_air_takes_from_it(
    against: Against,
) -> None:
    """Its face stays saturated and its temperature settles in a moment, so the stream is known.

    Each hour's is worked out here from the air alone, by SciPy's root of the balance of heat.
    """
    hours, heat, temp_c = 48, 1e6, 20.0
    half, density = 0.0143, 560.0
    boards = Boards(np.array([half]), np.array([density]), np.array([1e-7]))
    mild = steady_air(hours, temp_c, 0.5, np.array([heat]), np.array([0.002]))
    damper = np.linspace(0.6, 1.8, hours)[:, None]
    air = Drivers(**vars(mild) | {"vapor_pressure_pa": mild.vapor_pressure_pa * damper})

    def leaving(wood_c: float, vapor_pa: float) -> float:
        conductance = 0.002 / (VAPOR_GAS_CONSTANT * (temp_c + 273.15))
        return conductance * (float(saturation_pressure_pa(wood_c)) - vapor_pa)

    def surplus(wood_c: float, vapor_pa: float) -> float:
        return heat * (temp_c - wood_c) - LATENT_HEAT * leaving(wood_c, vapor_pa)

    streams = []
    for vapor_pa in air.vapor_pressure_pa[:, 0]:
        wood_c = brentq(surplus, temp_c - 1.0, temp_c + 1.0, args=(vapor_pa,), xtol=1e-13)
        streams.append(leaving(wood_c, vapor_pa))

    course = simulate(boards, air, State.green(np.array([2.0]), np.array([temp_c])))

    against.value(
        "water lost by a wet board, kg/kg",
        "stream from the air alone, SciPy brentq",
        2.0 - course.mc[-1, 0],
        sum(streams) * 3600.0 / (density * half),
        1e-9,
    )


def test_water_that_a_wrong_solution_would_make_or_lose_is_an_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    right: Callable[..., Array] = solver._tridiagonal  # noqa: SLF001 - to spoil it a little

    monkeypatch.setattr(solver, "_tridiagonal", lambda *system: 1.001 * right(*system))

    with pytest.raises(ArithmeticError, match="lost or made water"):
        by_model(made_cases().some(EVERY_KIND, 1))


def test_a_step_that_does_not_converge_is_an_error_and_no_answer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(solver, "TOLERANCE_MC", 0.0)  # which no change is below

    with pytest.raises(ArithmeticError, match="does not converge"):
        by_model(made_cases().some(EVERY_KIND, 24))


def test_a_hundred_times_tighter_tolerances_move_no_moisture_by_a_fiftieth_of_a_point(
    kind: Kind, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("TOLERANCE_MC", "TOLERANCE_K", "TOLERANCE_RH"):
        monkeypatch.setattr(solver, name, getattr(solver, name) / 100.0)

    tight = by_model(kind.cases)

    assert not np.array_equal(tight.mc, kind.course.mc)
    np.testing.assert_allclose(tight.mc, kind.course.mc, atol=2e-4, rtol=0)
