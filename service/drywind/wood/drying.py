"""The drying model: moisture through half a board, and the balance of water and heat at its face.

A board dries alike from both faces, so half of it is modeled, from the face (cell 0) to the
middle, with its temperature lumped. Water moves by diffusion in the Kirchhoff potential, a finite
volume scheme on cells that grow inward. At the face the water the wood brings up equals what the
air takes away; where the wood can bring more than the air can take, the face stays wet.

`drywind.wood.solver` takes the steps. Not modeled: shrinkage, loss through end grain, rewetting by
rain, freezing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Drivers
from drywind.wood.solver import Air, Guess, Scheme

Array = NDArray[np.float64]

MODEL_VERSION = 1
"""Raised whenever the same boards and drivers would come out differently."""

CELLS = 20
CELL_GROWTH = 1.16
"""Average MC within about 0.1 point of an independent fine solution over two weeks (tests)."""

BATCH = 2000
"""Boards simulated at once: few enough to stay in the processor's cache."""

SHELL_M = 0.001


@dataclass(frozen=True)
class Boards:
    """What boards are made of; every array has shape (boards,).

    `diffusivity_m2s` is the coefficient at 20 °C and fiber saturation, `density_kgm3` the
    oven-dry mass in a green volume.
    """

    half_thickness_m: Array
    density_kgm3: Array
    diffusivity_m2s: Array

    def some(self, keep: slice) -> "Boards":
        """Return some of the boards."""
        return Boards(
            self.half_thickness_m[keep], self.density_kgm3[keep], self.diffusivity_m2s[keep]
        )

    @property
    def cells_m(self) -> Array:
        """Width of each cell, shape (cells, boards), the face's first."""
        widths = CELL_GROWTH ** np.arange(CELLS)
        return np.outer(widths / widths.sum(), self.half_thickness_m)


@dataclass(frozen=True)
class State:
    """Boards at an instant.

    Attributes
    ----------
    mc
        Moisture content as a fraction, shape (cells, boards).
    temp_c, face_rh
        Temperature, and relative humidity in the wood at the face, shape (boards,).
    """

    mc: Array
    temp_c: Array
    face_rh: Array

    @classmethod
    def green(cls, mc: Array, temp_c: Array) -> "State":
        """Return fresh boards of uniform moisture content `mc` (a fraction)."""
        uniform = np.tile(mc, (CELLS, 1))
        return cls(uniform, temp_c.copy(), np.ones_like(temp_c))

    @classmethod
    def part_dried(cls, boards: "Boards", mc: tuple[float, float], face_mc: Array) -> "State":
        """Return boards at 20 °C that have dried for a while, from green to a mean.

        A front goes inward from the face, at `face_mc` if that is drier, with a parabola behind it
        and green wood before it; once it has met the middle, the middle dries too.

        Parameters
        ----------
        mc
            Green and mean moisture content, as fractions.
        """
        (green, mean), half = mc, boards.half_thickness_m
        green = max(green, mean)
        face = np.minimum(face_mc, mean)
        front = np.minimum(1.0, 3.0 * (green - mean) / np.maximum(green - face, 1e-9))
        middle = np.where(front < 1.0, green, face + 1.5 * (mean - face))
        depth = (np.cumsum(boards.cells_m, axis=0) - 0.5 * boards.cells_m) / half
        behind = np.minimum(depth / np.maximum(front, 1e-9), 1.0)
        profile = face + (middle - face) * behind * (2.0 - behind)
        average = (profile * boards.cells_m).sum(0) / half
        return cls(profile * mean / average, np.full_like(half, 20.0), np.full_like(half, 0.8))

    @classmethod
    def beside(cls, parts: "Sequence[State]") -> "State":
        """Put boards beside each other."""
        return cls(
            np.concatenate([p.mc for p in parts], axis=1),
            np.concatenate([p.temp_c for p in parts]),
            np.concatenate([p.face_rh for p in parts]),
        )

    def columns(self, keep: slice) -> "State":
        """Return some of the boards."""
        return State(self.mc[:, keep], self.temp_c[keep], self.face_rh[keep])


@dataclass(frozen=True)
class Course:
    """How boards dried; arrays of shape (hours + 1, boards), the first row the start.

    Attributes
    ----------
    mc, shell_mc
        Mean of the board, and of its outer millimeter, as fractions.
    known
        Shape (hours, boards): False where a driver was missing; the board was left as it was.
    end
        The boards after the last hour.
    """

    mc: Array
    shell_mc: Array
    known: NDArray[np.bool_]
    end: State

    @classmethod
    def beside(cls, parts: "list[Course]") -> "Course":
        """Put courses of the same hours beside each other."""
        return cls(
            np.concatenate([p.mc for p in parts], axis=1),
            np.concatenate([p.shell_mc for p in parts], axis=1),
            np.concatenate([p.known for p in parts], axis=1),
            State.beside([p.end for p in parts]),
        )


def simulate(boards: Boards, drivers: Drivers, start: State) -> Course:
    """Dry boards through hours of drivers of shape (hours, boards).

    Raises
    ------
    ArithmeticError
        If a step does not converge or water is not conserved to 1e-9 of the oven-dry mass.
    """
    count = len(boards.half_thickness_m)
    parts = [slice(i, min(i + BATCH, count)) for i in range(0, count, BATCH)]
    courses = [_simulate(boards.some(p), drivers.boards(p), start.columns(p)) for p in parts]
    return courses[0] if len(courses) == 1 else Course.beside(courses)


def _simulate(boards: Boards, drivers: Drivers, start: State) -> Course:
    scheme = Scheme.of(
        boards.cells_m, boards.half_thickness_m, boards.density_kgm3, boards.diffusivity_m2s
    )
    mean_of = scheme.cells / boards.half_thickness_m
    depth = np.cumsum(scheme.cells, axis=0) - scheme.cells
    shell_of = np.clip(SHELL_M - depth, 0.0, scheme.cells) / SHELL_M
    known = np.isfinite(drivers.air_temp_c + drivers.vapor_pressure_pa + drivers.vapor_ms)
    means, shells, state = [(start.mc * mean_of).sum(0)], [(start.mc * shell_of).sum(0)], start
    for hour in range(len(known)):
        air = Air.at(drivers, hour, known[hour])
        state = _hour(scheme, air, state, known[hour])
        means.append((state.mc * mean_of).sum(0))
        shells.append((state.mc * shell_of).sum(0))
    return Course(np.array(means), np.array(shells), known, state)


def _hour(scheme: Scheme, air: Air, state: State, known: NDArray[np.bool_]) -> State:
    after = scheme.step(air, Guess(state.mc, state.temp_c, state.face_rh), 3600.0)
    return State(
        np.where(known, after.mc, state.mc),
        np.where(known, after.temp, state.temp_c),
        np.where(known, after.face, state.face_rh),
    )
