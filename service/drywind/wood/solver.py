"""Steps of the drying model: the equations of an hour, solved for many boards at once.

Time steps are the two-stage, second-order, L-stable diagonally implicit Runge-Kutta method
(Alexander 1977, SIAM J. Numer. Anal. 14:1006). Each stage is solved by Newton's method, to
convergence: a step that does not converge is halved, and one that cannot be is an error, never a
silent answer. The water that leaves is held against the water stored at every stage.
"""

from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgtsv

from drywind.climate.stack_air import Drivers
from drywind.climate.transfer import STEFAN_BOLTZMANN
from drywind.weather.air import saturation_pressure_pa, saturation_pressure_slope
from drywind.wood import emc
from drywind.wood.diffusion import potential_and_slope, temperature_factor

Array = NDArray[np.float64]

STAGE = 1.0 - np.sqrt(0.5)
TOLERANCE_MC = 5e-3
TOLERANCE_K = 0.5
TOLERANCE_RH = 5e-3
"""Of the last Newton change. It converges quadratically, so what is left is about its square: a
hundred times tighter tolerances move average MC by 0.03 point at most (see tests)."""
NEWTON_LIMIT = 25
LARGEST_CHANGE = 0.1
"""Of moisture content in a cell in one step, where a fresh board's first hours are steep."""
SHORTEST_STEP_S, SHORTEST_TRY_S = 600.0, 10.0
"""How far a step is halved for being steep, and for not converging."""
FEW_BOARDS = 250
"""Up to so many, one call of LAPACK beats elimination row by row in NumPy."""

# Textbook values, from memory.
VAPOR_GAS_CONSTANT = 461.5  # J/(kg K)
LATENT_HEAT = 2.45e6  # J/kg, of vaporization at 20 °C
WATER_HEAT_CAPACITY = 4186.0  # J/(kg K)
WOOD_HEAT_CAPACITY = 1300.0  # J/(kg K), oven-dry at 20 °C, Wood Handbook ch. 4, from memory


class Air(NamedTuple):
    """The drivers of one hour; arrays of shape (boards,)."""

    temp_c: Array
    vapor_pa: Array
    heat: Array
    vapor_conductance: Array  # kg/(m2 s Pa)
    gain: Array  # absorbed sun and sky, W/m2
    sky_view: Array

    @classmethod
    def at(cls, drivers: Drivers, hour: int, known: NDArray[np.bool_]) -> "Air":
        """Return the drivers of an hour, with mild air for boards of which they are unknown."""

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


class Guess(NamedTuple):
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


class Scheme(NamedTuple):
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
    def of(cls, cells: Array, half: Array, density: Array, diffusivity: Array) -> "Scheme":
        """Make the equations of boards of these cells, half thickness, density and diffusivity."""
        through = diffusivity / (0.5 * (cells[1:] + cells[:-1]))
        return cls(
            cells, density, density * half, diffusivity, through / cells[1:], through / cells[:-1]
        )

    def step(self, air: Air, now: Guess, seconds: float) -> Guess:
        """Advance by `seconds`; in halves where a cell changes much or a step does not converge."""
        after = self._two_stages(air, now, seconds)
        if after is not None:
            steep = (np.abs(after.mc - now.mc) > LARGEST_CHANGE).any()
            if not steep or seconds < SHORTEST_STEP_S:
                return after
        elif seconds < SHORTEST_TRY_S:
            raise ArithmeticError("the drying model does not converge")
        return self.step(air, self.step(air, now, seconds / 2), seconds / 2)

    def _two_stages(self, air: Air, now: Guess, seconds: float) -> Guess | None:
        """Return the boards after `seconds`, or None if a stage does not converge."""
        span = STAGE * seconds
        first = self._stage(air, now, now, span)
        if first is None:
            return None
        onward = (1.0 - STAGE) / STAGE
        base = Guess(
            now.mc + onward * (first.mc - now.mc),
            now.temp + onward * (first.temp - now.temp),
            now.face,
        )
        return self._stage(air, base, first, span)

    def _stage(self, air: Air, base: Guess, guess: Guess, span: float) -> Guess | None:
        """Solve u = base + span * rate(u) by Newton's method from `guess`; None if it fails.

        Boards that have converged rest while the others go on.
        """
        found = Guess(*(a.copy() for a in guess))
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
        return None

    def _check_water(
        self, before: Array, after: Array, lost: Array, done: NDArray[np.bool_]
    ) -> None:
        stored = ((before - after) * self.cells).sum(0) * self.density
        if not (np.abs(stored - lost) <= 1e-9 * self.mass)[done].all():
            raise ArithmeticError("the drying model lost or made water")

    def _newton(
        self, air: Air, base: Guess, guess: Guess, span: float
    ) -> tuple[Guess, Array, NDArray[np.bool_]]:
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
        better = Guess(
            np.maximum(mc + change, 0.2 * mc),
            temp + np.clip(change_temp, -15.0, 15.0),
            np.clip(face + at.step + follow, 0.3 * face, 1.0),
        )
        far = (
            (np.abs(change).max(0) >= TOLERANCE_MC)
            | (mc + change < 0.2 * mc).any(0)
            | (np.abs(change_temp) >= TOLERANCE_K)
            | (np.abs(better.face - face) >= TOLERANCE_RH)
        )
        return better, at.flux + more, far

    def _face(
        self, air: Air, guess: Guess, potential: Array, slope: Array, diffusivity: Array
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


Arrays = TypeVar("Arrays", Guess, Air, Scheme)


def _take(of: Arrays, boards: NDArray[np.bool_]) -> Arrays:
    """Return some of the boards."""
    return type(of)(*(array[..., boards] for array in of))


def _put(into: Guess, boards: NDArray[np.intp], values: Guess) -> Guess:
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
            raise ArithmeticError("the drying model's equations have no solution")
        return np.ascontiguousarray(solution.reshape(boards, rows).T)
    for i in range(1, rows):
        factor = lower[i - 1] / diagonal[i - 1]
        diagonal[i] -= factor * upper[i - 1]
        right[i] += factor * right[i - 1]
    right[-1] /= diagonal[-1]
    for i in range(rows - 2, -1, -1):
        right[i] = (right[i] + upper[i] * right[i + 1]) / diagonal[i]
    return right
