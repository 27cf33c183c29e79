"""Boards of named woods, the yard they dry in, and air that never changes."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers
from drywind.units import Thickness
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.diffusion import transverse_diffusivity
from drywind.wood.drying import Boards
from drywind.wood.species import find_species
from drywind.yard import Measure, Setup, Site

Array = NDArray[np.float64]

GREENSBORO = Site("yard", 36.1, -79.95, 273.0)
OPEN, ROOFED = Setup("yard"), Setup("yard", measures=frozenset({Measure.PILE_ROOF}))


def boards_of(woods: Sequence[tuple[str, str]]) -> tuple[Boards, Array]:
    """Return boards of (species, thickness) and their green moisture content."""
    kinds = [find_species(name) for name, _ in woods]
    gravity = [k.basic_specific_gravity for k in kinds]
    return (
        Boards(
            np.array([Thickness.parse(size).green_m / 2 for _, size in woods]),
            1000.0 * np.array(gravity),
            np.array(
                [
                    k.diffusion_multiplier * transverse_diffusivity(g)
                    for k, g in zip(kinds, gravity, strict=True)
                ]
            ),
        ),
        np.array([k.green_mc_pct for k in kinds]) / 100.0,
    )


def steady_air(hours: int, temp_c: float, rh: float, heat_wm2k: Array, vapor_ms: Array) -> Drivers:
    """Return shaded air that never changes, at boards of these transfer coefficients."""

    def constant(value: float | Array) -> Array:
        return np.broadcast_to(value, (hours, len(vapor_ms))).astype(float)

    vapor_pa = rh * float(saturation_pressure_pa(temp_c))
    dark = constant(0.0)
    return Drivers(
        constant(temp_c), constant(vapor_pa), constant(heat_wm2k), constant(vapor_ms), *[dark] * 4
    )


def column(drivers: Drivers, board: Board) -> Drivers:
    """Return the air at one board of a stack."""
    at = list(Board).index(board)
    return Drivers(**{name: array[:, [at]] for name, array in vars(drivers).items()})
