"""How stacks may go on: many boards of each, of all the wood it may be, in all that may come.

Each draw is one wood that the weighings leave possible, in one weather that could come. The model
errs, too: in the pace after the last reading, and in what was lost before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from drywind.climate.stack_air import Board, Drivers
from drywind.judge.cases import Case
from drywind.learn.nodes import START_H, in_other_air, repeated, scaled
from drywind.learn.priors import Priors
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.emc import emc_fraction_and_slope

Array = NDArray[np.float64]

DRAWS = 32
"""A power of two, as the draws are spread evenly."""

STEP_H = 6
"""Hours a step in the weeks after the forecast, to boards that have dried for days."""

CHUNK_STEPS = 20 * 24 // STEP_H

AT_REST = 0.13
"""Moisture content at which boards outdoors come to rest, about (assumption, 0.11-0.16)."""

NINETY = float(ndtri(0.95))
"""Standard deviations on either side that hold nine tenths of a normal distribution."""


@dataclass(frozen=True)
class Unsure:
    """A stack's board, the hour of its last reading (0 if none), and the air of each draw.

    `ahead` is the air from hour `start` on; where it is empty the case's own goes on. `beyond` is
    what follows that, in means of `STEP_H` hours; the draws take them in turn.
    """

    case: Case
    read_at: int
    start: int = 0
    ahead: tuple[Drivers, ...] = ()
    beyond: tuple[Drivers, ...] = ()
    board: Board = Board.TYPICAL

    @property
    def column(self) -> int:
        """Where the board stands in the stack's arrays."""
        return list(Board).index(self.board)

    @property
    def hours(self) -> int:
        """How many hours there are, before what lies beyond."""
        ahead = max((len(air.air_temp_c) for air in self.ahead), default=0)
        return self.start + ahead if self.ahead else self.case.hours


@dataclass(frozen=True)
class Futures:
    """A stack's board in every draw.

    Attributes
    ----------
    hours
        Hours since stacking of each row.
    mc_pct
        Moisture content, shape (rows, draws).
    ln_diffusion
        Of each draw, about what is believed, shape (draws,).
    """

    hours: NDArray[np.intp]
    mc_pct: Array
    ln_diffusion: Array

    def at(self, hour: int) -> Array:
        """Return the moisture content of each draw at an hour."""
        return np.asarray(self.mc_pct[int(np.searchsorted(self.hours, hour))], np.float64)


def interval(values: Array) -> tuple[float, float]:
    """Return what nine in ten draws lie within, taken as normal."""
    mean, sd = float(values.mean()), float(values.std(ddof=1))
    return mean - NINETY * sd, mean + NINETY * sd


def futures(
    stacks: Sequence[Unsure], priors: Priors, draws: int = DRAWS, until_pct: float = 0.0
) -> list[Futures]:
    """Return how stacks may go on, all dried in one batch.

    Parameters
    ----------
    until_pct
        What lies beyond is gone through until every draw is as dry.
    """
    if not stacks:
        return []
    off = _normals(draws)
    drawn = [_drawn(stack, off, priors) for stack in stacks]
    boards = Boards.beside([d.boards for d in drawn])
    near = simulate(
        boards, Drivers.beside([d.drivers for d in drawn]), State.beside([d.start for d in drawn])
    )
    far = _beyond(stacks, boards, near.end, draws, until_pct)
    found = []
    for i, (stack, mine) in enumerate(zip(stacks, drawn, strict=True)):
        columns = slice(i * draws, (i + 1) * draws)
        rows = stack.hours - stack.case.begin_hour + 1
        mc = np.concatenate([near.mc[:rows, columns], far[:, columns]])
        later = stack.hours + STEP_H * (1 + np.arange(len(far)))
        hours = np.concatenate([stack.case.begin_hour + np.arange(rows), later])
        mc = _with_model_error(hours, mc, stack, off, priors)
        found.append(Futures(hours, 100.0 * mc, mine.ln_diffusion))
    return found


def _beyond(
    stacks: Sequence[Unsure], boards: Boards, state: State, draws: int, until_pct: float
) -> Array:
    """Return moisture content after the forecast, by `STEP_H`, until all are dry enough."""
    if not all(stack.beyond for stack in stacks):
        return np.empty((0, len(boards.density_kgm3)))
    air = Drivers.beside([_in_turn(s, s.beyond, draws) for s in stacks])
    found = [np.empty((0, len(boards.density_kgm3)))]
    for start in range(0, len(air.air_temp_c), CHUNK_STEPS):
        course = simulate(boards, air.hours(slice(start, start + CHUNK_STEPS)), state, STEP_H)
        found.append(course.mc[1:])
        state = course.end
        if (100.0 * course.mc[-1] < until_pct).all():
            break
    return np.concatenate(found)


