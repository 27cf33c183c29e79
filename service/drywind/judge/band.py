"""The whole course of stacks, from stacking to the end of the forecast, with a band ahead.

A pass takes stacks up at saved states; a picture shows how they came there.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers
from drywind.judge.cases import Grounds
from drywind.judge.chance import Course, mc_in_members
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run, View
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.limits import weight

Array = NDArray[np.float64]

QUANTILES = (0.1, 0.9)
"""The band holds eight in ten of the weathers that could well come."""

EVERY = 3
"""Every so many of them are tried: a band needs fewer than a chance."""


@dataclass(frozen=True)
class Whole:
    """A run that is known from where it began, and the band of its moisture content ahead.

    Attributes
    ----------
    low_pct, high_pct
        Shape (hours + 1, 3), in percent; NaN up to now, and all of it where no weathers are known.
    """

    run: Run
    low_pct: Array
    high_pct: Array

    @classmethod
    def without_band(cls, run: Run) -> "Whole":
        """Return a run by itself."""
        return cls(run, np.full_like(run.mc_pct, np.nan), np.full_like(run.mc_pct, np.nan))


def wholes(outlooks: Sequence[Outlook], grounds: Grounds) -> list[Whole]:
    """Return the whole course of each stack.

    Parameters
    ----------
    grounds
        Those the outlooks were made on, with the weathers that could come.
    """
    hours = [max(o.now, o.case.begin_hour) for o in outlooks]
    past = _past([Run.fresh(o.case) for o in outlooks], hours)
    some = replace(grounds, members=lambda: grounds.could_come[::EVERY])
    views = [
        View(run, outlook.limit, some, outlook.case.time_of(hour))
        for outlook, run, hour in zip(outlooks, past, hours, strict=True)
    ]
    members = mc_in_members([Course.as_it_stands(view) for view in views])
    return [_whole(*one) for one in zip(outlooks, past, members, strict=True)]


def _past(runs: Sequence[Run], to_hours: Sequence[int]) -> list[Run]:
    """Dry each run on to its own hour as `advance` does, but let no clock run: none is drawn."""
    if not runs:
        return []
    spans = [slice(r.hour, max(r.hour, to)) for r, to in zip(runs, to_hours, strict=True)]
    course = simulate(
        Boards.beside([run.case.boards for run in runs]),
        Drivers.beside([r.case.drivers.hours(span) for r, span in zip(runs, spans, strict=True)]),
        State.beside([run.state for run in runs]),
    )
    gone = []
    for i, (run, span) in enumerate(zip(runs, spans, strict=True)):
        mine = slice(i * len(Board), (i + 1) * len(Board))
        rows, length = slice(span.start, span.stop + 1), span.stop - span.start + 1
        mc, shell = run.mc_pct.copy(), run.shell_pct.copy()
        mc[rows] = 100.0 * course.mc[:length, mine]
        shell[rows] = 100.0 * course.shell_mc[:length, mine]
        state = course.end.columns(mine)
        gone.append(replace(run, hour=span.stop, state=state, mc_pct=mc, shell_pct=shell))
    return gone


def _whole(outlook: Outlook, past: Run, members: Array | None) -> Whole:
    mc, shell = outlook.run.mc_pct.copy(), outlook.run.shell_pct.copy()
    so_far = slice(past.hour + 1)
    mc[so_far], shell[so_far] = past.mc_pct[so_far], past.shell_pct[so_far]
    low, high = np.full_like(mc, np.nan), np.full_like(mc, np.nan)
    if members is not None:
        low[past.hour :], high[past.hour :] = np.quantile(members, QUANTILES, axis=0)
    return Whole(replace(outlook.run, mc_pct=mc, shell_pct=shell), low, high)


def safe_pace(begin_pct: float, limit: float, hours: int) -> Array:
    """Return the moisture content of a board that loses just what is safe, shape (hours + 1,).

    It begins at `begin_pct` and ends where no limit holds any more; from there on it is NaN.
    """
    mc = np.full(hours + 1, np.nan)
    mc[0] = begin_pct
    for hour in range(hours):
        counts = float(weight(mc[hour]))
        if not counts:
            break
        mc[hour + 1] = mc[hour] - limit / 24.0 / counts
    return mc
