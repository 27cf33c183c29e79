"""Steps of the drying model: the equations of an hour, solved for many boards at once.

Time steps are the two-stage, second-order, L-stable diagonally implicit Runge-Kutta method
(Alexander 1977, SIAM J. Numer. Anal. 14:1006). Each stage is solved by Newton's method, to
convergence: a board whose step does not converge takes it in halves, and one that cannot is an
error, never a silent answer. The water that leaves is held against the water stored every time.
"""

from typing import NamedTuple, Self, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dptsv

from drywind.climate.stack_air import Drivers
from drywind.climate.transfer import STEFAN_BOLTZMANN
from drywind.weather.air import saturation_pressure_and_slope
from drywind.wood import emc
from drywind.wood.diffusion import ICE_MOBILITY, potential_and_slope, temperature_factor

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

STAGE = 1.0 - np.sqrt(0.5)
TOLERANCE_MC = 0.03
TOLERANCE_K = 1.0
TOLERANCE_RH = 0.01
"""Of the last Newton change. It converges quadratically, so what is left is about its square: far
tighter tolerances move average MC by a few hundredths of a point at most (see tests)."""
LEAST_MC = 1e-3
"""No first guess is drier: wood outdoors never is."""
WATER_LOST = 1e-9
"""Of dry mass, in a stage: more is an error."""
NEWTON_LIMIT = 25
FACE_STEPS = 2
"""Newton steps for the face alone in each one for all."""
LARGEST_CHANGE = 0.2
"""Of moisture content in a cell in one step, where a fresh board's first hours are steep."""
SHORTEST_STEP_S, SHORTEST_TRY_S = 600.0, 10.0
"""How far a step is halved for being steep, and for not converging."""
FEW_BOARDS = 250
"""Up to so many, one call of LAPACK beats elimination row by row in NumPy."""
FREEZING_C = -2.0
"""Below it the free water in a board is ice (assumption: its sugars and salts keep some liquid a
little below zero)."""
SNOW_C = 0.5
"""Of the air; below it what falls is snow, which lies on a board and does not soak it
(assumption)."""

# Textbook values, from memory.
VAPOR_GAS_CONSTANT = 461.5  # J/(kg K)
LATENT_HEAT = 2.45e6  # J/kg, of vaporization at 20 °C
WATER_HEAT_CAPACITY = 4186.0  # J/(kg K)
WOOD_HEAT_CAPACITY = 1300.0  # J/(kg K), oven-dry at 20 °C, Wood Handbook ch. 4, from memory
CELL_WALL_DENSITY = 1.53  # relative to water, Wood Handbook ch. 4, from memory

ONE = np.ones(1)


class Air(NamedTuple):
    """What acts on the boards for a step; arrays of shape (boards,).

    `mobility` is that of free water in the wood: 1, or hardly any where it is ice.
    """

    temp_c: Array
    vapor_pa: Array
    heat: Array
    conductance: Array  # of vapor, kg/(m2 s Pa)
    gain: Array  # absorbed sun and sky, W/m2
    sky_view: Array
    rain: Array  # kg/(m2 s)
    mobility: Array

    @classmethod
    def at(cls, drivers: Drivers, hour: int, known: Mask, board_c: Array) -> Self:
        """Return the drivers of an hour, with mild air for boards of which they are unknown."""

        def row(array: Array, instead: float) -> Array:
            return array[hour] if all_known else np.where(known, array[hour], instead)

        all_known = bool(known.all())
        temp = row(drivers.air_temp_c, 15.0)
        frozen = board_c < FREEZING_C
        snow = frozen | (temp < SNOW_C)
        return cls(
            temp,
            row(drivers.vapor_pressure_pa, 1000.0),
            row(drivers.heat_wm2k, 5.0),
            row(drivers.vapor_ms, 0.005) / (VAPOR_GAS_CONSTANT * (temp + 273.15)),
            row(drivers.sun_wm2, 0.0) + row(drivers.sky_wm2, 0.0),
            row(drivers.sky_view, 0.0),
            np.where(snow, 0.0, row(drivers.rain_mm, 0.0)) / 3600.0,
            np.where(frozen, ICE_MOBILITY, 1.0),
        )


