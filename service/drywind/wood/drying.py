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

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeVar

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
TOLERANCE_MC = 5e-3
TOLERANCE_K = 0.5
TOLERANCE_RH = 5e-3
"""Of the last Newton change. It converges quadratically, so what is left is about its square:
a hundred times tighter tolerances move no average MC by 0.01 point (see tests)."""
NEWTON_LIMIT = 25
SHORTEST_STEP_S = 10.0
FEW_BOARDS = 250
"""Up to so many, one call of LAPACK beats elimination row by row in NumPy."""
BATCH = 2000
"""Boards simulated at once: few enough to stay in the processor's cache."""

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
        warm = np.full_like(half, 20.0)
        return cls(profile * mean / average, warm, np.full_like(half, 0.8), warm + np.inf)

    @classmethod
    def beside(cls, parts: "Sequence[State]") -> "State":
        """Put boards beside each other."""
        return cls(
            np.concatenate([p.mc for p in parts], axis=1),
            np.concatenate([p.temp_c for p in parts]),
            np.concatenate([p.face_rh for p in parts]),
            np.concatenate([p.age_h for p in parts]),
        )

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
    scheme = _Scheme.of(boards)
    mean_of = scheme.cells / boards.half_thickness_m
    depth = np.cumsum(scheme.cells, axis=0) - scheme.cells
    shell_of = np.clip(SHELL_M - depth, 0.0, scheme.cells) / SHELL_M
    known = np.isfinite(drivers.air_temp_c + drivers.vapor_pressure_pa + drivers.vapor_ms)
    means, shells, state = [(start.mc * mean_of).sum(0)], [(start.mc * shell_of).sum(0)], start
    for hour in range(len(known)):
        air = _Air.at(drivers, hour, known[hour])
        state = _hour(scheme, air, state, known[hour])
        means.append((state.mc * mean_of).sum(0))
        shells.append((state.mc * shell_of).sum(0))
    return Course(np.array(means), np.array(shells), known, state)


class _Air(NamedTuple):
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


def _hour(scheme: "_Scheme", air: _Air, state: State, known: NDArray[np.bool_]) -> State:
    substeps = YOUNG_SUBSTEPS if (state.age_h < YOUNG_HOURS).any() else 1
    now = _Guess(state.mc, state.temp_c, state.face_rh)
    for _ in range(substeps):
        now = scheme.step(air, now, 3600.0 / substeps)
    return State(
        np.where(known, now.mc, state.mc),
        np.where(known, now.temp, state.temp_c),
        np.where(known, now.face, state.face_rh),
        state.age_h + 1.0,
    )


class _Guess(NamedTuple):
    """Moisture (cells, boards), temperature and the face's relative humidity (boards,)."""

    mc: Array
    temp: Array
    face: Array


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


class _UnconvergedError(ArithmeticError):
    """Newton's method ran out of iterations."""


