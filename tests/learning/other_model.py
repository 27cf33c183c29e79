"""Wood that dries by another law than the model's, to learn from.

Fick's law in moisture content with a coefficient that keeps rising with moisture all the way to
green, on even cells, and a face that gives off water in proportion to how far its moisture content
lies above equilibrium (a surface emission coefficient): a form in common use for lumber (Simpson
and Hart 2000, FPL-GTR-121, from memory). Nothing is shared with the model but the equilibrium
moisture content of air.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Drivers
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.emc import emc_fraction_and_slope

Array = NDArray[np.float64]

CELLS = 24
SLOPE = 2.2
"""Of ln D with moisture content, at any."""
WARMTH_K = 5280.0
"""E/R; Simpson's value (from memory)."""
EMISSION = 4.0e-5
"""Surface emission coefficient over the vapor transfer coefficient."""


@dataclass(frozen=True)
class OtherWood:
    """Boards of the other law; arrays of shape (boards,). Diffusion is at 20 °C and 30 % MC."""

    half_m: Array
    diffusion: Array
    green_mc: Array


def dry(wood: OtherWood, air: Drivers, hours: int) -> Array:
    """Return mean moisture content by the hour, a fraction, shape (hours + 1, boards)."""
    width = wood.half_m / CELLS
    mc = np.tile(wood.green_mc, (CELLS, 1))
    means = [mc.mean(0)]
    for hour in range(hours):
        temp = air.air_temp_c[hour]
        humid = air.vapor_pressure_pa[hour] / saturation_pressure_pa(temp)
        goal, _ = emc_fraction_and_slope(temp, np.clip(humid, 0.0, 0.99))
        warmth = np.exp(-WARMTH_K * (1.0 / (temp + 273.15) - 1.0 / 293.15))
        through = wood.diffusion * warmth * np.exp(SLOPE * (mc - 0.30))
        between = 0.5 * (through[1:] + through[:-1]) / width
        emission = EMISSION * air.vapor_ms[hour]
        face = 1.0 / (1.0 / emission + 0.5 * width / through[0])
        mc = _implicit(mc, between, face, goal, width)
        means.append(mc.mean(0))
    return np.array(means)


def _implicit(mc: Array, between: Array, face: Array, goal: Array, width: Array) -> Array:
    """Take one hour by backward Euler, by elimination down and back up the cells."""
    share = 3600.0 / width
    flow = share * between
    out = share * face
    diagonal = np.ones_like(mc)
    diagonal[:-1] += flow
    diagonal[1:] += flow
    diagonal[0] += out
    right = mc.copy()
    right[0] += out * goal
    for i in range(1, CELLS):
        factor = -flow[i - 1] / diagonal[i - 1]
        diagonal[i] += factor * flow[i - 1]
        right[i] -= factor * right[i - 1]
    right[-1] /= diagonal[-1]
    for i in range(CELLS - 2, -1, -1):
        right[i] = (right[i] + flow[i] * right[i + 1]) / diagonal[i]
    return right
