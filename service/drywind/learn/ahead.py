"""How stacks may go on: many boards of each, of all the wood it may be, in all that may come.

Each draw is one wood that the weighings leave possible, in one weather that could come, and in air
that takes water as readily as they leave possible. The model errs, too: in the pace after the last
reading, in what leaves frozen boards, and in what was lost before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from drywind.climate.stack_air import Board, Drivers
from drywind.judge.cases import Case
from drywind.learn.nodes import START_H, in_other_air, is_frozen, repeated, scaled
from drywind.learn.priors import Priors
from drywind.wood.diffusion import FIBER_SATURATION
from drywind.wood.drying import Boards, State, simulate

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


def loss_interval(values: Array) -> tuple[float, float]:
    """Return the same of water lost, which comes of factors: taken as lognormal if all lose some.

    Taken as normal, losses of made stacks lay above their intervals four times as often as below.
    """
    if not (values > 0.0).all():
        return interval(values)
    low, high = np.exp(interval(np.log(values)))
    return float(low), float(high)


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
    far, far_frozen = _beyond(stacks, drawn, near.end, until_pct)
    found = []
    for i, (stack, mine) in enumerate(zip(stacks, drawn, strict=True)):
        columns = slice(i * draws, (i + 1) * draws)
        rows = stack.hours - stack.case.begin_hour + 1
        mc = np.concatenate([near.mc[:rows, columns], far[:, columns]])
        later = stack.hours + STEP_H * (1 + np.arange(len(far)))
        hours = np.concatenate([stack.case.begin_hour + np.arange(rows), later])
        frozen = np.concatenate([is_frozen(mine.drivers)[: rows - 1], far_frozen[:, columns]])
        mc = _with_model_error(hours, mc, frozen, stack.read_at, (off, priors))
        found.append(Futures(hours, 100.0 * mc, mine.ln_diffusion))
    return found


def _beyond(
    stacks: Sequence[Unsure], drawn: "Sequence[_Drawn]", state: State, until_pct: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Return moisture content after the forecast, by `STEP_H`, until all are dry enough.

    With it, whether the boards were frozen; both of shape (rows, boards).
    """
    found, rows = [np.empty((0, len(state.temp_c)))], 0
    if not all(stack.beyond for stack in stacks):
        return found[0], found[0].astype(bool)
    boards = Boards.beside([d.boards for d in drawn])
    airs = [_in_turn(s, s.beyond, d.ease) for s, d in zip(stacks, drawn, strict=True)]
    air = Drivers.beside(airs)
    while rows < len(air.air_temp_c):
        course = simulate(boards, air.hours(slice(rows, rows + CHUNK_STEPS)), state, STEP_H)
        found.append(course.mc[1:])
        rows, state = rows + len(course.mc) - 1, course.end
        if (100.0 * course.mc[-1] < until_pct).all():
            break
    return np.concatenate(found), is_frozen(air)[:rows]


@dataclass(frozen=True)
class _Drawn:
    boards: Boards
    drivers: Drivers
    ease: Array
    start: State
    ln_diffusion: Array


