"""What the weighings of one stack say of its wood, as likelihoods on a grid.

A board differs from its stack, its oven-dry weight may be wrong, the air at the site was not quite
the forecast's, the model is not the wood, and now and then a reading is a mistake: each stands in
the likelihood, so that no reading is trusted too far and a wild one hardly at all.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.judge.cases import Case
from drywind.learn.nodes import (
    DIFFUSION_NODES,
    DIFFUSION_REACH,
    EDGE_NODES,
    EDGE_REACH,
    GREEN_NODES,
    GREEN_REACH,
    Asked,
    Simulated,
    weights,
)
from drywind.learn.priors import Priors
from drywind.samples import METER_LIMIT_PCT, Basis, Position, Reading, SampleBoard

Array = NDArray[np.float64]

DIFFUSIONS = np.linspace(-DIFFUSION_REACH, DIFFUSION_REACH, 49)
GREENS = np.linspace(-GREEN_REACH, GREEN_REACH, 25)
EASES = np.linspace(-EDGE_REACH, EDGE_REACH, 11)
"""The grid, in logarithms about the species' table and the model."""


@dataclass(frozen=True)
class Measured:
    """A stack's boards with the readings that can be used, and what was simulated for them.

    `hours` are those of `Asked`, in whose order `Simulated` tells of them.
    """

    asked: Asked
    boards: tuple[SampleBoard, ...]
    simulated: Mapping[Position, Simulated]

    @property
    def readings(self) -> int:
        """How many readings there are."""
        return sum(len(board.readings) for board in self.boards)

    @property
    def at_edge(self) -> bool:
        """Whether boards at the edge and elsewhere were measured: only both tell them apart."""
        return len({board.position is Position.EDGE for board in self.boards}) > 1


def usable(board: SampleBoard, case: Case) -> SampleBoard:
    """Return a board with the readings that lie within its stack's simulation.

    What a meter said above fiber saturation is no reading.
    """
    kept = [
        r
        for r in board.readings
        if case.begin_hour <= hour_of(case, r) <= case.hours
        and not (r.metered and (r.mc_pct is None or r.mc_pct > METER_LIMIT_PCT))
    ]
    return SampleBoard(board.name, board.position, board.dry_kg, board.basis, tuple(kept))


def ask(case: Case, boards: Sequence[SampleBoard]) -> Asked:
    """Return what has to be simulated to make use of boards."""
    hours: dict[Position, set[int]] = {}
    for board in boards:
        told = {hour_of(case, reading) for reading in board.readings}
        hours[board.position] = hours.get(board.position, set()) | told
    return Asked(case, {at: tuple(sorted(told)) for at, told in hours.items()})


def hour_of(case: Case, reading: Reading) -> int:
    """Return the hour since stacking after which the boards were as they were measured."""
    return round((reading.time - case.start).total_seconds() / 3600.0)


def log_likelihood(measured: Measured, priors: Priors) -> Array:
    """Return how well each wood explains all boards, shape (diffusion, green, ease)."""
    total = np.zeros((len(DIFFUSIONS), len(GREENS), len(EASES)))
    for board in measured.boards:
        if board.tells:
            total = total + _explained(_against(measured, board, priors), priors)
    return total


@dataclass(frozen=True)
class _Against:
    """A board's readings against what each wood has of them.

    Attributes
    ----------
    off
        Readings less what the stack's mean board would be at, fractions of oven-dry mass: shape
        (diffusion, green, ease, readings).
    noise
        Standard deviation of each reading by itself, of the same shape.
    shifts
        By how much one standard deviation of each thing that shifts all of them would: shape
        (things, diffusion, green, ease, readings).
    """

    off: Array
    noise: Array
    shifts: Array


