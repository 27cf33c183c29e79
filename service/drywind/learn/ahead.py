"""How stacks may go on: many boards of each, of all the wood it may be, in all that may come.

Each draw is one wood that the weighings leave possible, in one weather that could come. The model
errs, too: by a share of what is lost after the last reading, and by a lesser one before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, qmc

from drywind.climate.stack_air import Board, Drivers
from drywind.judge.cases import Case
from drywind.learn.nodes import START_H, in_other_air, repeated
from drywind.learn.priors import Priors
from drywind.wood.drying import Boards, State, simulate

Array = NDArray[np.float64]

DRAWS = 32
"""A power of two, as the draws are spread evenly."""

NINETY = float(norm.ppf(0.95))
"""Standard deviations on either side that hold nine tenths of a normal distribution."""


@dataclass(frozen=True)
class Unsure:
    """A stack's board, the hour of its last reading (0 if none), and the air of each draw.

    `ahead` is the air from hour `start` on; where it is empty the case's own goes on.
    """

    case: Case
    read_at: int
    start: int = 0
    ahead: tuple[Drivers, ...] = ()
    board: Board = Board.TYPICAL

    @property
    def column(self) -> slice:
        """Where the board stands in the stack's arrays."""
        at = list(Board).index(self.board)
        return slice(at, at + 1)

    @property
    def hours(self) -> int:
        """How many hours there are."""
        ahead = max((len(air.air_temp_c) for air in self.ahead), default=0)
        return self.start + ahead if self.ahead else self.case.hours


@dataclass(frozen=True)
class Futures:
    """A stack's board in every draw.

    Attributes
    ----------
    mc_pct
        Moisture content by the hour since stacking, shape (hours + 1, draws).
    ln_diffusion
        Of each draw, about what is believed, shape (draws,).
    """

    mc_pct: Array
    ln_diffusion: Array

    def interval(self, values: Array) -> tuple[float, float]:
        """Return what nine in ten draws lie within, taken as normal."""
        mean, sd = float(values.mean()), float(values.std(ddof=1))
        return mean - NINETY * sd, mean + NINETY * sd


def futures(stacks: Sequence[Unsure], priors: Priors, draws: int = DRAWS) -> list[Futures]:
    """Return how stacks may go on, all dried in one batch; they begin green."""
    if not stacks:
        return []
    off = _normals(draws)
    batches = [_draws(stack, off, priors) for stack in stacks]
    drivers = Drivers.beside([batch.drivers for batch in batches])
    green = np.concatenate([batch.green for batch in batches])
    start = State.green(green, np.nan_to_num(drivers.air_temp_c[0], nan=15.0))
    mc = simulate(Boards.beside([batch.boards for batch in batches]), drivers, start).mc
    return [
        Futures(
            100.0
            * _with_model_error(
                mc[: stack.hours + 1, i * draws : (i + 1) * draws], stack, off, priors
            ),
            batch.ln_diffusion,
        )
        for i, (stack, batch) in enumerate(zip(stacks, batches, strict=True))
    ]


@dataclass(frozen=True)
class _Draws:
    boards: Boards
    drivers: Drivers
    green: Array
    ln_diffusion: Array


def _normals(draws: int) -> Array:
    """Return independent standard normal numbers, spread evenly: shape (draws, 6)."""
    with_seed = qmc.Sobol(6, seed=8)
    return np.asarray(norm.ppf(with_seed.random(draws)), np.float64)


def _draws(stack: Unsure, off: Array, priors: Priors) -> _Draws:
    case, wood = stack.case, stack.case.wood
    green_sd = wood.green_sd or np.hypot(priors.green_species_sd, priors.green_stack_sd)
    if not wood.green_sd and case.stack.green_mc_pct is not None:
        green_sd = priors.green_told_sd
    ln_f = (wood.diffusion_sd or priors.diffusion_sd) * off[:, 0]
    tied = wood.correlation
    ln_g = green_sd * (tied * off[:, 0] + np.sqrt(1.0 - tied**2) * off[:, 1])
    return _Draws(
        _boards(case, np.exp(ln_f)),
        _air(stack, off[:, 2], priors),
        case.green_mc * np.exp(ln_g),
        ln_f,
    )


def _boards(case: Case, faster: Array) -> Boards:
    like, count = case.boards, len(faster)
    return Boards(
        np.full(count, like.half_thickness_m[0]),
        np.full(count, like.density_kgm3[0]),
        like.diffusivity_m2s[0] * faster,
    )


def _air(stack: Unsure, warmer: Array, priors: Priors) -> Drivers:
    """Return the air of each draw. Of a weighed stack it is the one its wood was learned in."""
    if not stack.ahead:
        air = repeated(stack.case.drivers.boards(stack.column), len(warmer))
    else:
        so_far = stack.case.drivers.hours(slice(stack.start)).boards(stack.column)
        each = [stack.ahead[i % len(stack.ahead)].boards(stack.column) for i in range(len(warmer))]
        air = Drivers.after([repeated(so_far, len(warmer)), Drivers.beside(each)])
    air = air.eased(np.repeat(stack.case.wood.ease[stack.column], len(warmer)))
    return air if stack.case.wood.readings else in_other_air(air, warmer, priors)


def _with_model_error(mc: Array, stack: Unsure, off: Array, priors: Priors) -> Array:
    """Return moisture contents that the model has wrong by as much as it may.

    What it had wrong before the last reading is known by it but for a little.
    """
    at = stack.read_at
    lost = mc[0] - mc
    known, since = np.minimum(np.arange(len(mc)), at), lost - lost[at]
    since[: at + 1] = 0.0
    early = lost[np.minimum(np.arange(len(mc)), START_H)] - lost[min(at, START_H)]
    wrong = (
        priors.model_share * off[:, 3] * lost[known]
        + priors.model_ahead * off[:, 4] * since
        + priors.start_share * off[:, 5] * np.maximum(early, 0.0)
    )
    return np.asarray(np.maximum(mc - wrong, 0.01), np.float64)
