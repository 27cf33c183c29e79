"""The drying model: moisture through half a board, and the balance of water and heat at its face.

A board dries alike from both faces, so half of it is modeled, from the face (cell 0) to the
middle, with its temperature lumped. Water moves by diffusion in the Kirchhoff potential, a finite
volume scheme on cells that grow inward. At the face the water the wood brings up equals what the
air takes away; where the wood can bring more than the air can take, the face stays wet.

Rain and dew wet the outermost cell until its pores are full, and go inward from there. In a board
below -2 °C free water is ice and stays where it is, but what is bound still moves and the face
still gives off vapor (ice sublimates); the heat of freezing and snow that melts are left out.

`drywind.wood.solver` takes the steps. Not modeled: shrinkage, loss through end grain.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Drivers
from drywind.wood.solver import Air, Guess, Scheme

Array = NDArray[np.float64]

MODEL_VERSION = 2
"""Raised whenever the same boards and drivers would come out differently."""

CELLS = 20
CELL_GROWTH = 1.14
"""Average MC within about 0.1 point of an independent fine solution over two weeks (tests)."""

BATCH = 10_000
"""Boards simulated at once; more would only take memory."""

SHELL_M = 0.001


def cell_widths() -> Array:
    """Return the cells' shares of the half thickness, the face's first."""
    widths = CELL_GROWTH ** np.arange(float(CELLS))
    shares: Array = widths / widths.sum()
    return shares


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

    @classmethod
    def beside(cls, parts: "Sequence[Boards]") -> "Boards":
        """Put boards beside each other."""
        return cls(
            np.concatenate([p.half_thickness_m for p in parts]),
            np.concatenate([p.density_kgm3 for p in parts]),
            np.concatenate([p.diffusivity_m2s for p in parts]),
        )

    @property
    def cells_m(self) -> Array:
        """Width of each cell, shape (cells, boards), the face's first."""
        return np.outer(cell_widths(), self.half_thickness_m)


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
    def part_dried(cls, boards: "Boards", mc: tuple[float, Array], face_mc: Array) -> "State":
        """Return boards at 20 °C that have dried for a while, from green to a mean.

        A front goes inward from the face, at `face_mc` if that is drier, with a parabola behind it
        and green wood before it; once it has met the middle, the middle dries too.

        Parameters
        ----------
        mc
            Green and mean moisture content, as fractions, the latter of shape (boards,).
        """
        (fresh, mean), half = mc, boards.half_thickness_m
        green = np.maximum(fresh, mean)
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

    def some(self, which: NDArray[np.intp]) -> "State":
        """Return a copy of boards by their places."""
        return State(self.mc[:, which], self.temp_c[which], self.face_rh[which])


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


def simulate(boards: Boards, drivers: Drivers, start: State, hours_a_step: int = 1) -> Course:
    """Dry boards through hours of drivers of shape (hours, boards).

    Parameters
    ----------
    hours_a_step
        How many hours each row of the drivers, and of the course, stands for. Several are for
        boards that have dried for days: see `Drivers.coarse`.

    Raises
    ------
    ArithmeticError
        If a step does not converge or water is not conserved to 1e-9 of the oven-dry mass.
    """
    count = len(boards.half_thickness_m)
    parts = [slice(i, min(i + BATCH, count)) for i in range(0, count, BATCH)]
    courses = [
        _simulate(boards.some(p), drivers.boards(p), start.columns(p), hours_a_step) for p in parts
    ]
    return courses[0] if len(courses) == 1 else Course.beside(courses)


def _simulate(boards: Boards, drivers: Drivers, start: State, hours_a_step: int) -> Course:
    widths = cell_widths()
    scheme = Scheme.of(widths, boards.half_thickness_m, boards.density_kgm3, boards.diffusivity_m2s)
    shell_of = _shell_weights(boards.cells_m)
    known = np.isfinite(drivers.air_temp_c + drivers.vapor_pressure_pa + drivers.vapor_ms)
    means, shells = np.empty((2, len(known) + 1, len(start.temp_c)))
    state = start
    for hour in range(len(known) + 1):
        if hour:
            air = Air.at(drivers, hour - 1, known[hour - 1], state.temp_c)
            state = _step(scheme, air, known[hour - 1], state, 3600.0 * hours_a_step)
        means[hour] = widths @ state.mc
        shells[hour] = (state.mc[: len(shell_of)] * shell_of).sum(0)
    return Course(means, shells, known, state)


def _shell_weights(cells: Array) -> Array:
    """Return what each of the outer cells counts in the mean of the outer millimeter.

    The water down to there is a parabola through that down to the three nearest cell edges.
    """
    edges = np.concatenate([np.zeros_like(cells[:1]), np.cumsum(cells, axis=0)])
    boards = np.arange(cells.shape[1])
    nearest = np.maximum((edges <= SHELL_M).sum(0) - 1, 1)
    nodes = [nearest - 1, nearest, nearest + 1]
    weights = np.zeros_like(edges)
    for node in nodes:
        others = [edges[other, boards] for other in nodes if other is not node]
        here = edges[node, boards]
        share = np.prod([(SHELL_M - at) / (here - at) for at in others], axis=0)
        weights += share * (np.arange(len(edges))[:, None] < node)
    weights = weights[:-1] * cells / SHELL_M
    return weights[: nearest.max() + 1]


def _step(
    scheme: Scheme, air: Air, known: NDArray[np.bool_], state: State, seconds: float
) -> State:
    after = scheme.step(air, Guess(state.mc, state.temp_c, state.face_rh), seconds)
    if known.all():
        return State(*after)
    return State(
        np.where(known, after.mc, state.mc),
        np.where(known, after.temp, state.temp_c),
        np.where(known, after.face, state.face_rh),
    )
