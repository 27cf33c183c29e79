"""The drying model's equations given to FiPy, a finite-volume library of NIST.

The library makes the equations of moisture in the wood and solves them, on a grid of its own, by
backward Euler; diffusivity and the face's balance are brought up to date between its sweeps. Many
boards lie end to end on one grid, with nothing passing between them, which spares the library most
of its cost a board. At the face water and heat are balanced by SciPy's bracketing of one root.
Shared with the model are only the material coefficients.
"""

import warnings
from typing import NamedTuple

import numpy as np
from scipy.optimize.elementwise import find_root
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
from drywind.wood.diffusion import MOISTURE_SLOPE, temperature_factor
from drywind.wood.drying import Boards

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # of NumPy, for names FiPy 4.0 imports
    import fipy

SWEEPS, TOLERANCE_MC, NUDGE_MC = 50, 1e-6, 1e-5


class Grid(NamedTuple):
    """How finely to solve: cells across half a board, each so much wider, and steps an hour."""

    cells: int
    spread: float
    steps: int


class Slab(NamedTuple):
    """A board of constant diffusion with a resistance at its faces; SI units."""

    half_m: float
    diffusivity_m2s: float
    surface_ms: float


def relative_diffusivity(mc: Array) -> Array:
    """Return D over its value at fiber saturation, 30 % (the model's relation, typed anew)."""
    relative: Array = np.exp(MOISTURE_SLOPE * np.minimum(mc - 0.30, 0.0))
    return relative


class Face(NamedTuple):
    """What the balance of water and heat at the faces rests on in one step; shapes (boards,).

    First the air's; then `was_c` and `inertia` [W/(m2 K)], the temperature as the step begins
    and the heat capacity of half a board over the step; `reach`, density times diffusivity at
    20 °C over the distance from the face to the first cell's middle.
    """

    air_c: Array
    vapor_pa: Array
    heat: Array
    conductance: Array
    gain: Array
    sky_view: Array
    was_c: Array
    inertia: Array
    reach: Array

    def settle(self, mc: Array) -> tuple[Array, Array]:
        """Return the water leaving [kg/(m2 s)] and the temperature for the first cell's moisture.

        A temperature tells, by the balance of heat, how much water leaves, and that the humidity
        at the face. Either the face is saturated and the wood could bring more, or the wood
        brings just that: the less of both surpluses, which rises with temperature, is zero.
        """
        found = find_root(_surplus, (self.was_c - 60.0, self.was_c + 60.0), args=(mc, *self))
        assert found.success.all()
        return self.leaving(found.x), found.x

    def leaving(self, temp_c: Array) -> Array:
        """Return the water whose evaporation balances the heat [kg/(m2 s)]."""
        glow = self.sky_view * STEFAN_BOLTZMANN * (temp_c + 273.15) ** 4
        heat = self.heat * (self.air_c - temp_c) + self.gain - glow
        return (heat - self.inertia * (temp_c - self.was_c)) / LATENT_HEAT


def _surplus(temp_c: Array, mc: Array, *known: Array) -> Array:
    face = Face(*known)
    leaving, saturated = face.leaving(temp_c), saturation_pressure_pa(temp_c)
    rh = (face.vapor_pa + leaving / face.conductance) / saturated
    face_mc = emc.isotherm(emc.coefficients(temp_c), np.clip(rh, 0.0, 1.0))[0]
    relative = np.trapezoid(relative_diffusivity(np.linspace(face_mc, mc, 9)), axis=0) / 8.0
    brought = face.reach * temperature_factor(temp_c) * relative * (mc - face_mc)
    return np.minimum(1.0 - rh, (brought - leaving) / (face.conductance * saturated))


def by_fipy(cases: Cases, grid: Grid) -> Array:
    """Return mean moisture content by the hour, in percent, shape (hours + 1, boards)."""
    boards = _Boards(cases.boards, cases.start_mc, cases.drivers.air_temp_c[0], grid)
    means = [cases.start_mc]
    for hour in range(len(cases.drivers.air_temp_c)):
        for _ in range(grid.steps):
            boards.step(Air.of(cases.drivers, hour), 3600.0 / grid.steps)
        means.append(boards.mean)
    return 100.0 * np.array(means)


