"""How likely stacks are to come over a limit, in weather that could well come of a forecast.

Every stack, as it stands or with a remedy on, is dried through every member of the weather side by
side, from the state it has now, and judged in each as in the forecast itself.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import pandas as pd

from drywind.climate.stack_air import Drivers, boards_of
from drywind.judge.findings import Hazard
from drywind.judge.hazards import pace
from drywind.judge.runs import Case, Grounds, Run, dry
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting
from drywind.yard import Setup

OVER = 1.0


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
    run
        The stack as it has dried up to now, or up to when work can be done.
    limit
        Its safe daily loss.
    setups
        How it stands, as (from this hour since stacking on, setup), the first from `run.hour`.
    """

    run: Run
    limit: float
    setups: tuple[tuple[int, Setup], ...]

    @classmethod
    def as_it_stands(cls, run: Run, limit: float, now: datetime) -> "Course":
        """Return a stack to which nothing is done."""
        return cls(run, limit, ((run.hour, run.case.stack.setup_at(now)),))

    def ahead(self, grounds: Grounds) -> tuple[Drivers, pd.DataFrame]:
        """Return the air that acts on it, and the weather behind it."""
        case = self.run.case
        ends = [*(hour for hour, _ in self.setups[1:]), case.hours]
        parts = [
            grounds.air(setup, case.time_of(start), case.time_of(end))
            for (start, setup), end in zip(self.setups, ends, strict=True)
        ]
        return Drivers.after([air for air, _ in parts]), pd.concat([part for _, part in parts])


def chances(
    courses: Sequence[Course], grounds: Grounds, now: datetime, ahead: int
) -> list[Odds | None]:
    """Return how often each course goes over each limit; None if unknown.

    Parameters
    ----------
    ahead
        As in `drywind.judge.hazards.pace`.
    """
    members = grounds.members() if courses else ()
    if not members:
        return [None] * len(courses)
    airs = [
        course.ahead(replace(grounds, tables=tables)) for tables in members for course in courses
    ]
    repeated = list(courses) * len(members)
    together = dry([c.run for c in repeated], Drivers.beside([drivers for drivers, _ in airs]))
    found: list[list[Mapping[Hazard, bool]]] = [[] for _ in courses]
    for i, (course, (drivers, weather)) in enumerate(zip(repeated, airs, strict=True)):
        dried = course.run.onward(together, i, course.run.case.hours)
        seen = replace(dried, case=_in_weather(course, drivers, weather, grounds))
        found[i % len(courses)].append(_over(seen, course.limit, now, ahead))
    return [_odds([over for over in each if over]) for each in found]


def _over(run: Run, limit: float, now: datetime, ahead: int) -> Mapping[Hazard, bool]:
    """Return which hazards go over their limits; nothing where nothing can be said."""
    hour = run.case.hour_of(now)
    judged = pace(run, hour, ahead, limit)
    if judged.worst is None:
        return {}
    return {
        Hazard.TOO_FAST: judged.worst.severity >= OVER,
        Hazard.STAIN: stain(run, hour).over,
        Hazard.WETTING: wetting(run, hour, ahead).over,
    }


def _odds(found: Sequence[Mapping[Hazard, bool]]) -> Odds | None:
    if not found:
        return None
    over = {hazard: float(np.mean([each[hazard] for each in found])) for hazard in found[0]}
    return Odds(over, float(np.mean([not any(each.values()) for each in found])))


def _in_weather(course: Course, drivers: Drivers, ahead: pd.DataFrame, grounds: Grounds) -> Case:
    """Return the stack's case with other weather ahead, which says what is unknown of it."""
    case, hour = course.run.case, course.run.hour
    return replace(
        case,
        drivers=Drivers.after([case.drivers.hours(slice(0, hour)), drivers]),
        weather=pd.concat([case.weather.iloc[:hour], ahead]),
        counted=boards_of(grounds.sites[course.setups[0][1].site], course.setups[0][1]),
    )