@dataclass(frozen=True)
class _Drawn:
    boards: Boards
    drivers: Drivers
    start: State
    ln_diffusion: Array


def _normals(draws: int) -> Array:
    """Return independent standard normal numbers, spread evenly: shape (draws, 6)."""
    from scipy.stats import qmc  # noqa: PLC0415 - 40 MB, for plans and not for every pass

    return np.asarray(ndtri(qmc.Sobol(6, seed=8).random(draws)), np.float64)


def _drawn(stack: Unsure, off: Array, priors: Priors) -> _Drawn:
    case, wood = stack.case, stack.case.wood
    green_sd = wood.green_sd or float(np.hypot(priors.green_species_sd, priors.green_stack_sd))
    if not wood.green_sd and case.stack.green_mc_pct is not None:
        green_sd = priors.green_told_sd
    ln_f = (wood.diffusion_sd or priors.diffusion_sd) * off[:, 0]
    tied = wood.correlation
    ln_g = green_sd * (tied * off[:, 0] + np.sqrt(1.0 - tied**2) * off[:, 1])
    boards, air = scaled(case, np.exp(ln_f), stack.column), _air(stack, off[:, 2], priors)
    start = _start(case, boards, air, (case.green_mc * np.exp(ln_g), priors.told_pct * off[:, 1]))
    return _Drawn(boards, air, start, ln_f)


def _start(case: Case, boards: Boards, air: Drivers, off: tuple[Array, Array]) -> State:
    """Return boards fresh from the saw; or half-dried, about the reading the case begins at."""
    green, read_off = off
    temp = np.nan_to_num(air.air_temp_c[0], nan=15.0)
    if case.begin_hour == 0:
        return State.green(green, temp)
    humid = np.nan_to_num(air.vapor_pressure_pa[0] / saturation_pressure_pa(temp), nan=0.65)
    face, _ = emc_fraction_and_slope(temp, humid)
    parts = [
        State.part_dried(
            boards.some(slice(i, i + 1)),
            (case.green_mc, max(0.05, case.begin_mc + read_off[i] / 100.0)),
            face[i : i + 1],
        )
        for i in range(len(green))
    ]
    return replace(State.beside(parts), temp_c=temp)


def _air(stack: Unsure, warmer: Array, priors: Priors) -> Drivers:
    """Return the air of each draw. Of a weighed stack it is the one its wood was learned in."""
    case, column = stack.case, slice(stack.column, stack.column + 1)
    begun = case.drivers.hours(slice(case.begin_hour, None)).boards(column)
    if not stack.ahead:
        air = repeated(begun, len(warmer)).eased(np.repeat(case.wood.ease[column], len(warmer)))
    else:
        so_far = repeated(begun.hours(slice(stack.start - case.begin_hour)), len(warmer))
        so_far = so_far.eased(np.repeat(case.wood.ease[column], len(warmer)))
        air = Drivers.after([so_far, _in_turn(stack, stack.ahead, len(warmer))])
    return air if case.wood.readings else in_other_air(air, warmer, priors)


def _in_turn(stack: Unsure, airs: Sequence[Drivers], draws: int) -> Drivers:
    """Return the board's air of each draw, of airs that are taken in turn."""
    column = slice(stack.column, stack.column + 1)
    each = [airs[i % len(airs)].boards(column) for i in range(draws)]
    return Drivers.beside(each).eased(np.repeat(stack.case.wood.ease[column], draws))


def _with_model_error(
    hours: NDArray[np.intp], mc: Array, stack: Unsure, off: Array, priors: Priors
) -> Array:
    """Return moisture contents that the model has wrong by as much as it may.

    From the last reading on every draw has a pace of its own; what it had wrong by then, which
    the reading tells but for a little, fades as the board comes to rest.
    """
    read = int(np.searchsorted(hours, max(stack.read_at, hours[0])))
    first = int(np.searchsorted(hours, hours[0] + START_H))
    since = np.maximum(hours - hours[read], 0)
    paces = np.maximum(1.0 + priors.model_ahead * off[:, 4], 0.5)
    at = np.minimum(hours, hours[read]) + np.outer(paces, since)
    mc = np.stack([np.interp(at[i], hours, mc[:, i]) for i in range(mc.shape[1])], axis=1)
    lost, rows = mc[0] - mc, np.arange(len(mc))
    early = lost[np.minimum(rows, first)] - lost[min(read, first)]
    wrong = priors.model_share * off[:, 3] * lost[np.minimum(rows, read)]
    wrong += priors.start_share * off[:, 5] * np.maximum(early, 0.0)
    then = mc[np.minimum(rows, max(read, first))]
    left = np.clip((mc - AT_REST) / np.maximum(then - AT_REST, 1e-3), 0.0, 1.0)
    return np.asarray(np.maximum(mc - wrong * left, 0.01), np.float64)
