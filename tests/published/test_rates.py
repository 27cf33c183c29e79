"""How fast water moves inside a board, against measured rates and published formulas.

A check that fails is kept as an expected failure with its reason: the model trades it for drying
times outdoors (`test_drying_times`), which are what it is for.
"""

import numpy as np
import pytest
from tests.published.conftest import Against
from tests.published.lumber import Array, steady_air

from drywind.climate.transfer import DRY_AIR_GAS_CONSTANT, vapor_coefficient
from drywind.units import INCH_M, fahrenheit_to_c
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import emc
from drywind.wood.diffusion import (
    potential_and_slope,
    temperature_factor,
    transverse_diffusivity,
)
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.species import find_species

MMHG_PA = 133.322

KILN = (
    "Tschernitz and Simpson 1979, Wood Science 11(4):202 (coefficients second-hand: a notebook"
    " that quotes Wikipedia, Wood drying)"
)
SIAU = "Siau 1984, Transport Processes in Wood (equation from memory, worked by hand)"
ASPEN = "Simpson, aspen at 110 F by adsorption, Wood and Fiber Science (abstract seen)"
RED_OAK = "Simpson 1993, Wood Science and Technology 27:409 (abstract seen)"


def kiln_days(temp_c: float, thick_in: float) -> float:
    """Return the time constant of red oak, tau = L^1.52 / (0.0575 + 0.00142 p), p in mmHg."""
    saturation_mmhg = float(saturation_pressure_pa(temp_c)) / MMHG_PA
    return float(thick_in**1.52 / (0.0575 + 0.00142 * saturation_mmhg))


@pytest.mark.parametrize(
    ("temp_f", "thick_in", "days", "tolerance"), [(150, 1.0, 3.03, 0.05), (70, 2.0, 34.1, 0.2)]
)
def test_the_kiln_formula_gives_the_time_constants_worked_from_it_by_hand(
    against: Against, temp_f: int, thick_in: float, days: float, tolerance: float
) -> None:
    """Within half a percent of saturation pressure, in which tables differ."""
    ours = kiln_days(fahrenheit_to_c(temp_f), thick_in)

    against.value(
        f"days, tau of {thick_in:g} in red oak at {temp_f} F", KILN, ours, days, tolerance
    )


@pytest.mark.parametrize("heat_wm2k", [8.0, 15.0])
def test_red_oak_in_a_mild_kiln_follows_tschernitz_and_simpson(
    against: Against, heat_wm2k: float
) -> None:
    """MC after 1, 3, 7, 14 and 28 days of 1 1/8 in at 43.3 °C and 87.5 %, from 80 %.

    Within 6 points: the formula was fitted to boards of unknown air speed and start, and its
    exponential lacks the steep start of a green board. At 27 °C and 65 %, where it may no longer
    hold, the model is 10 points wetter after 28 days.
    """
    temp_c, rh, thick_in, days = 43.3, 0.875, 1.125, np.array([1, 3, 7, 14, 28])
    red_oak = find_species("red_oak")
    gravity = red_oak.basic_specific_gravity
    boards = Boards(
        np.array([thick_in * INCH_M / 2]),
        np.array([1000.0 * gravity]),
        np.array([red_oak.diffusion_multiplier * transverse_diffusivity(gravity)]),
    )
    heat = np.array([heat_wm2k])
    density = np.array([101325.0 / (DRY_AIR_GAS_CONSTANT * (temp_c + 273.15))])
    air = steady_air(28 * 24, temp_c, rh, heat, vapor_coefficient(heat, density))

    course = simulate(boards, air, State.green(np.array([0.80]), np.array([temp_c])))

    least = float(emc.emc_pct(temp_c, rh))
    formula = least + (80.0 - least) * np.exp(-days / kiln_days(temp_c, thick_in))
    np.testing.assert_allclose(formula, [73, 60, 44, 28, 20], atol=0.5)
    what = f"MC of red oak in a mild kiln, {heat_wm2k:g} W/m2K"
    against.value(what, KILN, 100.0 * course.mc[24 * days, 0], formula, 6.0)


