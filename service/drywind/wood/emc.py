"""Equilibrium moisture content: what wood in air of steady temperature and humidity comes to.

The Hailwood-Horrobin sorption model with two hydrates and the coefficients of Simpson (1973),
which also underlie the table of the Wood Handbook. It holds from -1 to 132 °C; below that it is
an extrapolation. It knows no species and no sorption hysteresis: wood on its first drying
settles one or two points of moisture content higher at middling humidity.

References
----------
Simpson, W. T. (1973), Predicting equilibrium moisture content of wood by mathematical models,
Wood and Fiber 5(1), 41-49 (abstract seen). The coefficients for °C as quoted in public code after
Simpson (1998), FPL-RN-0268, and from memory identical.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


class Coefficients(NamedTuple):
    """The model's coefficients at given temperatures, all of the temperatures' shape.

    Attributes
    ----------
    w
        Molar mass of dry wood per sorption site, kg/kmol.
    k
        Equilibrium constant of dissolved water.
    k1, k2
        Equilibrium constants of the first and the second hydrate.
    """

    w: FloatArray
    k: FloatArray
    k1: FloatArray
    k2: FloatArray


def coefficients(temp_c: ArrayLike) -> Coefficients:
    """Return the coefficients at `temp_c` in °C, which a solver needs only once an hour."""
    t = np.asarray(temp_c, dtype=np.float64)
    return Coefficients(
        w=349.0 + t * (1.29 + t * 0.0135),
        k=0.805 + t * (0.000736 - t * 0.00000273),
        k1=6.27 - t * (0.00938 + t * 0.000303),
        k2=1.91 + t * (0.0407 - t * 0.000293),
    )


def isotherm(at: Coefficients, h: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return EMC as a fraction of oven-dry mass, and its slope by relative humidity.

    Parameters
    ----------
    at
        Coefficients at the wood's temperature.
    h
        Relative humidity, 0-1 (not checked), of a shape that broadcasts with them.

    Notes
    -----
    With a = K·h and D = 1 + K1·a + K1·K2·a², the published equation is
    EMC = 18/W · (a/(1-a) + a·D'/D), where D' is dD/da.
    """
    a = at.k * h
    twice_k12 = 2.0 * at.k1 * at.k2
    rise = at.k1 + twice_k12 * a
    hydrates = 1.0 + 0.5 * a * (at.k1 + rise)
    bound = a * rise / hydrates
    free = 1.0 / (1.0 - a)
    per_site = 18.0 / at.w
    emc = per_site * (a * free + bound)
    slope = per_site * at.k * (free * free + (rise * (1.0 - bound) + twice_k12 * a) / hydrates)
    return emc, slope


def emc_fraction_and_slope(temp_c: ArrayLike, h: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return EMC as a fraction and its slope by relative humidity `h` (0-1), at `temp_c` in °C.

    The shapes broadcast; `h` is clipped to 0-1 and NaN passes through.
    """
    return isotherm(coefficients(temp_c), np.clip(np.asarray(h, dtype=np.float64), 0.0, 1.0))


def emc_pct(temp_c: ArrayLike, rh: ArrayLike) -> FloatArray:
    """Return EMC in percent of oven-dry mass.

    Parameters
    ----------
    temp_c
        Temperature in °C, valid from -1 to 132.
    rh
        Relative humidity, clipped to 0-1. The shapes broadcast; NaN in either gives NaN.
    """
    return 100.0 * emc_fraction_and_slope(temp_c, rh)[0]