class Guess(NamedTuple):
    """Moisture (cells, boards), temperature and the face's relative humidity (boards,)."""

    mc: Array
    temp: Array
    face: Array


class _Face(NamedTuple):
    """The face in balance with the potential behind it, and how it rises with that potential.

    `lost` is the water that leaves the wood, kg/(m2 s).
    """

    lost: Array
    lost_by: Array
    temp: Array
    temp_by: Array
    rh: Array
    rh_by: Array
    far: Mask


class _Wood(NamedTuple):
    """What the equations know of the boards; arrays of shape (boards,).

    `mass` is dry mass per face area [kg/m2], `rate` diffusivity in half thicknesses [1/s], and
    `pores` the potential of wood whose pores are full of water.
    """

    mass: Array
    rate: Array
    pores: Array


class _Stage(NamedTuple):
    """A stage, u = base + span * rate(u); arrays of shape (boards,), `mc` (cells, boards).

    `water` is the mean of `mc`; `warming` the kelvins by a W/m2, `drying` the share of dry mass by
    a kg/(m2 s), and `through` the diffusivity at 20 °C, in half thicknesses, over the span;
    `supply` the water [kg/(m2 s)] that a potential drives to the face at 20 °C, `full` the
    potential of a wet face.
    """

    mc: Array
    water: Array
    temp: Array
    air: Array
    heat: Array
    conductance: Array
    leaving: Array
    rain: Array
    gain: Array
    sky_view: Array
    warming: Array
    drying: Array
    through: Array
    supply: Array
    pores: Array
    full: Array
    mobility: Array


