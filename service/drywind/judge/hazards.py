"""The drying of a stack held against what its wood can safely stand.

A board's loss over a window is weighed against the safe daily loss of its species and thickness.
Any diffusion model starts steeply (with the square root of time), so a fresh stack is judged by
the mean of its first two days, and by single days from the second on.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board
from drywind.judge.runs import Run
from drywind.wood.limits import weight

DAY = 24
FIRST_WINDOW = 48
WINDOW_AHEAD = 12
"""A window counts while at least so many of its hours still lie ahead (assumption)."""

SHELL_CHECKS_PCT = 24.0
SHELL_HOURS = 72
"""A fresh board whose outer millimeter falls below this within three days is likely to check:
ordering of simulated cases only, never held against cracked boards (assumption)."""


class Hazard(StrEnum):
    """What can go wrong with a stack."""

    TOO_FAST = "too_fast"


@dataclass(frozen=True)
class Window:
    """The loss of one board over some hours, against its limit.

    `ratio` counts the loss in full while the board is above 40 % MC and less below.
    """

    board: Board
    start: int
    hours: int
    loss_pct_per_day: float
    ratio: float

    @property
    def end(self) -> int:
        """The first hour after the window."""
        return self.start + self.hours


@dataclass(frozen=True)
class Pace:
    """How fast a stack will dry over the hours ahead, against how fast it safely may.

    Attributes
    ----------
    by_board
        The worst window of each board that counts; empty where nothing ahead is known.
    onset
        The earliest window over the limit, of any board; None if there is none.
    complete
        Whether every window that should be judged could be; a gap is never "safe".
    checks_likely
        Whether the outer millimeter of a fresh board falls below `SHELL_CHECKS_PCT`.
    """

    by_board: dict[Board, Window]
    onset: Window | None
    complete: bool
    checks_likely: bool

    @property
    def worst(self) -> Window | None:
        """The worst window of all."""
        return max(self.by_board.values(), key=lambda w: w.ratio, default=None)


def pace(run: Run, now: int, ahead: int, limit_pct_per_day: float) -> Pace:
    """Judge the windows that start within `ahead` hours of hour `now`, of a run gone to its end.

    Parameters
    ----------
    now, ahead
        Hours since stacking, and hours from then on.
    limit_pct_per_day
        The safe daily loss of the stack's boards at high moisture content.
    """
    windows = _windows(now, ahead)
    known = np.concatenate([[0], np.cumsum(~run.case.known)])
    judged = [
        (start, hours)
        for start, hours in windows
        if start + hours <= run.case.hours and known[start + hours] == known[start]
    ]
    by_board, over = {}, []
    for board in run.case.counted:
        mc_pct = run.mc_pct[:, list(Board).index(board)]
        mine = [_window(board, mc_pct, span, limit_pct_per_day) for span in judged]
        if mine:
            by_board[board] = max(mine, key=lambda w: w.ratio)
        over += [w for w in mine if w.ratio >= 1.0]
    return Pace(
        by_board,
        min(over, key=lambda w: (w.start, -w.ratio), default=None),
        len(judged) == len(windows) > 0,
        bool(over) and _shell_dries(run, now),
    )


def _windows(now: int, ahead: int) -> list[tuple[int, int]]:
    """Return (start, hours) of the windows to judge."""
    windows = []
    if now + WINDOW_AHEAD <= FIRST_WINDOW:
        windows.append((0, FIRST_WINDOW))
    first = max(DAY, now + WINDOW_AHEAD - DAY)
    return windows + [(start, DAY) for start in range(first, max(now, 0) + ahead + 1)]


def _window(
    board: Board, mc_pct: NDArray[np.float64], span: tuple[int, int], limit: float
) -> Window:
    start, hours = span
    loss = float(mc_pct[start] - mc_pct[start + hours]) * DAY / hours
    return Window(board, start, hours, loss, loss * float(weight(mc_pct[start])) / limit)


def _shell_dries(run: Run, now: int) -> bool:
    columns = [list(Board).index(b) for b in run.case.counted]
    fresh = run.shell_pct[max(now, 0) : SHELL_HOURS + 1, columns]
    return bool((fresh < SHELL_CHECKS_PCT).any())