def _normals(draws: int) -> Array:
    """Return standard normal numbers, spread evenly: shape (draws, 8).

    So few are neither quite of deviation 1 nor quite uncorrelated; they are made to be.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - 40 MB, for plans and not for every pass

    off = ndtri(qmc.Sobol(8, seed=8).random(draws))
    off = off - off.mean(axis=0)
    root = np.linalg.cholesky(np.cov(off, rowvar=False))
    return np.asarray(np.linalg.solve(root, off.T).T, np.float64)


def _drawn(stack: Unsure, off: Array, priors: Priors) -> _Drawn:
    case, wood = stack.case, stack.case.wood
    sds = (
        wood.diffusion_sd or priors.diffusion_sd,
        wood.green_sd or _begin_sd(case, priors),
        wood.air_sd or priors.air_sd,
    )
    ln_f, ln_g, ln_a = np.array(sds)[:, None] * (_tied(wood.correlations) @ off[:, :3].T)
    boards = scaled(case, np.exp(ln_f), stack.column)
    ease = case.wood.ease[stack.column] * np.exp(ln_a)
    air = _air(stack, ease)
    if not wood.readings:
        # The wood of a weighed stack was learned in the air as it is told.
        air = in_other_air(air, off[:, 3], priors)
    start = case.begin(boards, case.begin_mc * np.exp(ln_g), air)
    return _Drawn(boards, air, ease, start, ln_f)


def _begin_sd(case: Case, priors: Priors) -> float:
    """Return the deviation of ln of the moisture content that a case begins at, before learning."""
    if case.begin_hour > 0:
        return priors.told_pct / (100.0 * case.begin_mc)
    if case.stack.green_mc_pct is not None:
        return priors.green_told_sd
    return priors.green_sd


def _tied(correlations: tuple[float, float, float]) -> Array:
    """Return what makes independent normal numbers correlated: the root of their matrix."""
    first, second, third = correlations
    matrix = [[1.0, first, second], [first, 1.0, third], [second, third, 1.0]]
    return np.asarray(np.linalg.cholesky(matrix), np.float64)


def _air(stack: Unsure, ease: Array) -> Drivers:
    """Return the air of each draw, which takes water so many times as readily."""
    case, column = stack.case, slice(stack.column, stack.column + 1)
    begun = case.drivers.hours(slice(case.begin_hour, None)).boards(column)
    if not stack.ahead:
        return repeated(begun, len(ease)).eased(ease)
    so_far = repeated(begun.hours(slice(stack.start - case.begin_hour)), len(ease)).eased(ease)
    return Drivers.after([so_far, _in_turn(stack, stack.ahead, ease)])


def _in_turn(stack: Unsure, airs: Sequence[Drivers], ease: Array) -> Drivers:
    """Return the board's air of each draw, of airs that are taken in turn."""
    column = slice(stack.column, stack.column + 1)
    each = [airs[i % len(airs)].boards(column) for i in range(len(ease))]
    return Drivers.beside(each).eased(ease)


def _with_model_error(
    hours: NDArray[np.intp],
    mc: Array,
    frozen: NDArray[np.bool_],
    read_at: int,
    drawn: tuple[Array, Priors],
) -> Array:
    """Return moisture contents that the model has wrong by as much as it may.

    From the last reading on every draw has a pace of its own, further off the older the stack is
    against what it was then: nothing read in three days tells much of the third week. What the
    draw had wrong by then, which the reading tells but for a little, fades as the board comes to
    rest.
    """
    off, priors = drawn
    read = int(np.searchsorted(hours, max(read_at, hours[0])))
    first = int(np.searchsorted(hours, hours[0] + START_H))
    steps = np.diff(hours, prepend=hours[0])
    older = np.maximum(np.log((hours + START_H) / (hours[read] + START_H)), 0.0)
    paces = np.maximum(1.0 + priors.model_ahead * np.outer(off[:, 4], np.sqrt(older)), 0.5)
    at = hours[0] + np.cumsum(paces * steps, axis=1)
    iced = np.where(frozen & (older[1:, None] > 0.0), -np.diff(mc, axis=0), 0.0)
    mc = np.stack([np.interp(at[i], hours, mc[:, i]) for i in range(mc.shape[1])], axis=1)
    lost, rows = mc[0] - mc, np.arange(len(mc))
    early = lost[np.minimum(rows, first)] - lost[min(read, first)]
    wrong = priors.model_share * off[:, 5] * lost[np.minimum(rows, read)]
    wetter = np.maximum(mc[0] - FIBER_SATURATION, 0.0)
    wrong += np.expm1(priors.start_share * wetter * off[:, 6]) * np.maximum(early, 0.0)
    wrong[1:] += np.cumsum(iced, axis=0) * np.expm1(priors.frozen_sd * off[:, 7])
    then = mc[np.minimum(rows, max(read, first))]
    left = np.clip((mc - AT_REST) / np.maximum(then - AT_REST, 1e-3), 0.0, 1.0)
    return np.asarray(np.maximum(mc - wrong * left, 0.01), np.float64)