class Scheme(NamedTuple):
    """The equations of some boards, and steps through an hour.

    Depth is in half thicknesses: `widths` (cells, 1) of the cells and `near` (cells - 1, 1), one
    over the distances between their middles.
    """

    widths: Array
    near: Array
    wood: _Wood

    @classmethod
    def of(cls, widths: Array, half_m: Array, density: Array, diffusivity: Array) -> Self:
        """Make the equations of boards; `widths` are shares of the half thickness."""
        column = widths[:, None]
        pores, _ = potential_and_slope(1000.0 / density - 1.0 / CELL_WALL_DENSITY)
        wood = _Wood(density * half_m, diffusivity / half_m**2, pores)
        return cls(column, 2.0 / (column[1:] + column[:-1]), wood)

    def step(self, air: Air, now: Guess, seconds: float) -> Guess:
        """Advance by `seconds`; boards that change much or do not converge in halves."""
        after, again = self._two_stages(air, now, seconds)
        if again.any() and seconds < SHORTEST_TRY_S:
            raise ArithmeticError("the drying model does not converge")
        if seconds >= SHORTEST_STEP_S:
            change = after.mc - now.mc
            again |= np.abs(change, out=change).max(0) > LARGEST_CHANGE
        some = np.flatnonzero(again)
        if not len(some):
            return after
        scheme, half = self._replace(wood=_take(self.wood, some)), _take(now, some)
        for _ in range(2):
            half = scheme.step(_take(air, some), half, seconds / 2)
        return _put(after, some, half)

    def _two_stages(self, air: Air, now: Guess, seconds: float) -> tuple[Guess, Mask]:
        """Return the boards after `seconds`, and for which a stage did not converge."""
        span = STAGE * seconds
        first, failed = self._solve(self._stage(air, now.mc, now.temp, span), now)
        onward = (1.0 - STAGE) / STAGE
        mc = first.mc - now.mc
        ahead = first.mc + mc
        mc *= onward
        mc += now.mc
        temp = now.temp + onward * (first.temp - now.temp)
        guess = first._replace(mc=np.maximum(ahead, LEAST_MC, out=ahead))
        second, failed_too = self._solve(self._stage(air, mc, temp, span), guess)
        return second, failed | failed_too

    def _stage(self, air: Air, mc: Array, temp: Array, span: float) -> _Stage:
        mass, rate, pores = self.wood
        water = (self.widths.T @ mc)[0]
        capacity = mass * (WOOD_HEAT_CAPACITY + WATER_HEAT_CAPACITY * water)
        wet, _ = emc.isotherm(emc.coefficients(temp), ONE)
        return _Stage(
            mc,
            water,
            temp,
            air.temp_c,
            air.heat,
            air.conductance,
            air.conductance * air.vapor_pa,
            air.rain,
            air.gain,
            air.sky_view,
            span / capacity,
            span / mass,
            span * rate,
            mass * rate * (2.0 / self.widths[0]),
            pores,
            potential_and_slope(wet)[0],
            air.mobility,
        )

    def _solve(self, stage: _Stage, guess: Guess) -> tuple[Guess, Mask]:
        """Solve a stage by Newton's method; say which boards did not converge.

        Boards that have converged rest while the others go on.
        """
        found, far = self._newton(stage, guess)
        for _ in range(NEWTON_LIMIT):
            some = np.flatnonzero(far)
            if not len(some):
                break
            better, far[some] = self._newton(_take(stage, some), _take(found, some))
            found = _put(found, some, better)
        return found, far

    def _newton(self, stage: _Stage, guess: Guess) -> tuple[Guess, Mask]:
        """Return a better guess, and which boards are still far.

        The unknown in a cell is the change of its potential, slope times that of its moisture.
        The system is symmetric: its rows are water in a cell, in half thicknesses.
        """
        potential, slope = potential_and_slope(guess.mc, stage.mobility)
        at = _face(stage, guess, potential[0])

        between = self.near * (stage.through * temperature_factor(at.temp))
        flow = potential[1:] - potential[:-1]
        flow *= between
        rest = stage.mc - guess.mc
        rest *= self.widths
        rest[:-1] += flow
        rest[1:] -= flow
        diagonal = self.widths / slope
        diagonal[:-1] += between
        diagonal[1:] += between
        rest[0] -= stage.drying * at.lost
        diagonal[0] += stage.drying * at.lost_by
        change = _tridiagonal(between, diagonal, rest)

        face = change[0]
        lost, warmer = at.lost + at.lost_by * face, at.temp_by * face
        humid = _within(at.rh + at.rh_by * face, 0.3 * at.rh, ONE)
        change /= slope
        after = guess.mc + change
        self._check_water(stage, after, lost)
        most = np.abs(change, out=change).max(0)
        far = at.far | (most >= TOLERANCE_MC) | (np.abs(warmer) >= TOLERANCE_K)
        if most.max() >= TOLERANCE_MC:
            after = np.maximum(after, 0.2 * guess.mc)
        return Guess(after, at.temp + _within(warmer, -15.0, 15.0), humid), far

    def _check_water(self, stage: _Stage, after: Array, lost: Array) -> None:
        """Hold the water the cells have lost against what left, as shares of dry mass."""
        off = stage.water - (self.widths.T @ after)[0] - stage.drying * lost
        if not np.abs(off).max() <= WATER_LOST:
            raise ArithmeticError("the drying model lost or made water")


