"""An independent solver of the drying model's equations.

Written from the equations, not from the model: nodes on the face and between instead of cells,
the face's humidity from the face's own moisture, and SciPy's BDF instead of fixed steps. Shared
are only the material coefficients.
"""

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import eye_array, kron, lil_array
from tests.published.cases import (
    LATENT_HEAT,
    STEFAN_BOLTZMANN,
    WATER_HEAT_CAPACITY,
    WOOD_HEAT_CAPACITY,
    Air,
    Cases,
)
from tests.published.lumber import Array

from drywind.weather.air import saturation_pressure_pa
from drywind.wood import emc
from drywind.wood.diffusion import potential_and_slope, temperature_factor
from drywind.wood.drying import SHELL_M

NODES, SPREAD = 70, 1.08


def face_rh(mc: Array, temp_c: Array) -> Array:
    """Return the humidity at which wood of this moisture content is in equilibrium, at most 1."""
    at = emc.coefficients(temp_c)
    table, _ = emc.isotherm(at, np.linspace(0.0, 1.0, 41)[:, None])
    below = np.clip((table <= mc).sum(0) - 1, 0, 39)
    low, high = table[[below, below + 1], np.arange(len(mc))]
    rh = (below + (mc - low) / (high - low)) / 40.0
    for _ in range(2):
        moisture, slope = emc.isotherm(at, np.clip(rh, 0.0, 1.0))
        rh = rh - (moisture - mc) / slope
    return np.where(mc >= table[-1], 1.0, np.clip(rh, 0.0, 1.0))


def method_of_lines(
    cases: Cases, nodes: int = NODES, spread: float = SPREAD
) -> tuple[Array, Array]:
    """Return mean and outer-millimeter moisture content by the hour, in percent.

    Each gap between two of the `nodes` is `spread` times as wide as the one before it.
    """
    boards, drivers, start_mc = cases.boards, cases.drivers, cases.start_mc
    half, density, count = boards.half_thickness_m, boards.density_kgm3, len(start_mc)
    gaps = spread ** np.arange(nodes - 1.0)
    gaps = np.outer(gaps / gaps.sum(), half)
    widths = 0.5 * (np.pad(gaps, ((1, 0), (0, 0))) + np.pad(gaps, ((0, 1), (0, 0))))
    depth = np.pad(np.cumsum(gaps, axis=0), ((1, 0), (0, 0)))

    def rate(_seconds: float, flat: Array, *hour: Array) -> Array:
        air = Air(*hour)
        state = flat.reshape(nodes + 1, count)
        mc, temp = state[:-1], np.clip(state[-1], -60.0, 90.0)
        potential, _ = potential_and_slope(mc)
        inner = boards.diffusivity_m2s * temperature_factor(temp) * np.diff(potential, axis=0)
        inner /= gaps
        leaving = air.conductance * (
            face_rh(mc[0], temp) * saturation_pressure_pa(temp) - air.vapor_pa
        )
        change = np.zeros_like(mc)
        change[:-1] += inner
        change[1:] -= inner
        change[0] -= leaving / density
        heat = air.heat * (air.temp_c - temp) + air.gain - LATENT_HEAT * leaving
        heat -= air.sky_view * STEFAN_BOLTZMANN * (temp + 273.15) ** 4
        water = (mc * widths).sum(0) * density
        warming = heat / (WOOD_HEAT_CAPACITY * density * half + WATER_HEAT_CAPACITY * water)
        return np.concatenate([change / widths, warming[None]]).ravel()

    pattern = lil_array((nodes + 1, nodes + 1))
    pattern.setdiag(1)
    pattern[:-2, 1:-1] += eye_array(nodes - 1)
    pattern[1:-1, :-2] += eye_array(nodes - 1)
    pattern[:, -1] = 1
    pattern[-1, 0] = 1
    sparsity = kron(pattern, eye_array(count)).tocsc()
    tolerance = np.full((nodes + 1, count), 1e-5)
    tolerance[-1] = 1e-2
    state = np.concatenate([np.tile(start_mc, (nodes, 1)), drivers.air_temp_c[:1]])
    means, shells = [start_mc], [start_mc]
    millimeter = np.linspace(0.0, SHELL_M, 101)
    for i in range(len(drivers.air_temp_c)):
        solution = solve_ivp(
            rate,
            (0.0, 3600.0),
            state.ravel(),
            method="BDF",
            args=Air.of(drivers, i),
            rtol=1e-3,
            atol=tolerance.ravel(),
            jac_sparsity=sparsity,
            first_step=100.0 if i else 20.0,
        )
        assert solution.success
        state = solution.y[:, -1].reshape(nodes + 1, count)
        means.append((state[:-1] * widths).sum(0) / half)
        outer = [np.interp(millimeter, depth[:, j], state[:-1, j]) for j in range(count)]
        shells.append(np.trapezoid(outer, millimeter, axis=1) / SHELL_M)
    return 100.0 * np.array(means), 100.0 * np.array(shells)
