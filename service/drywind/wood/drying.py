"""The drying model: moisture through half a board, and the balance of water and heat at its face.

A board dries alike from both faces, so half of it is modeled, from the face (cell 0) to the
middle, with its temperature lumped. Water moves by diffusion in the Kirchhoff potential, a finite
volume scheme on cells that grow inward. At the face the water the wood brings up equals what the
air takes away; where the wood can bring more than the air can take, the face stays wet.

Time steps are the two-stage, second-order, L-stable diagonally implicit Runge-Kutta method
(Alexander 1977, SIAM J. Numer. Anal. 14:1006), each stage solved by Newton's method for all
boards at once, to convergence: a step that does not converge is halved, and one that cannot be
is an error, never a silent answer.

Not modeled: shrinkage, loss through end grain, rewetting by rain, freezing.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgtsv

from drywind.climate.stack_air import Drivers
from drywind.weather.air import saturation_pressure_pa, saturation_pressure_slope
from drywind.wood import emc
from drywind.wood.diffusion import potential_and_slope, temperature_factor

Array = NDArray[np.float64]

MODEL_VERSION = 1
"""Raised whenever the same boards and drivers would come out differently."""

CELLS = 20
CELL_GROWTH = 1.16
"""Average MC within 0.1 point of 120 cells and 1-minute steps over two weeks; see tests."""

YOUNG_HOURS = 6
YOUNG_SUBSTEPS = 4
"""A fresh board's first hours are steep and get shorter steps."""

STAGE = 1.0 - np.sqrt(0.5)
TOLERANCE_MC = 3e-3
TOLERANCE_K = 0.3
TOLERANCE_RH = 3e-3
"""Of the last Newton change. It converges quadratically, so what is left is about its square:
a hundred times tighter tolerances move no average MC by 0.01 point (see tests)."""
NEWTON_LIMIT = 25
SHORTEST_STEP_S = 10.0
FEW_BOARDS = 250
"""Up to so many, one call of LAPACK beats elimination row by row in NumPy."""

VAPOR_GAS_CONSTANT = 461.5  # J/(kg K)
LATENT_HEAT = 2.45e6  # J/kg, of vaporization at 20 °C
WATER_HEAT_CAPACITY = 4186.0  # J/(kg K)
WOOD_HEAT_CAPACITY = 1300.0  # J/(kg K), oven-dry at 20 °C, Wood Handbook ch. 4, from memory
STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4)
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
    age_h
        Hours since the boards were fresh, shape (boards,).
    """

    mc: Array
    temp_c: Array
    face_rh: Array
    age_h: Array

    @classmethod
    def green(cls, mc: Array, temp_c: Array) -> "State":
        """Return fresh boards of uniform moisture content `mc` (a fraction)."""
        uniform = np.tile(mc, (CELLS, 1))
        return cls(uniform, temp_c.copy(), np.ones_like(temp_c), np.zeros_like(temp_c))

    def columns(self, keep: slice) -> "State":
        """Return some of the boards."""
        return State(self.mc[:, keep], self.temp_c[keep], self.face_rh[keep], self.age_h[keep])


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


def simulate(boards: Boards, drivers: Drivers, start: State) -> Course:
    """Dry boards through hours of drivers of shape (hours, boards).

    Raises
    ------
    ArithmeticError
        If a step does not converge or water is not conserved to 1e-9 of the oven-dry mass.
    """
    cells = boards.cells_m
    mean_of = cells / boards.half_thickness_m
    shell_of = np.clip(SHELL_M - (np.cumsum(cells, axis=0) - cells), 0.0, cells) / SHELL_M
    known = np.isfinite(drivers.air_temp_c + drivers.vapor_pressure_pa + drivers.vapor_ms)
    means, shells, state = [(start.mc * mean_of).sum(0)], [(start.mc * shell_of).sum(0)], start
    for hour in range(len(known)):
        air = _Air.at(drivers, hour, known[hour])
        state = _hour(boards, cells, air, state, known[hour])
        means.append((state.mc * mean_of).sum(0))
        shells.append((state.mc * shell_of).sum(0))
    return Course(np.array(means), np.array(shells), known, state)


@dataclass(frozen=True)
class _Air:
    """The drivers of one hour; arrays of shape (boards,)."""

    temp_c: Array
    vapor_pa: Array
    heat: Array
    vapor_conductance: Array  # kg/(m2 s Pa)
    gain: Array  # absorbed sun and sky, W/m2
    sky_view: Array

    @classmethod
    def at(cls, drivers: Drivers, hour: int, known: NDArray[np.bool_]) -> "_Air":
        def row(array: Array, instead: float) -> Array:
            return np.where(known, array[hour], instead)

        temp = row(drivers.air_temp_c, 15.0)
        return cls(
            temp,
            row(drivers.vapor_pressure_pa, 1000.0),
            row(drivers.heat_wm2k, 5.0),
            row(drivers.vapor_ms, 0.005) / (VAPOR_GAS_CONSTANT * (temp + 273.15)),
            row(drivers.sun_wm2 + drivers.sky_wm2, 0.0),
            row(drivers.sky_view, 0.0),
        )


def _hour(boards: Boards, cells: Array, air: _Air, state: State, known: NDArray[np.bool_]) -> State:
    young = (state.age_h < YOUNG_HOURS).any()
    substeps = YOUNG_SUBSTEPS if young else 1
    scheme = _Scheme(boards, cells, air)
    mc, temp, face = state.mc, state.temp_c, state.face_rh
    for _ in range(substeps):
        mc, temp, face = scheme.step(mc, temp, face, 3600.0 / substeps)
    return State(
        np.where(known, mc, state.mc),
        np.where(known, temp, state.temp_c),
        np.where(known, face, state.face_rh),
        state.age_h + 1.0,
    )


class _UnconvergedError(ArithmeticError):
    """Newton's method ran out of iterations."""


