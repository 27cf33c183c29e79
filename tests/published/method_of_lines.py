"""An independent solver of the drying model's equations, and hard cases for both.

Written from the equations, not from the model: nodes on the face and between instead of cells,
the face's humidity from the face's own moisture, and SciPy's BDF instead of fixed steps. Shared
are only the material coefficients.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.integrate import solve_ivp
from scipy.sparse import eye_array, kron, lil_array
from tests.published.lumber import GREENSBORO, OPEN, ROOFED, Array, boards_of, column

from drywind.climate.stack_air import Board, Drivers, stack_air
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import emc
from drywind.wood.diffusion import potential_and_slope, temperature_factor
from drywind.wood.drying import SHELL_M, Boards

NODES, SPREAD = 70, 1.08


class Air(NamedTuple):
    """One hour of drivers, each of shape (boards,)."""

    temp_c: Array
    vapor_pa: Array
    heat: Array
    conductance: Array
    gain: Array
    sky_view: Array


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
    boards: Boards,
    drivers: Drivers,
    start_mc: Array,
    *,
    nodes: int = NODES,
    spread: float = SPREAD,
) -> tuple[Array, Array]:
    """Return mean and outer-millimeter moisture content by the hour, in percent.

    Each gap between two of the `nodes` is `spread` times as wide as the one before it.
    """
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
        heat = air.heat * (air.temp_c - temp) + air.gain - 2.45e6 * leaving
        heat -= air.sky_view * 5.670374e-8 * (temp + 273.15) ** 4
        water = (mc * widths).sum(0) * density
        warming = heat / (1300.0 * density * half + 4186.0 * water)
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
        temp = drivers.air_temp_c[i]
        hour = Air(
            temp,
            drivers.vapor_pressure_pa[i],
            drivers.heat_wm2k[i],
            drivers.vapor_ms[i] / (461.5 * (temp + 273.15)),
            drivers.sun_wm2[i] + drivers.sky_wm2[i],
            drivers.sky_view[i],
        )
        solution = solve_ivp(
            rate,
            (0.0, 3600.0),
            state.ravel(),
            method="BDF",
            args=hour,
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


def spell(peak_c: float, swing_k: float, rh: tuple[float, float], wind_ms: float) -> pd.DataFrame:
    """Return 16 days, warmest, driest and windiest at 15:00 (20:00 UTC), without a cloud."""
    hours = pd.date_range("2026-07-01T05:00Z", periods=16 * 24, freq="h", name="time_utc")
    cycle = np.cos(2 * np.pi * (hours.hour.to_numpy() - 20) / 24)
    values = {
        "temp_c": peak_c - swing_k * (1.0 - cycle),
        "rh": rh[0] + (rh[1] - rh[0]) * 0.5 * (1.0 - cycle),
        "wind_ms": wind_ms * (0.75 + 0.25 * cycle),
        "wind_dir_deg": 270.0,
        "ghi_wm2": np.nan,
        "cloud": 0.0,
    }
    return pd.DataFrame(values, index=hours)


HOT, COLD = spell(35.0, 7.0, (0.25, 0.60), 5.0), spell(5.0, 5.0, (0.40, 0.80), 6.0)
DAMP, FROST = spell(27.0, 5.0, (0.70, 0.98), 1.0), spell(-3.0, 6.0, (0.50, 0.95), 3.0)
CASES = {
    "red oak, top course in the heat": ("red_oak", "4/4", HOT, OPEN, Board.TOP),
    "red oak, windward edge in the heat": ("red_oak", "4/4", HOT, ROOFED, Board.EDGE),
    "yellow-poplar, windward edge in the heat": ("yellow_poplar", "4/4", HOT, ROOFED, Board.EDGE),
    "red oak, windward edge in the cold": ("red_oak", "4/4", COLD, ROOFED, Board.EDGE),
    "yellow-poplar, inside in the cold": ("yellow_poplar", "4/4", COLD, ROOFED, Board.TYPICAL),
    "white oak 8/4, windward edge in the heat": ("white_oak", "8/4", HOT, ROOFED, Board.EDGE),
    "white oak 8/4, inside in the damp": ("white_oak", "8/4", DAMP, ROOFED, Board.TYPICAL),
    "red oak, top course in frost": ("red_oak", "4/4", FROST, OPEN, Board.TOP),
}


def made_cases() -> tuple[Boards, Drivers, Array]:
    """Return the cases as boards, their air, and their green moisture content."""
    boards, green = boards_of([(name, size) for name, size, *_ in CASES.values()])
    air = [
        column(stack_air(weather, GREENSBORO, setup), board)
        for _, _, weather, setup, board in CASES.values()
    ]
    return boards, Drivers.beside(air), green
