"""Wood that dries by other laws than the model's, to learn from.

Nothing is shared with the model but the equilibrium moisture content of air, nor with each other;
none knows ice, and in all the wood is as warm as the air. What they hold of diffusion is set
(`yards.LAWS`) so that they take as long to 25 % MC as the model, whose table is fitted to times in
air: within 3 % in the median.

- `dry` is Fick's law in moisture content with a coefficient that keeps rising with moisture all the
  way to green, on even cells, and a face that gives off water in proportion to how far its moisture
  content lies above equilibrium (a surface emission coefficient): a form in common use for lumber
  (Simpson and Hart 2000, FPL-GTR-121, from memory). The priors on the model's errors were chosen
  with it in view. Nothing was chosen with the others in view.
- `dry_by_front` is a shrinking core: a sharp front between green wood and wood below fiber
  saturation goes inward, and all water comes from there through what lies outside of it (Yagi and
  Kunii 1955, from memory).
- `dry_lumped` has no profile at all: the mean goes toward equilibrium at a rate that two
  resistances in a row allow, that of the wood by the linear driving force (Glueckauf 1955,
  Transactions of the Faraday Society 51:1540: 3 D / l2 of a slab, from memory) and that of the
  face. No board begins so slowly: it is there to show where intervals end.
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
"""Surface emission coefficient over the vapor transfer coefficient (assumption)."""


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
        goal, warmth = _goal_and_warmth(air, hour, WARMTH_K)
        through = wood.diffusion * warmth * np.exp(SLOPE * (mc - 0.30))
        between = 0.5 * (through[1:] + through[:-1]) / width
        emission = EMISSION * air.vapor_ms[hour]
        face = 1.0 / (1.0 / emission + 0.5 * width / through[0])
        mc = _implicit(mc, between, face, goal, width)
        means.append(mc.mean(0))
    return np.array(means)


FRONT_MC = 0.30
"""At the front: fiber saturation."""
FRONT_EMISSION = 1.5e-4
"""Surface emission coefficient over the vapor transfer coefficient, of wood below fiber saturation
(assumption)."""
FRONT_WARMTH_K = LUMPED_WARMTH_K = 4000.0
"""E/R, about Siau's (from memory)."""
SLAB = 2.4
"""Of D / l2 of a slab: about that of its slowest mode, pi2 / 4."""


def dry_by_front(wood: OtherWood, air: Drivers, hours: int) -> Array:
    """Return mean moisture content by the hour, as `dry` does."""
    depth, means = np.full_like(wood.half_m, 1e-5), [wood.green_mc]
    for hour in range(hours):
        goal, warmth = _goal_and_warmth(air, hour, FRONT_WARMTH_K)
        through = wood.diffusion * warmth
        resistance = depth / through + 1.0 / (FRONT_EMISSION * air.vapor_ms[hour])
        leaving = 3600.0 * (FRONT_MC - goal) / resistance
        behind = wood.green_mc - 0.5 * (FRONT_MC + goal)
        before_middle = depth < wood.half_m
        depth = np.where(before_middle, depth + np.maximum(leaving, 0.0) / behind, depth)
        rest = (means[-1] - goal) * np.exp(-3600.0 * SLAB * through / wood.half_m**2)
        after = np.where(before_middle, means[-1] - leaving / wood.half_m, goal + rest)
        means.append(after)
    return np.array(means)


LUMPED_EMISSION = 1.2e-4
"""Surface emission coefficient over the vapor transfer coefficient (assumption)."""


def dry_lumped(wood: OtherWood, air: Drivers, hours: int) -> Array:
    """Return mean moisture content by the hour, as `dry` does."""
    means = [wood.green_mc]
    for hour in range(hours):
        goal, warmth = _goal_and_warmth(air, hour, LUMPED_WARMTH_K)
        inside = wood.half_m**2 / (3.0 * wood.diffusion * warmth)
        face = wood.half_m / (LUMPED_EMISSION * air.vapor_ms[hour])
        means.append(goal + (means[-1] - goal) * np.exp(-3600.0 / (inside + face)))
    return np.array(means)


def _goal_and_warmth(air: Drivers, hour: int, warmth_k: float) -> tuple[Array, Array]:
    """Return equilibrium moisture content in an hour, and diffusion over that at 20 °C."""
    temp = air.air_temp_c[hour]
    humid = air.vapor_pressure_pa[hour] / saturation_pressure_pa(temp)
    goal, _ = emc_fraction_and_slope(temp, np.clip(humid, 0.0, 0.99))
    return goal, np.exp(-warmth_k * (1.0 / (temp + 273.15) - 1.0 / 293.15))


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