def _against(measured: Measured, board: SampleBoard, priors: Priors) -> _Against:
    told = measured.simulated[board.position]
    hours = measured.asked.hours[board.position]
    rows = [hours.index(hour_of(measured.asked.case, r)) for r in board.readings]
    mc, start = _on_grid(told.mc[..., rows]), _on_grid(told.start_mc[..., rows])
    green = (measured.asked.case.green_mc * np.exp(GREENS))[None, :, None, None]
    noise = np.hypot([_noise(r, priors) for r in board.readings], priors.model_share * (green - mc))
    shifts = np.stack(
        [
            priors.board_sd * np.gradient(mc, DIFFUSIONS, axis=0),
            priors.green_board_sd * np.gradient(mc, GREENS, axis=1),
            (green - mc) * told.weather[rows],
            (green - start) * priors.start_share,
            _dry_sd(board, priors) * (1.0 + mc) * [r.kg is not None for r in board.readings],
        ]
    )
    if board.dry_kg is None and all(r.mc_pct is None for r in board.readings):
        return _by_first(np.array([r.kg for r in board.readings]), mc, noise, shifts)
    kept = [k for k, r in enumerate(board.readings) if r.mc_pct is not None]
    seen = np.array([r.mc_pct for r in board.readings if r.mc_pct is not None]) / 100.0
    return _Against(seen - mc[..., kept], noise[..., kept], shifts[..., kept])


def _by_first(kg: Array, mc: Array, noise: Array, shifts: Array) -> _Against:
    """Return weights of unknown oven-dry weight, against the first of them."""
    ratio = kg[1:] / kg[0]
    first = slice(0, 1)
    off = ratio * (1.0 + mc[..., first]) - 1.0 - mc[..., 1:]
    apart = shifts[..., 1:] - ratio * shifts[..., first]
    return _Against(off, np.hypot(noise[..., 1:], ratio * noise[..., first]), apart)


def _explained(against: _Against, priors: Priors) -> Array:
    """Return the log likelihood of a board's readings; a few of them may be mistakes."""
    count = against.off.shape[-1]
    spread = np.einsum("s...i,s...j->...ij", against.shifts, against.shifts)
    found = np.full(against.off.shape[:-1], -np.inf)
    for wrong in _mistakes(count):
        noise = np.hypot(against.noise, priors.wrong_pct / 100.0 * wrong)
        covariance = spread + noise[..., None] * np.eye(count) * noise[..., None, :]
        # A whole tail of mistakes, as of swapped boards, is one mistake.
        share = np.log(priors.wrong_share) if wrong.any() else np.log1p(-priors.wrong_share)
        found = np.logaddexp(found, share + _log_normal(against.off, covariance))
    return found


def _mistakes(count: int) -> list[Array]:
    """Return which readings may be wrong: none, any one, or all from one on."""
    single = list(np.eye(count))
    tails = [np.array([float(k >= first) for k in range(count)]) for first in range(count - 1)]
    return [np.zeros(count), *single, *tails]


def _log_normal(off: Array, covariance: Array) -> Array:
    """Return the logarithm of a normal density, but for its constant."""
    lower = np.linalg.cholesky(covariance)
    scaled = np.linalg.solve(lower, off[..., None])[..., 0]
    size = np.log(np.diagonal(lower, axis1=-2, axis2=-1)).sum(-1)
    return np.asarray(-0.5 * np.square(scaled).sum(-1) - size, np.float64)


def _on_grid(nodes: Array) -> Array:
    """Return moisture content on the grid, (diffusion, green, ease, hours), of that at nodes."""
    ease = weights(EDGE_NODES, EASES) if nodes.shape[2] > 1 else np.ones((1, 1))
    return np.asarray(
        np.einsum(
            "fF,gG,aA,FGAh->fgah",
            *(weights(DIFFUSION_NODES, DIFFUSIONS), weights(GREEN_NODES, GREENS), ease, nodes),
            optimize=True,
        )
    )


def _noise(reading: Reading, priors: Priors) -> float:
    """Return by how much a reading errs by itself, as a fraction of oven-dry mass."""
    if reading.metered:
        return priors.meter_pct / 100.0
    return (priors.told_pct if reading.kg is None else priors.weigh_pct) / 100.0


def _dry_sd(board: SampleBoard, priors: Priors) -> float:
    """Return by what share a board's oven-dry weight may be off."""
    return {
        Basis.OVEN: priors.oven_sd,
        Basis.SECTIONS: priors.sections_sd,
        Basis.UNKNOWN: 0.0,
    }[board.basis]
