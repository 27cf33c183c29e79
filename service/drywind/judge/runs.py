"""Stacks dried hour by hour in one batch.

A `Run` is a case dried up to some hour; runs are advanced together, and may branch off into
another setup, or another weather, from the hour they have come to.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, boards_of
from drywind.judge.cases import Case, Grounds
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import clocks
from drywind.wood.clocks import Clocks
from drywind.wood.drying import Boards, Course, State, simulate
from drywind.wood.limits import Limit
from drywind.yard import Setup

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Run:
    """A case dried up to (the start of) `hour`.

    `mc_pct`, `shell_pct` and the clocks have shape (hours + 1, 3) and are NaN where the run has not
    come yet, or where it did not pass because it was resumed.
    """

    case: Case
    hour: int
    state: State
    mc_pct: Array
    shell_pct: Array
    clocks: Clocks

    @classmethod
    def fresh(cls, case: Case) -> "Run":
        """Return the run of a stack at the hour its simulation begins."""
        hour = case.begin_hour
        mc = np.full(len(Board), case.begin_mc)
        state = case.begin(case.boards, mc, case.drivers.hours(slice(hour, None)))
        return cls.resumed(case, hour, state, Clocks.clean(len(Board), *case.waited))

    @classmethod
    def resumed(cls, case: Case, hour: int, state: State, at: Clocks) -> "Run":
        """Return a run taken up at an hour it had come to before, where its clocks stood so."""
        empty = np.full((case.hours + 1, len(Board)), np.nan)
        mc = empty.copy()
        mc[case.begin_hour] = 100.0 * case.begin_mc
        return cls(case, hour, state, mc, mc.copy(), Clocks.filled(empty, hour, at))

    def within(self, hours: int) -> "Run":
        """Return the run, not yet gone so far, of a case of no more than so many hours."""
        drivers, weather = self.case.drivers.hours(slice(hours)), self.case.weather.iloc[:hours]
        so_far = slice(hours + 1)
        return replace(
            self,
            case=replace(self.case, drivers=drivers, weather=weather),
            mc_pct=self.mc_pct[so_far],
            shell_pct=self.shell_pct[so_far],
            clocks=self.clocks.at(so_far),
        )

    def onward(self, dried: "Dried", which: int, hour: int) -> "Run":
        """Return the run gone on to an hour, as the boards of stack `which` dried."""
        mine = slice(which * len(Board), (which + 1) * len(Board))
        rows, length = slice(self.hour, hour + 1), hour - self.hour + 1
        course = dried.course
        mc, shell = self.mc_pct.copy(), self.shell_pct.copy()
        mc[rows] = 100.0 * course.mc[:length, mine]
        shell[rows] = 100.0 * course.shell_mc[:length, mine]
        gone = self.clocks.replaced(rows, dried.clocks.columns(mine).at(slice(length)))
        return Run(self.case, hour, course.end.columns(mine), mc, shell, gone)


class Dried(NamedTuple):
    """Boards of many stacks dried side by side, and their clocks."""

    course: Course
    clocks: Clocks


def dry(runs: Sequence[Run], drivers: Drivers) -> Dried:
    """Dry the boards of runs, each from where it has come to, through hours of drivers."""
    drivers = drivers.eased(np.concatenate([r.case.wood.ease for r in runs]))
    course = simulate(
        Boards.beside([r.case.boards for r in runs]), drivers, State.beside([r.state for r in runs])
    )
    started = Clocks.beside([r.clocks.at(r.hour) for r in runs])
    rh = drivers.vapor_pressure_pa / saturation_pressure_pa(drivers.air_temp_c)
    return Dried(course, clocks.run(started, drivers.air_temp_c, rh, course.shell_mc[1:]))


@dataclass(frozen=True)
class View:
    """A stack at an instant: its run, which must not lie after `now`, and all around it.

    What lies ahead may differ from one view of a stack to the next, as forecasts do.
    """

    run: Run
    limit: Limit
    grounds: Grounds
    now: datetime

    @property
    def hour(self) -> int:
        """The present hour, counted from stacking."""
        return self.run.case.hour_of(self.now)

    @property
    def setup(self) -> Setup:
        """How the stack stands."""
        return self.run.case.stack.setup_at(self.now)


def advance(runs: Sequence[Run], to_hours: Sequence[int]) -> list[Run]:
    """Dry each run on to its own hour, all in one batch."""
    if not runs:
        return []
    spans = [slice(r.hour, max(r.hour, to)) for r, to in zip(runs, to_hours, strict=True)]
    drivers = [r.case.drivers.hours(span) for r, span in zip(runs, spans, strict=True)]
    dried = dry(runs, Drivers.beside(drivers))
    return [
        run.onward(dried, i, span.stop)
        for i, (run, span) in enumerate(zip(runs, spans, strict=True))
    ]


def branch(run: Run, setup: Setup, grounds: Grounds) -> Run:
    """Return the run with its stack set up otherwise from the hour it has come to."""
    case = run.case
    air, weather = grounds.air(setup, case.time_of(run.hour), case.time_of(case.hours))
    changed = replace(
        case,
        drivers=Drivers.after([case.drivers.hours(slice(0, run.hour)), air]),
        weather=pd.concat([case.weather.iloc[: run.hour], weather]),
        counted=boards_of(grounds.sites[setup.site], setup),
    )
    return replace(run, case=changed)