def _face(stage: _Stage, guess: Guess, potential: Array) -> _Face:
    """Solve the balances of water and heat at the face, for a potential behind it.

    The relative humidity h in the wood at the face is where conductance * (h p_sat - p_air) is
    what diffusion and rain bring; it is 1 where they bring more than the air takes. Of dew and
    rain the wood takes no more than fills its pores.
    """
    _, temp, rh = guess
    at = emc.coefficients(temp)
    source = stage.leaving + stage.rain
    for _ in range(FACE_STEPS):
        by_rh, steeper = saturation_pressure_and_slope(temp)
        by_rh, steeper = stage.conductance * by_rh, stage.conductance * steeper
        supply = stage.supply * temperature_factor(temp)
        sorbed, rise = emc.isotherm(at, rh)
        behind, slope = potential_and_slope(sorbed)
        dry = (supply * (potential - stage.full) < by_rh - source).astype(float)
        by_supply = supply * slope * rise
        pull = by_rh + by_supply
        excess = by_rh * rh - source - supply * (potential - behind)
        step = _within(rh - excess / pull, 0.3 * rh, ONE) - rh
        step *= dry
        rh = 1.0 - dry * (1.0 - rh - step)

        pull = dry / pull
        follow = -steeper * rh * pull
        vapor = by_rh * rh - stage.leaving
        by_temp = steeper * rh + by_rh * follow
        kelvin = temp + 273.15
        glow = stage.sky_view * STEFAN_BOLTZMANN * kelvin**3
        gain = stage.heat * (stage.air - temp) + stage.gain - glow * kelvin - LATENT_HEAT * vapor
        stiff = 1.0 + stage.warming * (stage.heat + 4.0 * glow + LATENT_HEAT * by_temp)
        change = _within((stage.temp - temp + stage.warming * gain) / stiff, -15.0, 15.0)
        temp = temp + change
        rh = _within(rh + follow * change, 0.01, ONE)
    rh_by = supply * pull
    by_rh_pull = by_rh * rh_by
    temp_by = -LATENT_HEAT * stage.warming * by_rh_pull / stiff
    lost = vapor + by_temp * change - stage.rain
    lost_by = by_rh_pull + by_temp * temp_by
    if lost.min() < 0.0:
        most = supply * np.minimum(potential - stage.pores, 0.0)
        filled = lost < most
        lost, lost_by = np.where(filled, most, lost), np.where(filled, supply, lost_by)
    far = (np.abs(change) >= TOLERANCE_K) | (np.abs(step) >= TOLERANCE_RH)
    return _Face(lost, lost_by, temp, temp_by, rh, rh_by + follow * temp_by, far)


Arrays = TypeVar("Arrays", Guess, Air, _Wood, _Stage)


def _within(values: Array, least: float | Array, most: float | Array) -> Array:
    """Clip; twice as fast as `numpy.clip` on short arrays."""
    values = np.maximum(values, least)
    return np.minimum(values, most, out=values)


def _take(of: Arrays, boards: NDArray[np.intp]) -> Arrays:
    """Return some of the boards."""
    return type(of)(*(array.take(boards, -1) for array in of))


def _put(into: Guess, boards: NDArray[np.intp], values: Guess) -> Guess:
    """Write some boards' values into all of them."""
    for array, value in zip(into, values, strict=True):
        array[..., boards] = value
    return into


def _tridiagonal(off: Array, diagonal: Array, right: Array) -> Array:
    """Solve symmetric tridiagonal systems, one a column, using up `diagonal` and `right`.

    The off-diagonals are -`off`, of one row less. Few systems are solved as one long one without
    coupling.
    """
    rows, boards = diagonal.shape
    if boards <= FEW_BOARDS:
        beside = np.zeros((boards, rows))
        np.negative(off.T, out=beside[:, :-1])
        *_, solution, info = dptsv(diagonal.T.ravel(), beside.ravel()[:-1], right.T.ravel())
        if info != 0:
            raise ArithmeticError("the drying model's equations have no solution")
        return np.ascontiguousarray(solution.reshape(boards, rows).T)
    factors, scratch = np.empty_like(off), np.empty(boards)
    for i in range(rows - 1):
        np.divide(off[i], diagonal[i], out=factors[i])
        diagonal[i + 1] -= np.multiply(factors[i], off[i], out=scratch)
        right[i + 1] += np.multiply(factors[i], right[i], out=scratch)
    right /= diagonal
    for i in range(rows - 2, -1, -1):
        right[i] += np.multiply(factors[i], right[i + 1], out=scratch)
    return right