class _Balance(NamedTuple):
    """The balance at the face, linear about a guess: water leaving is flux + by_mc dm + by_temp dT.

    `step` is the change of the face's humidity for dm = dT = 0; past it, humidity changes with the
    flux: d(flux) = by_rh dh + steeper dT.
    """

    flux: Array
    by_mc: Array
    by_temp: Array
    step: Array
    by_rh: Array
    steeper: Array


class _Scheme:
    """The equations of one hour, and steps through it."""

    def __init__(self, boards: Boards, cells: Array, air: _Air) -> None:
        self.boards, self.cells, self.air = boards, cells, air
        self.distance = 0.5 * (cells[1:] + cells[:-1])
        self.mass = boards.density_kgm3 * boards.half_thickness_m

    def step(
        self, mc: Array, temp: Array, face: Array, seconds: float
    ) -> tuple[Array, Array, Array]:
        """Advance by `seconds`, in halves where one step does not converge."""
        try:
            return self._two_stages(mc, temp, face, seconds)
        except _UnconvergedError:
            if seconds < SHORTEST_STEP_S:
                raise ArithmeticError("the drying model does not converge") from None
            mc, temp, face = self.step(mc, temp, face, seconds / 2)
            return self.step(mc, temp, face, seconds / 2)

    def _two_stages(
        self, mc: Array, temp: Array, face: Array, seconds: float
    ) -> tuple[Array, Array, Array]:
        span = STAGE * seconds
        mc1, temp1, face1 = self._stage((mc, temp), (mc, temp, face), span)
        onward = (1.0 - STAGE) / STAGE
        base = (mc + onward * (mc1 - mc), temp + onward * (temp1 - temp))
        return self._stage(base, (mc1, temp1, face1), span)

    def _stage(
        self, base: tuple[Array, Array], guess: tuple[Array, Array, Array], span: float
    ) -> tuple[Array, Array, Array]:
        """Solve u = base + span * rate(u) by Newton's method from `guess`."""
        mc, temp, face = guess
        water = (base[0] * self.cells).sum(0) / self.boards.half_thickness_m
        capacity = self.mass * (WOOD_HEAT_CAPACITY + WATER_HEAT_CAPACITY * water)
        scales = (span / self.cells, span / capacity)
        for _ in range(NEWTON_LIMIT):
            change, change_temp, change_face, lost = self._newton(base, (mc, temp, face), scales)
            mc = np.maximum(mc + change, 0.2 * mc)
            temp = temp + np.clip(change_temp, -15.0, 15.0)
            face = np.clip(face + change_face, 0.3 * face, 1.0)
            if (
                np.abs(change).max() < TOLERANCE_MC
                and np.abs(change_temp).max() < TOLERANCE_K
                and np.abs(change_face).max() < TOLERANCE_RH
            ):
                self._check_water(base[0], mc, span * lost)
                return mc, temp, face
        raise _UnconvergedError

    def _check_water(self, before: Array, after: Array, lost: Array) -> None:
        stored = ((before - after) * self.cells).sum(0) * self.boards.density_kgm3
        if not (np.abs(stored - lost) <= 1e-9 * self.mass).all():
            raise ArithmeticError("the drying model lost or made water")

    def _newton(
        self,
        base: tuple[Array, Array],
        guess: tuple[Array, Array, Array],
        scales: tuple[Array, Array],
    ) -> tuple[Array, Array, Array, Array]:
        """Return Newton's change of moisture, temperature and face, and the water lost a second.

        `scales` are the stage's span over the width of each cell, and over the heat capacity.
        """
        (mc, temp, face), (per_cell, per_heat), air = guess, scales, self.air
        diffusivity = self.boards.diffusivity_m2s * temperature_factor(temp)
        potential, slope = potential_and_slope(mc)
        at = self._face(potential[0], slope[0], temp, face, diffusivity)

        kelvin = temp + 273.15
        glow = air.sky_view * STEFAN_BOLTZMANN * kelvin**3
        gain = air.heat * (air.temp_c - temp) + air.gain - glow * kelvin - LATENT_HEAT * at.flux
        rest_temp = base[1] - temp + per_heat * gain
        stiff = 1.0 + per_heat * (air.heat + 4.0 * glow + LATENT_HEAT * at.by_temp)
        coupling = per_heat * LATENT_HEAT * at.by_mc / stiff
        rest_temp /= stiff

        conductance = diffusivity / self.distance
        outward = conductance * (potential[1:] - potential[:-1])
        rest = base[0] - mc
        rest[:-1] += per_cell[:-1] * outward
        rest[1:] -= per_cell[1:] * outward
        face_scale = per_cell[0] / self.boards.density_kgm3
        rest[0] -= face_scale * (at.flux + at.by_temp * rest_temp)
        by_inner, by_outer = conductance * slope[1:], conductance * slope[:-1]
        diagonal = np.ones_like(mc)
        diagonal[:-1] += per_cell[:-1] * by_outer
        diagonal[1:] += per_cell[1:] * by_inner
        diagonal[0] += face_scale * (at.by_mc - at.by_temp * coupling)
        change = _tridiagonal(-per_cell[1:] * by_outer, diagonal, -per_cell[:-1] * by_inner, rest)
        change_temp = rest_temp - coupling * change[0]
        more = at.by_mc * change[0] + at.by_temp * change_temp
        wet = at.by_mc == 0.0
        follow = np.where(wet, 0.0, (more - at.steeper * change_temp) / at.by_rh)
        return change, change_temp, at.step + follow, at.flux + more

    def _face(
        self, potential: Array, slope: Array, temp: Array, face: Array, diffusivity: Array
    ) -> _Balance:
        """Return the balance of water at the face.

        The relative humidity h in the wood at the face, `face` at first, is where
        conductance * (h p_sat - p_air) is what diffusion brings; it is 1 where the wood can bring
        more than the air takes.
        """
        conductance, saturation = self.air.vapor_conductance, saturation_pressure_pa(temp)
        by_rh = conductance * saturation
        leaving = conductance * self.air.vapor_pa
        supply = self.boards.density_kgm3 * diffusivity / (0.5 * self.cells[0])
        sorbed, rise = emc.isotherm(emc.coefficients(temp), np.stack([face, np.ones_like(face)]))
        (behind, full), relative = potential_and_slope(sorbed)
        wet = supply * (potential - full) >= by_rh - leaving
        pull = by_rh + supply * relative[0] * rise[0]
        excess = by_rh * face - leaving - supply * (potential - behind)
        humid = np.where(wet, 1.0, face - excess / pull)
        steeper = conductance * saturation_pressure_slope(temp) * humid
        return _Balance(
            flux=by_rh * humid - leaving,
            by_mc=np.where(wet, 0.0, by_rh * supply * slope / pull),
            by_temp=np.where(wet, steeper, steeper * (1.0 - by_rh / pull)),
            step=humid - face,
            by_rh=by_rh,
            steeper=steeper,
        )


def _tridiagonal(lower: Array, diagonal: Array, upper: Array, right: Array) -> Array:
    """Solve tridiagonal systems, one a column, using up the last two arguments.

    `lower` and `upper` have one row less; few systems are solved as one long one without coupling.
    """
    rows, boards = diagonal.shape
    if boards <= FEW_BOARDS:
        uncoupled = np.zeros((boards, rows))
        uncoupled[:, 1:] = lower.T
        below = uncoupled.ravel()[1:].copy()
        uncoupled[:, :-1], uncoupled[:, -1] = upper.T, 0.0
        *_, solution, info = dgtsv(
            below, diagonal.T.ravel(), uncoupled.ravel()[:-1], right.T.ravel()
        )
        if info != 0:
            raise _UnconvergedError
        return np.ascontiguousarray(solution.reshape(boards, rows).T)
    for i in range(1, rows):
        factor = lower[i - 1] / diagonal[i - 1]
        diagonal[i] -= factor * upper[i - 1]
        right[i] -= factor * right[i - 1]
    right[-1] /= diagonal[-1]
    for i in range(rows - 2, -1, -1):
        right[i] = (right[i] - upper[i] * right[i + 1]) / diagonal[i]
    return right
