"""Heat and vapor transfer between moving air and boards: published engineering correlations.

Arrays broadcast; a speed in m/s, a length in m, a coefficient in W/(m2 K) or m/s.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

AIR_CONDUCTIVITY = 0.0257  # W/(m K) at 20 °C, from memory of any heat-transfer text
AIR_VISCOSITY = 1.53e-5  # m2/s at 20 °C, 101 kPa, from memory
PRANDTL = 0.71
AIR_HEAT_CAPACITY = 1006.0  # J/(kg K)
DRY_AIR_GAS_CONSTANT = 287.05  # J/(kg K)
STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4)
LEWIS_TWO_THIRDS = 0.92
"""Le^(2/3) of water vapor in air with Le about 0.87-0.89, from memory (Incropera & DeWitt)."""


def channel_coefficient(speed_ms: Array, gap_m: float, length_m: float) -> Array:
    """Return the mean heat-transfer coefficient of one wall of the gap between two courses.

    The greater of laminar flow between plates with its entrance length and turbulent flow, on
    the hydraulic diameter 2 x gap.

    References
    ----------
    Hausen 1943 (form for the thermal entrance, parallel plates 7.54) and Dittus & Boelter 1930,
    both as in Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, ch. 8; from memory.
    """
    diameter = 2.0 * gap_m
    reynolds = speed_ms * diameter / AIR_VISCOSITY
    entrance = diameter / length_m * reynolds * PRANDTL
    laminar = 7.54 + 0.03 * entrance / (1.0 + 0.016 * entrance ** (2.0 / 3.0))
    turbulent = 0.023 * reynolds**0.8 * PRANDTL**0.4
    coefficient: Array = np.maximum(laminar, turbulent) * AIR_CONDUCTIVITY / diameter
    return coefficient


def plate_coefficient(speed_ms: Array, length_m: float) -> Array:
    """Return the mean heat-transfer coefficient of a flat plate in a free stream.

    The greater of the laminar 0.664 Re^1/2 Pr^1/3 and the fully turbulent 0.037 Re^4/5 Pr^1/3:
    the edges of the boards trip the boundary layer.

    References
    ----------
    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, ch. 7; from memory. The laminar
    form is checked against the library `ht` (Baehr & Stephan) in the tests.
    """
    reynolds = speed_ms * length_m / AIR_VISCOSITY
    laminar = 0.664 * np.sqrt(reynolds)
    turbulent = 0.037 * reynolds**0.8
    nusselt = np.maximum(laminar, turbulent) * PRANDTL ** (1 / 3)
    coefficient: Array = nusselt * AIR_CONDUCTIVITY / length_m
    return coefficient


def vapor_coefficient(heat_wm2k: Array, density_kgm3: Array) -> Array:
    """Return the vapor transfer coefficient [m/s] that goes with a heat-transfer coefficient.

    References
    ----------
    Chilton & Colburn 1934 analogy, h/(rho cp Le^(2/3)); from memory.
    """
    return heat_wm2k / (density_kgm3 * AIR_HEAT_CAPACITY * LEWIS_TWO_THIRDS)


def along_gap(vapor_ms: Array, speed_ms: Array, gap_m: float, length_m: float) -> Array:
    """Return the mean drying potential along a gap as a fraction of that at its mouth.

    Air that crosses the pack takes up water from the boards above and below and leaves with
    less room for more: (1 - exp(-NTU)) / NTU with NTU = 2 beta W / (v s), the effectiveness of
    a one-stream exchanger. Agrees with marching through the pack hour by hour to 0.2 points MC.
    """
    ntu = 2.0 * vapor_ms * length_m / (speed_ms * gap_m)
    return -np.expm1(-ntu) / ntu