class _Scheme(NamedTuple):
    """The equations of some boards, and steps through an hour.

    `inward` and `outward` are diffusivity over the distance to the next cell and over a cell's
    own width: the rate [1/s] at which a cell answers to its outer and its inner neighbor.
    """

    cells: Array
    density: Array
    mass: Array
    diffusivity: Array
    inward: Array
    outward: Array

    @classmethod
    def of(cls, boards: Boards) -> "_Scheme":
        cells = boards.cells_m
        through = boards.diffusivity_m2s / (0.5 * (cells[1:] + cells[:-1]))
        return cls(
            cells,
            boards.density_kgm3,
            boards.density_kgm3 * boards.half_thickness_m,
            boards.diffusivity_m2s,
            through / cells[1:],
            through / cells[:-1],
        )

    def step(self, air: _Air, now: _Guess, seconds: float) -> _Guess:
        """Advance by `seconds`, in halves where one step does not converge."""
        try:
            return self._two_stages(air, now, seconds)
        except _UnconvergedError:
            if seconds < SHORTEST_STEP_S:
                raise ArithmeticError("the drying model does not converge") from None
            return self.step(air, self.step(air, now, seconds / 2), seconds / 2)

    def _two_stages(self, air: _Air, now: _Guess, seconds: float) -> _Guess:
        span = STAGE * seconds
        first = self._stage(air, now, now, span)
        onward = (1.0 - STAGE) / STAGE
        base = _Guess(
            now.mc + onward * (first.mc - now.mc),
            now.temp + onward * (first.temp - now.temp),
            now.face,
        )
        return self._stage(air, base, first, span)

    def _stage(self, air: _Air, base: _Guess, guess: _Guess, span: float) -> _Guess:
        """Solve u = base + span * rate(u) by Newton's method from `guess`.

        Boards that have converged rest while the others go on.
        """
        found = _Guess(*(a.copy() for a in guess))
        scheme, some = self, np.arange(len(self.density))
        for _ in range(NEWTON_LIMIT):
            guess, lost, far = scheme._newton(air, base, guess, span)
            done = ~far
            scheme._check_water(base.mc, guess.mc, span * lost, done)
            if not far.any():
                return guess if len(some) == len(self.density) else _put(found, some, guess)
            if len(some) > FEW_BOARDS and done.sum() > len(some) // 4:
                found = _put(found, some[done], _take(guess, done))
                some, scheme, air = some[far], _take(scheme, far), _take(air, far)
                base, guess = _take(base, far), _take(guess, far)
        raise _UnconvergedError

    def _check_water(
        self, before: Array, after: Array, lost: Array, done: NDArray[np.bool_]
    ) -> None:
        stored = ((before - after) * self.cells).sum(0) * self.density
        if not (np.abs(stored - lost) <= 1e-9 * self.mass)[done].all():
            raise ArithmeticError("the drying model lost or made water")

    def _newton(
        self, air: _Air, base: _Guess, guess: _Guess, span: float
    ) -> tuple[_Guess, Array, NDArray[np.bool_]]:
        """Return a better guess, the water lost a second, and which boards are still far.

        The unknown in a cell is the change of its potential, slope times that of its moisture.
        """
        mc, temp, face = guess
        warmth = temperature_factor(temp)
        potential, slope = potential_and_slope(mc)
        at = self._face(air, guess, potential[0], slope[0], self.diffusivity * warmth)

        capacity = self.mass * WOOD_HEAT_CAPACITY + WATER_HEAT_CAPACITY * self.density * (
            base.mc * self.cells
        ).sum(0)
        per_heat, kelvin = span / capacity, temp + 273.15
        glow = air.sky_view * STEFAN_BOLTZMANN * kelvin**3
        gain = air.heat * (air.temp_c - temp) + air.gain - glow * kelvin - LATENT_HEAT * at.flux
        stiff = 1.0 + per_heat * (air.heat + 4.0 * glow + LATENT_HEAT * at.by_temp)
        rest_temp = (base.temp - temp + per_heat * gain) / stiff
        coupling = per_heat * LATENT_HEAT * at.by_mc / stiff

        inward, outward = self.inward * (span * warmth), self.outward * (span * warmth)
        rise = potential[1:] - potential[:-1]
        rest, diagonal = base.mc - mc, 1.0 / slope
        rest[:-1] += outward * rise
        rest[1:] -= inward * rise
        diagonal[:-1] += outward
        diagonal[1:] += inward
        per_cell = span / (self.cells[0] * self.density)
        rest[0] -= per_cell * (at.flux + at.by_temp * rest_temp)
        diagonal[0] += per_cell * (at.by_mc - at.by_temp * coupling) / slope[0]
        change = _tridiagonal(inward, diagonal, outward, rest) / slope

        change_temp = rest_temp - coupling * change[0]
        more = at.by_mc * change[0] + at.by_temp * change_temp
        follow = np.where(at.by_mc > 0.0, (more - at.steeper * change_temp) / at.by_rh, 0.0)
        change_face = at.step + follow
        far = (
            (np.abs(change).max(0) >= TOLERANCE_MC)
            | (mc + change < 0.2 * mc).any(0)
            | (np.abs(change_temp) >= TOLERANCE_K)
            | (np.abs(change_face) >= TOLERANCE_RH)
        )
        better = _Guess(
            np.maximum(mc + change, 0.2 * mc),
            temp + np.clip(change_temp, -15.0, 15.0),
            np.clip(face + change_face, 0.3 * face, 1.0),
        )
        return better, at.flux + more, far

    def _face(
        self, air: _Air, guess: _Guess, potential: Array, slope: Array, diffusivity: Array
    ) -> _Balance:
        """Return the balance of water at the face.

        The relative humidity h in the wood at the face, `face` at first, is where
        conductance * (h p_sat - p_air) is what diffusion brings; it is 1 where the wood can bring
        more than the air takes.
        """
        _, temp, face = guess
        by_rh = air.vapor_conductance * saturation_pressure_pa(temp)
        leaving = air.vapor_conductance * air.vapor_pa
        supply = self.density * diffusivity / (0.5 * self.cells[0])
        sorbed, rise = emc.isotherm(emc.coefficients(temp), np.stack([face, np.ones_like(face)]))
        (behind, full), relative = potential_and_slope(sorbed)
        wet = supply * (potential - full) >= by_rh - leaving
        pull = by_rh + supply * relative[0] * rise[0]
        excess = by_rh * face - leaving - supply * (potential - behind)
        humid = np.where(wet, 1.0, face - excess / pull)
        steeper = air.vapor_conductance * saturation_pressure_slope(temp) * humid
        return _Balance(
            flux=by_rh * humid - leaving,
            by_mc=np.where(wet, 0.0, by_rh * supply * slope / pull),
            by_temp=np.where(wet, steeper, steeper * (1.0 - by_rh / pull)),
            step=humid - face,
            by_rh=by_rh,
            steeper=steeper,
        )


Arrays = TypeVar("Arrays", _Guess, _Air, _Scheme)


def _take(of: Arrays, boards: NDArray[np.bool_]) -> Arrays:
    """Return some of the boards."""
    return type(of)(*(array[..., boards] for array in of))


def _put(into: _Guess, boards: NDArray[np.intp], values: _Guess) -> _Guess:
    """Write some boards' values into all of them."""
    for array, value in zip(into, values, strict=True):
        array[..., boards] = value
    return into


def _tridiagonal(lower: Array, diagonal: Array, upper: Array, right: Array) -> Array:
    """Solve tridiagonal systems, one a column, using up `diagonal` and `right`.

    The off-diagonals are -`lower` and -`upper`, of one row less. Few systems are solved as one
    long one without coupling.
    """
    rows, boards = diagonal.shape
    if boards <= FEW_BOARDS:
        below, above = np.zeros((2, boards, rows))
        below[:, 1:], above[:, :-1] = -lower.T, -upper.T
        *_, solution, info = dgtsv(
            below.ravel()[1:], diagonal.T.ravel(), above.ravel()[:-1], right.T.ravel()
        )
        if info != 0:
            raise _UnconvergedError
        return np.ascontiguousarray(solution.reshape(boards, rows).T)
    for i in range(1, rows):
        factor = lower[i - 1] / diagonal[i - 1]
        diagonal[i] -= factor * upper[i - 1]
        right[i] += factor * right[i - 1]
    right[-1] /= diagonal[-1]
    for i in range(rows - 2, -1, -1):
        right[i] = (right[i] + upper[i] * right[i + 1]) / diagonal[i]
    return right