# --- diffusion ------------------------------------------------------------------------------


def siau(gravity: float, mc: Array, temp_c: float) -> tuple[Array, Array]:
    """Return Siau's bound-water coefficient and the one across the grain, m2/s."""
    mc_pct = 100.0 * mc
    bound = 7e-6 * np.exp(-(38500.0 - 290.0 * mc_pct) / (8.314 * (temp_c + 273.15)))
    porosity = 1.0 - gravity * (0.667 + 0.01 * mc_pct)
    return bound, bound / ((1.0 - porosity) * (1.0 - np.sqrt(porosity)))


def relative_diffusivity(mc: Array) -> Array:
    """Return the model's D over that at fiber saturation."""
    return potential_and_slope(mc)[1]


def test_the_test_s_own_siau_gives_the_bound_water_coefficients_worked_by_hand(
    against: Against,
) -> None:
    bound, _ = siau(0.56, np.array([0.15, 0.30]), 20.0)

    against.value("1e12 D_bt at 20 C, 15 and 30 % MC", SIAU, 1e12 * bound, [5.75, 34.3], 0.05)


@pytest.mark.parametrize("gravity", [0.32, 0.40, 0.47, 0.51, 0.56, 0.60, 0.64])
def test_diffusion_at_fiber_saturation_is_siaus(against: Against, gravity: float) -> None:
    _, across = siau(gravity, np.array([0.30]), 20.0)

    ours = transverse_diffusivity(gravity)

    against.value(f"1e10 D at 20 C, 30 % MC, G {gravity}", SIAU, 1e10 * ours, 1e10 * across, 0.001)


@pytest.mark.parametrize("gravity", [0.40, 0.56])
def test_diffusion_rises_from_a_dry_to_a_moist_board_as_siaus_does(
    against: Against, gravity: float
) -> None:
    """From 6 to 30 % MC at 43 °C. Within 5 %: an exponential stands for his two paths."""
    mc = np.array([0.06, 0.30])
    dry, moist = siau(gravity, mc, 43.3)[1]
    ours_dry, ours_moist = relative_diffusivity(mc)

    what = f"D at 30 % over D at 6 % MC, G {gravity}"
    against.value(what, SIAU, ours_moist / ours_dry, moist / dry, 0.05 * moist / dry)


def test_diffusion_rises_exponentially_as_in_northern_red_oak(against: Against) -> None:
    """From 6 to 30 % MC at 43 °C, and in beech along the rays (Skaar 1958, abstract seen).

    Along the rings beech hardly changes; one coefficient across the grain cannot show both.
    """
    rise = np.diff(np.log(relative_diffusivity(np.linspace(0.06, 0.30, 5))))

    assert rise.min() > 0.0
    against.value("rise of ln D in each quarter over the first", RED_OAK, rise / rise[0], 1.0, 0.05)


@pytest.mark.xfail(
    reason="the model's D rises 3.7 times: it has Siau's slope, and one half as steep again, with"
    " the multipliers fitted anew, moves drying times by less than a tenth",
    raises=AssertionError,
)
def test_diffusion_rises_eightfold_from_2_5_to_18_percent_as_in_aspen(against: Against) -> None:
    """Within the printed digit."""
    dry, moist = relative_diffusivity(np.array([0.025, 0.18]))

    against.value("D at 18 % over D at 2.5 % MC", ASPEN, moist / dry, 8.0, 0.5)


def test_from_110_to_150_f_red_oak_dries_as_much_faster_as_in_a_kiln(against: Against) -> None:
    """Within 20 %: the formula's time constant also holds the resistance of the air."""
    cool, hot = fahrenheit_to_c(110), fahrenheit_to_c(150)
    theirs = kiln_days(cool, 1.0) / kiln_days(hot, 1.0)
    of_cool, of_hot = temperature_factor(np.array([cool, hot]))

    assert theirs == pytest.approx(6.63 / 3.03, rel=0.01)
    against.value("rate at 150 F over that at 110 F", KILN, of_hot / of_cool, theirs, 0.2 * theirs)