class _Boards:
    """Boards end to end on one grid, each from its face to its middle."""

    def __init__(self, boards: Boards, mc: Array, temp_c: Array, grid: Grid) -> None:
        self.boards, self.temp_c, self.cells = boards, temp_c, grid.cells
        widths = grid.spread ** np.arange(grid.cells)
        self.widths = np.outer(boards.half_thickness_m, widths / widths.sum())
        mesh = fipy.Grid1D(dx=self.widths.ravel())
        self.mc = fipy.CellVariable(mesh=mesh, value=np.repeat(mc, grid.cells), hasOld=True)
        self.diffusivity = fipy.FaceVariable(mesh=mesh)
        self.pull, self.push = fipy.CellVariable(mesh=mesh), fipy.CellVariable(mesh=mesh)
        self.equation = fipy.TransientTerm() == (
            fipy.DiffusionTerm(coeff=self.diffusivity)
            - fipy.ImplicitSourceTerm(coeff=self.pull)
            + self.push
        )
        self.solver = fipy.LinearLUSolver()

    @property
    def profile(self) -> Array:
        """Moisture content, shape (boards, cells)."""
        profile: Array = self.mc.value.reshape(self.widths.shape)
        return profile

    @property
    def mean(self) -> Array:
        """Mean moisture content of each board."""
        mean: Array = (self.profile * self.widths).sum(1) / self.boards.half_thickness_m
        return mean

    def step(self, air: Air, seconds: float) -> None:
        """Advance by one step of backward Euler, sweeping until moisture rests."""
        boards, first = self.boards, self.widths[:, 0]
        dry = boards.density_kgm3 * boards.half_thickness_m
        face = Face(
            *air,
            self.temp_c,
            dry * (WOOD_HEAT_CAPACITY + WATER_HEAT_CAPACITY * self.mean) / seconds,
            boards.density_kgm3 * boards.diffusivity_m2s / (0.5 * first),
        )
        self.mc.updateOld()
        for _ in range(SWEEPS):
            before = self.profile.copy()
            outer = before[:, 0]
            leaving, self.temp_c = face.settle(outer)
            rise = (face.settle(outer + NUDGE_MC)[0] - leaving) / NUDGE_MC
            storage = boards.density_kgm3 * first
            self.pull[:: self.cells] = rise / storage
            self.push[:: self.cells] = (rise * outer - leaving) / storage
            at_20_c = np.repeat(
                boards.diffusivity_m2s * temperature_factor(self.temp_c), self.cells
            )
            self.diffusivity[:-1] = at_20_c * relative_diffusivity(self.mc.faceValue.value[:-1])
            self.diffusivity[:: self.cells] = 0.0
            self.equation.sweep(self.mc, dt=seconds, solver=self.solver)
            if np.abs(self.profile - before).max() < TOLERANCE_MC:
                return
        raise ArithmeticError("FiPy's sweeps do not converge")


def slab_by_fipy(slab: Slab, hours: int, cells: int = 60) -> Array:
    """Return the mean change left in a slab, 1 at first, by the hour, in steps of an hour."""
    width = slab.half_m / cells
    mesh = fipy.Grid1D(nx=cells, dx=width)
    left = fipy.CellVariable(mesh=mesh, value=1.0, hasOld=True)
    through = 1.0 / (1.0 / slab.surface_ms + 0.5 * width / slab.diffusivity_m2s)
    pull = fipy.CellVariable(mesh=mesh)
    pull[0] = through / width
    diffusion = fipy.DiffusionTerm(coeff=slab.diffusivity_m2s)
    equation = fipy.TransientTerm() == diffusion - fipy.ImplicitSourceTerm(coeff=pull)
    means = [1.0]
    for _ in range(hours):
        left.updateOld()
        equation.sweep(left, dt=3600.0, solver=fipy.LinearLUSolver())
        means.append(float(left.value.mean()))
    return np.array(means)
