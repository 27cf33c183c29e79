"""How fast water moves inside a board, across the grain.

One relation serves every wood: bound-water diffusion after Siau, a slope with moisture content,
an Arrhenius factor, and one multiplier a species, fitted to published air-drying times.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FIBER_SATURATION = 0.30
"""Mean of many woods; single ones lie several points off (Wood Handbook FPL-GTR-190 ch. 4)."""

MOISTURE_SLOPE = 8.4
"""Of ln D with MC below fiber saturation: a fit to Siau's wall-and-lumen model. Simpson's aspen at
110 °F rises eightfold from 2.5 to 18 % MC (abstract seen), a slope of 13.4."""

ACTIVATION_K = 4600.0
"""E/R in kelvin (assumption, 3600 to 5300): Siau's (38500 - 290 M)/8.314 is 3600 to 4300, the red
oak of Tschernitz & Simpson 1979, Wood Science 11:202, comes to about 3800, and the form that
Simpson & Hart 2000, FPL-GTR-121, use has 5280 (from memory). Published oak stacked in January
takes 2.5 times as long as in June, which asks for the upper end."""

REFERENCE_K = 293.15

ICE_MOBILITY = 1e-3
"""Ice does not move; the rest is for the arithmetic (in a winter less than 0.01 point)."""


def transverse_diffusivity(basic_specific_gravity: float) -> float:
    """Return Siau's diffusion coefficient across the grain at 20 °C and fiber saturation [m2/s].

    Published hardwoods are several times slower (tyloses, low permeability): hence the species
    multiplier.

    References
    ----------
    Siau 1984, Transport Processes in Wood: D_bt = 7e-6 exp(-(38500 - 290 M) / (8.314 T)), M in
    percent; D = D_bt / ((1 - v)(1 - sqrt v)), v = 1 - G (0.667 + 0.01 M); from memory.
    """
    moisture_pct = 100.0 * FIBER_SATURATION
    bound = 7e-6 * np.exp(-(38500.0 - 290.0 * moisture_pct) / (8.314 * REFERENCE_K))
    porosity = 1.0 - basic_specific_gravity * (0.667 + 0.01 * moisture_pct)
    return float(bound / ((1.0 - porosity) * (1.0 - np.sqrt(porosity))))


def temperature_factor(temp_c: Array) -> Array:
    """Return D(T) / D(20 °C)."""
    factor: Array = np.exp(-ACTIVATION_K * (1.0 / (temp_c + 273.15) - 1.0 / REFERENCE_K))
    return factor


def potential_and_slope(mc: Array, mobility: Array | None = None) -> tuple[Array, Array]:
    """Return the Kirchhoff potential of moisture content, and its slope D(m)/D(fiber saturation).

    The potential is the integral of relative D over m, so that a flux is the difference of
    potentials even across a coarse cell.

    Parameters
    ----------
    mobility
        Of free water, relative, of the shape of one row of `mc`; it is `ICE_MOBILITY` in frozen
        wood. Bound water is not affected: its diffusion falls with temperature alone.
    """
    above = mc - FIBER_SATURATION
    slope = np.minimum(above, 0.0)
    above -= slope
    slope *= MOISTURE_SLOPE
    np.exp(slope, out=slope)
    if mobility is not None and mobility.min() < 1.0:
        bound = slope / MOISTURE_SLOPE
        slope = np.where(above > 0.0, mobility, slope)
        return bound + above * mobility, slope
    above += slope * (1.0 / MOISTURE_SLOPE)
    return above, slope
