"""Transfer coefficients against a public library, an exact problem solved here, and handbooks.

The numbers of `ht` (1.2.0, with properties of moist air at 25 °C, 60 % from CoolProp 8.0.0) were
computed once and are frozen: drywind takes its air at 20 °C, which is worth 1 to 2 %.
"""

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import eigh

from drywind.climate.transfer import (
    AIR_CONDUCTIVITY,
    AIR_HEAT_CAPACITY,
    AIR_VISCOSITY,
    PRANDTL,
    along_gap,
    channel_coefficient,
    plate_coefficient,
    vapor_coefficient,
)

Array = NDArray[np.float64]

INCH = 0.0254
DENSITY = 1.184  # kg/m3, dry air at 25 °C and 101,325 Pa


@cache
def graetz() -> tuple[Array, Array]:
    """Return decay rates and weights of the bulk temperature between plates of one temperature.

    The Graetz problem, u(y) dT/dx = a d2T/dy2 with a parabolic u, on 400 cells from the middle to
    the wall; exact but for the grid.
    """
    count = 400
    y = (np.arange(count) + 0.5) / count
    stiffness = 2.0 * np.eye(count) - np.eye(count, k=1) - np.eye(count, k=-1)
    stiffness[0, 0], stiffness[-1, -1] = 1.0, 3.0
    flow = 1.0 - y**2
    rates, shapes = eigh(stiffness * count**2, np.diag(flow))
    weights = (flow @ shapes) ** 2
    return rates, weights / weights.sum()


def graetz_nusselt(number: float) -> float:
    """Return the mean Nusselt number over a length of this Graetz number, on 2 x the gap."""
    rates, weights = graetz()
    bulk = weights @ np.exp(-rates * 16.0 / (1.5 * number))
    return float(-np.log(bulk) * number / 4.0)


def channel_nusselt(speed_ms: float, gap_m: float, length_m: float) -> float:
    coefficient = channel_coefficient(np.array([speed_ms]), gap_m, length_m)
    return float(coefficient[0]) * 2.0 * gap_m / AIR_CONDUCTIVITY


def plate_wm2k(speed_ms: float, length_m: float) -> float:
    return float(plate_coefficient(np.array([speed_ms]), length_m)[0])


def test_between_plates_far_downstream_the_nusselt_number_is_7_54() -> None:
    """Any heat-transfer text, parallel plates of one temperature: 7.541 (from memory)."""
    rates, _ = graetz()

    assert 8.0 / 3.0 * rates[0] == pytest.approx(7.541, abs=0.002)
    assert channel_nusselt(0.05, INCH, 1000.0) == pytest.approx(7.541, abs=0.002)


@pytest.mark.parametrize("number", [1.0, 10.0, 30.0, 100.0, 300.0, 1000.0])
def test_near_the_mouth_of_a_gap_it_is_that_of_the_graetz_problem(number: float) -> None:
    """Within 3 %: Hausen's form is a fit. The gaps of a stack lie between about 1 and 300."""
    speed_ms = 0.5
    reynolds = speed_ms * 2.0 * INCH / AIR_VISCOSITY
    length_m = 2.0 * INCH * reynolds * PRANDTL / number

    assert channel_nusselt(speed_ms, INCH, length_m) == pytest.approx(
        graetz_nusselt(number), rel=0.03
    )


@pytest.mark.parametrize(("reynolds", "nusselt"), [(1e4, 31.786), (2e4, 55.342)])
def test_a_fast_long_gap_is_turbulent_as_ht_has_it(reynolds: float, nusselt: float) -> None:
    """`ht.conv_internal.turbulent_Dittus_Boelter(Re, 0.71)`."""
    speed_ms = reynolds * AIR_VISCOSITY / (2.0 * INCH)

    assert channel_nusselt(speed_ms, INCH, 100.0) == pytest.approx(nusselt, rel=1e-3)


@pytest.mark.parametrize(("speed_ms", "length_m", "wm2k"), [(1.0, 0.2, 8.80), (0.5, 0.2, 6.22)])
def test_over_a_short_board_the_flow_is_laminar_as_ht_has_it(
    speed_ms: float, length_m: float, wm2k: float
) -> None:
    """`ht.conv_external.Nu_horizontal_plate_laminar_Baehr`."""
    assert plate_wm2k(speed_ms, length_m) == pytest.approx(wm2k, rel=0.02)


def test_over_a_whole_pack_it_is_turbulent_as_ht_has_it() -> None:
    """`ht.conv_external.Nu_horizontal_plate_turbulent_Schlichting(156863, 0.711)`.

    The plain 0.037 Re^0.8 Pr^(1/3) lies 7 % above that form; the laminar one would be 235.
    """
    reynolds = 2.0 * 1.2 / AIR_VISCOSITY
    nusselt = plate_wm2k(2.0, 1.2) * 1.2 / AIR_CONDUCTIVITY

    assert reynolds == pytest.approx(156863, abs=1.0)
    assert nusselt == pytest.approx(443.79, rel=0.07)


@pytest.mark.parametrize(("wm2k", "mm_s"), [(8.80, 8.16), (6.22, 5.77), (5.08, 4.71)])
def test_vapor_goes_with_heat_by_the_lewis_relation(wm2k: float, mm_s: float) -> None:
    """Worked by hand with Sc 0.609 and Pr 0.711, CoolProp's air at 25 °C, 60 %: within 2 %."""
    coefficient = vapor_coefficient(np.array([wm2k]), np.array([DENSITY]))

    assert 1000.0 * coefficient[0] == pytest.approx(mm_s, rel=0.02)
    assert wm2k / (coefficient[0] * DENSITY * AIR_HEAT_CAPACITY) == pytest.approx(
        (0.609 / 0.711) ** (2 / 3), rel=0.025
    )


def test_fast_air_keeps_its_room_for_water_and_slow_air_fills_up_and_carries_it_off() -> None:
    """The limits of a one-stream exchanger, from memory of any text: 1, and 1/NTU."""
    vapor_ms, width_m = np.array([0.005]), 1.2

    fast = along_gap(vapor_ms, np.array([1e4]), INCH, width_m)
    slow = along_gap(vapor_ms, np.array([0.01]), INCH, width_m)

    assert fast[0] == pytest.approx(1.0, abs=1e-4)
    carried = 0.01 * INCH / (2.0 * width_m)
    assert vapor_ms[0] * slow[0] == pytest.approx(carried, rel=1e-6)


def test_the_mean_along_a_gap_is_that_of_marching_through_it() -> None:
    vapor_ms, speed_ms, width_m, steps = 0.004, 0.25, 1.2, 20000
    room = np.empty(steps)
    left = 1.0
    for i in range(steps):
        room[i] = left
        left -= 2.0 * vapor_ms * left * (width_m / steps) / (speed_ms * INCH)

    mean = along_gap(np.array([vapor_ms]), np.array([speed_ms]), INCH, width_m)

    assert mean[0] == pytest.approx(room.mean(), rel=1e-3)
