"""The drying of a stack held against what its wood can safely stand.

A board's loss over a window is weighed against the safe daily loss of its species and thickness.
Any diffusion model starts steeply (with the square root of time), so a fresh stack is judged by
the mean of its first two days, and by single days from the second on.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board
from drywind.judge.runs import Run
from drywind.wood.limits import weight

Array = NDArray[np.float64]

DAY = 24
FIRST_WINDOW = 48
WINDOW_AHEAD = 12
"""A window counts while at least so many of its hours still lie ahead (assumption)."""

PEAK_HOURS = 3
"""Hours in a row that are told as the fastest (assumption)."""

SHELL_HOURS = 72
SHELL_CHECKS_PCT = 24.0
SHELL_SCALE_PCT = 6.0
"""A fresh board whose outer millimeter falls below 24 % MC within three days is likely to check;
each 6 points less count like a loss of once the limit more. From the order of simulated cases
only, never held against cracked boards (assumption)."""


@dataclass(frozen=True)
class Window:
    """The drying of one board over some hours, against what it safely stands.

    Attributes
    ----------
    start, hours
        Hours since stacking, and length.
    loss_pct_per_day, safe_pct_per_day
        Mean loss, and the one that would just be safe: the limit while the board is above 40 %
        MC, more below, infinite below 25 %.
    shell_pct
        The lowest moisture content the outer millimeter has yet to come to within the board's
        first `SHELL_HOURS`; None for a window that ends later, where it tells nothing.
    """

    board: Board
    start: int
    hours: int
    loss_pct_per_day: float
    safe_pct_per_day: float
    shell_pct: float | None

    @property
    def end(self) -> int:
        """The first hour after the window."""
        return self.start + self.hours

    @property
    def ratio(self) -> float:
        """Loss over safe loss."""
        return self.loss_pct_per_day / self.safe_pct_per_day

    @property
    def severity(self) -> float:
        """How bad: 1 is the limit.

        The ratio; but in the first days every board loses fast, and only one whose outer
        millimeter dries out as well is in danger: there the lesser of the two signals counts.
        """
        if self.shell_pct is None:
            return self.ratio
        return min(self.ratio, float(_by_skin(self.shell_pct)))


@dataclass(frozen=True)
class Pace:
    """How fast a stack will dry over the hours ahead, against how fast it safely may.

    Attributes
    ----------
    by_board
        The worst window of each board that counts; empty where nothing can be said.
    onset
        The earliest window over the limit, of any board; None if there is none.
    complete
        Whether every window that should be judged could be; a gap is never "safe".
    judged
        The windows that could be, as (start, hours).
    relief
        The hour the danger of the last window over the limit is past, if any is judged after it;
        None if not.
    """

    by_board: dict[Board, Window]
    onset: Window | None
    complete: bool
    judged: frozenset[tuple[int, int]] = frozenset()
    relief: int | None = None

    @property
    def until(self) -> int:
        """The hour up to which the stack was judged."""
        return max((start + hours for start, hours in self.judged), default=0)

    @property
    def worst(self) -> Window | None:
        """The worst window of all."""
        return max(self.by_board.values(), key=lambda w: w.severity, default=None)


def pace(run: Run, now: int, ahead: int, limit_pct_per_day: float) -> Pace:
    """Judge the windows that start within `ahead` hours of hour `now`, of a run gone past them.

    Parameters
    ----------
    now, ahead
        Hours since stacking, and hours from then on.
    limit_pct_per_day
        The safe daily loss of the stack's boards at high moisture content.
    """
    if run.case.is_lost(now):
        return Pace({}, None, complete=False)
    windows = [w for w in _windows(now, ahead) if w[0] >= run.case.begin_hour]
    gaps = np.concatenate([[0], np.cumsum(~run.case.known)])
    judged = [
        (start, hours)
        for start, hours in windows
        if start + hours <= run.case.hours and gaps[start + hours] == gaps[start]
    ]
    if not judged:
        return Pace({}, None, complete=not windows)
    columns = run.case.counted_columns
    mc_pct, shell_pct = net_of_rain(run.mc_pct[:, columns]), run.shell_pct[:, columns]
    found = severities(mc_pct, shell_pct, judged, limit_pct_per_day, max(now, 0))

    def window(which: int, column: int) -> Window:
        curves = mc_pct[:, column], shell_pct[:, column]
        board = run.case.counted[column]
        return _window(curves, board, judged[which], limit_pct_per_day, max(now, 0))

    worst = {
        board: window(int(found[:, column].argmax()), column)
        for column, board in enumerate(run.case.counted)
    }
    over = np.argwhere(found >= 1.0)
    onset = relief = None
    if len(over):
        which, column = min(over, key=lambda at: (judged[at[0]][0], -found[tuple(at)]))
        onset = window(which, column)
        # A fresh board is judged by its skin of the first three days as well.
        ends = [sum(judged[at[0]]) for at in over]
        last = max(SHELL_HOURS, *ends)
        relief = last if last < max(map(sum, judged)) else None
    return Pace(worst, onset, len(judged) == len(windows), frozenset(judged), relief)


def net_of_rain(mc_pct: Array) -> Array:
    """Return moisture contents with what rain and dew brought left out, shape (hours + 1, boards).

    What they bring is quickly gone again, and is no loss of the wood: a board counts as no wetter
    than it has been. NaN where nothing is known yet.
    """
    net: Array = np.fmin.accumulate(mc_pct, axis=0)
    return net


def fastest_hours(
    run: Run, now: int, ahead: int, limit_pct_per_day: float
) -> tuple[int, float] | None:
    """Return the first of the three fastest hours ahead, and their pace over the safe one.

    A few hours a day that are too fast harm wood although the day's loss is fine (Wengert, Trouble
    drying 8/4 oak, woodweb.com, seen). No figure was found for how much too fast, so nothing is
    decided by it. None where nothing is known. Arguments as of `pace`.
    """
    first, until = max(now, run.case.begin_hour, 0), min(now + ahead, run.case.hours - PEAK_HOURS)
    mc_pct = net_of_rain(run.mc_pct[:, run.case.counted_columns])
    if run.case.is_lost(now) or until <= first:
        return None
    starts = np.arange(first, until)
    loss = (mc_pct[starts] - mc_pct[starts + PEAK_HOURS]) * DAY / PEAK_HOURS
    ratio = np.nan_to_num((loss * weight(mc_pct[starts])).max(axis=1)) / limit_pct_per_day
    fastest = int(ratio.argmax())
    return int(starts[fastest]), float(ratio[fastest])


def fresh_days_over(mc_pct: Array, shell_pct: Array, limit: float | Array) -> NDArray[np.bool_]:
    """Return on which days boards stacked at hour 0 go over their limit, shape (days, boards).

    The first two are judged together, as `Window` has it. Arguments as of `fresh_severity`.
    """
    days = (len(mc_pct) - 1) // DAY
    spans = [(0, FIRST_WINDOW), *((day * DAY, DAY) for day in range(2, days))]
    over = severities(net_of_rain(mc_pct), shell_pct, spans, limit, 0) >= 1.0
    return np.concatenate([over[:1], over])


def fresh_severity(mc_pct: Array, shell_pct: Array, limit: float | Array) -> tuple[Array, Array]:
    """Return how bad the worst window is of each board stacked at hour 0, shape (boards,).

    Besides, the loss of the first day over the safe one: steep on any day, and nothing to decide by
    (see `Window`), but it tells a day in the heat from one after it.

    Parameters
    ----------
    mc_pct, shell_pct
        By the hour since stacking, shape (hours + 1, boards), of three days or more.
    limit
        The safe daily loss of wet boards; one, or one a board.
    """
    spans, net = _windows(0, len(mc_pct) - 1 - DAY), net_of_rain(mc_pct)
    worst: Array = severities(net, shell_pct, spans, limit, 0).max(axis=0)
    return worst, (net[0] - net[DAY]) / limit


def severities(
    mc_pct: Array,
    shell_pct: Array,
    spans: Sequence[tuple[int, int]],
    limit: float | Array,
    now: int,
) -> Array:
    """Return how bad each window is for each board, shape (windows, boards); see `Window`.

    Parameters
    ----------
    mc_pct, shell_pct
        By the hour since stacking, shape (hours + 1, boards).
    spans
        Start and length of each window.
    limit, now
        The safe daily loss of wet boards (one, or one a board), and the present hour.
    """
    start, hours = np.array(spans).T
    loss = (mc_pct[start] - mc_pct[start + hours]) * DAY / hours[:, None]
    ratio: Array = loss * weight(mc_pct[start]) / limit
    fresh = start + hours <= SHELL_HOURS
    if fresh.any():
        driest = shell_pct[now : SHELL_HOURS + 1].min(0)
        ratio[fresh] = np.minimum(ratio[fresh], _by_skin(driest))
    return ratio


def _by_skin(shell_pct: Array | float) -> Array:
    """Return how bad the outer millimeter of a fresh board is; 1 is the limit."""
    return np.asarray(1.0 + (SHELL_CHECKS_PCT - shell_pct) / SHELL_SCALE_PCT)


def _windows(now: int, ahead: int) -> list[tuple[int, int]]:
    """Return (start, hours) of the windows to judge."""
    windows = []
    if now + WINDOW_AHEAD <= FIRST_WINDOW:
        windows.append((0, FIRST_WINDOW))
    first = max(DAY, now + WINDOW_AHEAD - DAY)
    return windows + [(start, DAY) for start in range(first, max(now, 0) + ahead + 1)]


def _window(
    curves: tuple[Array, Array], board: Board, span: tuple[int, int], limit: float, now: int
) -> Window:
    (start, hours), (mc_pct, shell_pct) = span, curves
    counts = float(weight(mc_pct[start]))
    shell = None
    if start + hours <= SHELL_HOURS:
        shell = float(shell_pct[now : SHELL_HOURS + 1].min())
    return Window(
        board,
        start,
        hours,
        float(mc_pct[start] - mc_pct[start + hours]) * DAY / hours,
        limit / counts if counts else float("inf"),
        shell,
    )
