"""Fresh stacks followed until they are dry: over their limit on how many days, stained, and when.

The first ten days go by the hour, what follows in longer steps (see `judge.fresh.Pace`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.judge.fresh import (
    STAINS_ABOVE,
    TRIED_HOURS,
    Airs,
    Batch,
    Lumber,
    Pace,
    Spot,
    Stretch,
    Tried,
    Waited,
    stain_shares,
    stretches,
    try_fresh,
)
from drywind.judge.hazards import DAY
from drywind.wood.limits import NO_WEIGHT_MC_PCT, weight
from drywind.wood.stain import blue_dose, enzymatic_dose

Array = NDArray[np.float64]

PACE = Pace(3, 6, 365 * DAY - TRIED_HOURS)
SCREEN_PACE = Pace(6, 6, 50 * DAY)
"""Of what is only to be chosen between."""

KILN_READY_PCT = NO_WEIGHT_MC_PCT
"""From here on hardly anything can be damaged, and a kiln takes it: lumber is handed to one at
20 to 25 % (FPL 1684, from memory)."""

AIR_DRY_PCT = 20.0


@dataclass
class Followed:
    """Stacks at spots, followed until dry; arrays of shape (spots,).

    Attributes
    ----------
    tried
        Their first ten days.
    ratio
        The worst day of any board, 1 is the limit; NaN where hours are unknown.
    board
        Which board that is, as a place in `Board`.
    stain
        What the worst clock comes to until the typical board is at 40 % MC, as a share.
    days_over
        On how many days a board goes over its limit.
    to_25, to_20
        Days until the typical board is kiln-ready, and air-dry; NaN if its weather ends before.
    """

    tried: Tried
    ratio: Array
    board: NDArray[np.intp]
    stain: Array
    days_over: Array
    to_25: Array
    to_20: Array


def follow(
    lumber: Lumber,
    spots: Sequence[Spot],
    airs: Airs,
    limit: Sequence[float] | Array,
    pace: Pace = PACE,
) -> Followed:
    """Dry fresh boards at spots until the typical one is at 20 % MC, or the weather ends.

    Parameters
    ----------
    limit
        Safe daily loss while wet, one a spot.
    """
    batch = Batch.of(spots, airs)
    tried = try_fresh(lumber, batch, limit, Waited.none(len(spots)))
    course = _Course(batch, batch.each(limit))
    behind = []
    for place, which in zip(batch.spot_of, batch.boards, strict=True):
        hour, air = airs.at(spots[place])
        behind.append((hour + TRIED_HOURS, air.boards(slice(int(which), int(which) + 1))))
    for stretch in stretches(tried.boards, tried.end, behind, pace, course.live):
        course.take(stretch)
    doses = Waited(*(a + b for a, b in zip(tried.doses, course.doses, strict=True)))
    later = stain_shares(lumber, doses, np.zeros(len(spots)))
    return Followed(
        tried,
        np.fmax(tried.severity, course.ratio) + 0.0 * tried.severity,
        np.where(course.ratio > tried.severity, course.board, tried.board),
        np.maximum(tried.stain, later),
        tried.days_over + course.days_over,
        TRIED_HOURS / DAY + course.to_25,
        TRIED_HOURS / DAY + course.to_20,
    )


class _Course:
    """What comes to pass after the first days, stretch by stretch."""

    def __init__(self, batch: Batch, limit: Array) -> None:
        spots, boards = len(batch.spots), len(batch.boards)
        self.batch, self.limit = batch, limit
        self.live = np.ones(boards, np.bool_)
        self.lowest = np.full(boards, np.inf)
        self.ratio, self.days_over = np.zeros(spots), np.zeros(spots)
        self.board = np.zeros(spots, np.intp)
        self.to_25, self.to_20 = np.full(spots, np.nan), np.full(spots, np.nan)
        self.doses = Waited(np.zeros(spots), np.zeros(spots))

    def take(self, stretch: Stretch) -> None:
        """Note what came in a stretch, and who need not go on."""
        on, _, step_h, _, course = stretch
        pct = 100.0 * course.mc
        # What rain and dew bring is no loss when it goes again; see `hazards.net_of_rain`.
        net = np.minimum(np.minimum.accumulate(pct, axis=0), self.lowest[on])
        self.lowest[on] = net[-1]
        self._paces(on, net[:: DAY // step_h])
        self._dryness(stretch, pct)
        self._stains(stretch)

    def _paces(self, on: NDArray[np.intp], days_pct: Array) -> None:
        loss = days_pct[:-1] - days_pct[1:]
        ratio = loss * weight(days_pct[:-1]) / self.limit[on]
        spots = self.batch.spot_of[on]
        found, first = np.unique(spots, return_index=True)
        self.days_over[found] += np.logical_or.reduceat(ratio >= 1.0, first, axis=1).sum(axis=0)
        worst = ratio.max(axis=0)
        np.maximum.at(self.ratio, spots, worst)
        leading = worst >= self.ratio[spots]
        self.board[spots[leading]] = self.batch.boards[on[leading]]

    def _dryness(self, stretch: Stretch, pct: Array) -> None:
        on, hour, step_h, *_ = stretch
        inside = np.flatnonzero(self.batch.boards[on] == 0)
        spots = self.batch.spot_of[on[inside]]
        for days, mark in ((self.to_25, KILN_READY_PCT), (self.to_20, AIR_DRY_PCT)):
            below = pct[:, inside] <= mark
            there = below.any(axis=0) & np.isnan(days[spots])
            at = hour + step_h * below.argmax(axis=0)
            days[spots[there]] = at[there] / DAY
        # No loss counts below 25 %; the typical board alone goes on to 20 %.
        self.live[on[(pct[-1] <= KILN_READY_PCT) & (self.batch.boards[on] > 0)]] = False
        ready = np.isfinite(self.to_25)[self.batch.spot_of]
        dry = np.isfinite(self.to_20)[self.batch.spot_of]
        self.live &= ~dry & ((self.batch.boards == 0) | ~ready)

    def _stains(self, stretch: Stretch) -> None:
        on, _, step_h, air, course = stretch
        inside = np.flatnonzero(self.batch.boards[on] == 0)
        spots = self.batch.spot_of[on[inside]]
        wet = course.mc[1:, inside] > STAINS_ABOVE
        shell, temp = np.where(wet, course.shell_mc[1:, inside], 0.0), air.air_temp_c[:, inside]
        self.doses.enzymatic[spots] += step_h * enzymatic_dose(temp, shell).known[-1]
        self.doses.blue[spots] += step_h * blue_dose(temp, shell).known[-1]
