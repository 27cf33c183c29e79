"""What the weighings of one stack say of its wood, as likelihoods on a grid.

A board differs from its stack, its oven-dry weight may be wrong, the air at the site was not quite
the forecast's, the model is not the wood, and now and then a reading is a mistake, or all of a day
are: each stands in the likelihood, so that no reading is trusted too far and a wild one hardly at
all.

How readily the air takes water is a third axis of the grid beside the two that are learned. Average
moisture content tells next to nothing of it (see service/MODEL.md); what is not known of it must
not be taken for knowledge of the wood.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.judge.cases import Case
from drywind.learn.nodes import (
    DIFFUSION_NODES,
    DIFFUSION_REACH,
    EASE_NODES,
    GREEN_NODES,
    GREEN_REACH,
    Asked,
    Simulated,
    weights,
)
from drywind.learn.priors import Priors
from drywind.samples import METER_LIMIT_PCT, Basis, Position, Reading, SampleBoard
from drywind.wood.diffusion import FIBER_SATURATION

Array = NDArray[np.float64]

DIFFUSIONS = np.linspace(-DIFFUSION_REACH, DIFFUSION_REACH, 25)
GREENS = np.linspace(-GREEN_REACH, GREEN_REACH, 25)
AIRS = 0.4 * np.arange(-3.0, 4.0)
EDGE_AIRS = 0.4 * np.arange(-4.0, 5.0)
"""The grid, in logarithms about the species' table and the model; the last two of how readily air
takes water from the stack, and from its edge: in steps of the deviation believed before a reading,
which weighings hardly narrow."""


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


@dataclass(frozen=True)
class Likely:
    """How well each wood explains a stack's boards, as log likelihoods.

    Attributes
    ----------
    inside
        Of boards in the middle and on top, shape (diffusion, green, air).
    edge
        Of boards at the edge, by the air there, shape (diffusion, green, edge air); None if none.
    """

    inside: Array
    edge: Array | None


def log_likelihood(measured: Measured, priors: Priors) -> Likely:
    """Return how well each wood explains all boards."""
    inside, edge = list[_Explained](), list[_Explained]()
    for board in measured.boards:
        if board.tells:
            found = _explained(_against(measured, board, priors), priors)
            (edge if board.position is Position.EDGE else inside).append(found)
    nothing = np.zeros((len(DIFFUSIONS), len(GREENS), len(AIRS)))
    return Likely(
        _together(inside, priors) if inside else nothing,
        _together(edge, priors) if edge else None,
    )


@dataclass(frozen=True)
class _Explained:
    """How likely a board's readings are: in all, and by the hour of one that is a mistake."""

    in_all: Array
    mistaken: Mapping[int, Array]


def _together(boards: Sequence[_Explained], priors: Priors) -> Array:
    """Return the log likelihood of boards, each by itself or all mistaken at once, as by rain."""
    by_itself = np.sum([board.in_all for board in boards], axis=0)
    counts = Counter(hour for board in boards for hour in board.mistaken)
    common = [hour for hour, count in counts.items() if count > 1]
    share = np.log(priors.wrong_share / max(len(common), 1))
    found = by_itself + np.log1p(-priors.wrong_share)
    for hour in common:
        at_once = [board.mistaken.get(hour, board.in_all) for board in boards]
        found = np.logaddexp(found, share + np.sum(at_once, axis=0))
    return np.asarray(found)


@dataclass(frozen=True)
class _Against:
    """A board's readings against what each wood has of them.

    Attributes
    ----------
    off
        Readings less what the stack's mean board would be at, fractions of oven-dry mass: shape
        (diffusion, green, air, readings).
    noise
        Standard deviation of each reading by itself, of the same shape.
    shifts
        By how much one standard deviation of each thing that shifts all of them would: shape
        (things, diffusion, green, air, readings).
    hours
        Of the readings, since stacking.
    """

    off: Array
    noise: Array
    shifts: Array
    hours: tuple[int, ...]


