"""How likely stacks are to come over a limit, in weather that could well come of a forecast.

Every stack, as it stands or with a remedy on, is dried through every member of the weather side by
side, from the state it has now, and judged in each as in the forecast itself.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from drywind.climate.stack_air import Drivers, boards_of
from drywind.judge.cases import Case
from drywind.judge.findings import Hazard
from drywind.judge.hazards import pace
from drywind.judge.runs import Run, View, dry
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting
from drywind.yard import Setup

OVER = 1.0

MEMBERS = 31
"""Weathers tried for how likely harm is: chances come in steps of about 3 %."""


@dataclass(frozen=True)
class Odds:
    """Shares of the members: in which each hazard goes over its limit, and in which none does."""

    over: Mapping[Hazard, float]
    spared: float


@dataclass(frozen=True)
class Course:
    """A stack to be dried through many weathers.

    Attributes
    ----------
    view
        Its run has come to the hour from which the members act on it.
    setups
        How it stands, as (from this hour since stacking on, setup), the first from there.
    """

    view: View
    setups: tuple[tuple[int, Setup], ...]

    @classmethod
    def as_it_stands(cls, view: View) -> "Course":
        """Return a stack to which nothing is done."""
        return cls(view, ((view.run.hour, view.setup),))

    def ahead(self, tables: Mapping[str, pd.DataFrame]) -> tuple[Drivers, pd.DataFrame]:
        """Return the air that acts on it in some weather, and that weather."""
        case, grounds = self.view.run.case, replace(self.view.grounds, tables=tables)
        ends = [*(hour for hour, _ in self.setups[1:]), case.hours]
        parts = [
            grounds.air(setup, case.time_of(start), case.time_of(end))
            for (start, setup), end in zip(self.setups, ends, strict=True)
        ]
        return Drivers.after([air for air, _ in parts]), pd.concat([part for _, part in parts])


def chances(courses: Sequence[Course], ahead: int) -> list[Odds | None]:
    """Return how often each course goes over each limit; None if unknown.

    Parameters
    ----------
    ahead
        As in `drywind.judge.hazards.pace`.
    """
    which = [i for i, c in enumerate(courses) for _ in c.view.grounds.could_come]
    if not which:
        return [None] * len(courses)
    airs = [c.ahead(tables) for c in courses for tables in c.view.grounds.could_come]
    runs = [courses[i].view.run for i in which]
    together = dry(runs, Drivers.beside([drivers for drivers, _ in airs]))
    found: list[list[Mapping[Hazard, bool]]] = [[] for _ in courses]
    for i, (run, air) in enumerate(zip(runs, airs, strict=True)):
        course = courses[which[i]]
        dried = replace(run.onward(together, i, run.case.hours), case=_in_weather(course, *air))
        found[which[i]].append(_over(dried, course.view, ahead))
    return [_odds([over for over in each if over]) for each in found]


def _over(run: Run, view: View, ahead: int) -> Mapping[Hazard, bool]:
    """Return which hazards go over their limits; nothing where nothing can be said."""
    judged = pace(run, view.hour, ahead, view.limit.value)
    if judged.worst is None:
        return {}
    return {
        Hazard.TOO_FAST: judged.worst.severity >= OVER,
        Hazard.STAIN: stain(run, view.hour).over,
        Hazard.WETTING: wetting(run, view.hour, ahead).over,
    }


def _odds(found: Sequence[Mapping[Hazard, bool]]) -> Odds | None:
    if not found:
        return None
    over = {hazard: float(np.mean([each[hazard] for each in found])) for hazard in found[0]}
    return Odds(over, float(np.mean([not any(each.values()) for each in found])))


def _in_weather(course: Course, drivers: Drivers, ahead: pd.DataFrame) -> Case:
    """Return the stack's case with other weather ahead, which says what is unknown of it."""
    case, hour, (_, setup) = course.view.run.case, course.view.run.hour, course.setups[0]
    return replace(
        case,
        drivers=Drivers.after([case.drivers.hours(slice(0, hour)), drivers]),
        weather=pd.concat([case.weather.iloc[:hour], ahead]),
        counted=boards_of(course.view.grounds.sites[setup.site], setup),
    )