def _against(measured: Measured, board: SampleBoard, priors: Priors) -> _Against:
    told = measured.simulated[board.position]
    hours = tuple(hour_of(measured.asked.case, r) for r in board.readings)
    rows = [measured.asked.hours[board.position].index(hour) for hour in hours]
    airs = EDGE_AIRS if board.position is Position.EDGE else AIRS
    mc, start = (on_grid(nodes[..., rows], airs) for nodes in (told.mc, told.start_mc))
    green = (measured.asked.case.begin_mc * np.exp(GREENS))[:, None, None]
    noise = np.hypot([_noise(r, priors) for r in board.readings], priors.model_share * (green - mc))
    wetter = np.maximum(green - FIBER_SATURATION, 0.0)
    # What the model has wrong is the same for all of a stack's boards: together they tell no more
    # of the wood than one board that is as wrong, so each counts as wrong by the root of so many.
    together = np.sqrt(sum(b.tells for b in measured.boards))
    shifts = np.stack(
        [
            priors.board_sd * np.gradient(mc, DIFFUSIONS, axis=0),
            priors.green_board_sd * np.gradient(mc, GREENS, axis=1),
            together * (green - mc) * told.weather[rows],
            together * (green - mc) * told.frozen[rows] * priors.frozen_sd,
            together * priors.start_share * wetter * (green - start),
            _dry_sd(board, priors) * (1.0 + mc) * [r.kg is not None for r in board.readings],
        ]
    )
    if board.dry_kg is None and all(r.mc_pct is None for r in board.readings):
        return _by_first(board, _Against(mc, noise, shifts, hours))
    kept = [k for k, r in enumerate(board.readings) if r.mc_pct is not None]
    seen = np.array([r.mc_pct for r in board.readings if r.mc_pct is not None]) / 100.0
    hours = tuple(hours[k] for k in kept)
    return _Against(seen - mc[..., kept], noise[..., kept], shifts[..., kept], hours)


def _by_first(board: SampleBoard, each: _Against) -> _Against:
    """Return weights of unknown oven-dry weight, against the first of them.

    `each` is of every weight, with moisture content in place of `off`.
    """
    kg = np.array([r.kg for r in board.readings])
    ratio, first = kg[1:] / kg[0], slice(0, 1)
    off = ratio * (1.0 + each.off[..., first]) - 1.0 - each.off[..., 1:]
    noise = np.hypot(each.noise[..., 1:], ratio * each.noise[..., first])
    apart = each.shifts[..., 1:] - ratio * each.shifts[..., first]
    return _Against(off, noise, apart, each.hours[1:])


def _explained(against: _Against, priors: Priors) -> _Explained:
    """Return the log likelihood of a board's readings; a few of them may be mistakes."""
    count = len(against.hours)
    spread = np.einsum("s...i,s...j->...ij", against.shifts, against.shifts)
    in_all, mistaken = np.full(against.off.shape[:-1], -np.inf), {}
    for wrong in _mistakes(count):
        noise = np.hypot(against.noise, priors.wrong_pct / 100.0 * wrong)
        covariance = spread + noise[..., None] * np.eye(count) * noise[..., None, :]
        density = _log_normal(against.off, covariance)
        # A whole tail of mistakes, as of swapped boards, is one mistake.
        share = np.log(priors.wrong_share) if wrong.any() else np.log1p(-priors.wrong_share)
        in_all = np.logaddexp(in_all, share + density)
        if wrong.sum() == 1.0:
            mistaken[against.hours[int(wrong.argmax())]] = density
    return _Explained(in_all, mistaken)


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


def on_grid(nodes: Array, airs: Array) -> Array:
    """Return moisture content on the grid, (diffusion, green, air, hours), of that at nodes."""
    return np.asarray(
        np.einsum(
            "fF,gG,aA,FGAh->fgah",
            *(weights(DIFFUSION_NODES, DIFFUSIONS), weights(GREEN_NODES, GREENS)),
            *(weights(EASE_NODES, airs), nodes),
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
