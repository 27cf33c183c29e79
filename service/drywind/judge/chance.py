"""How likely stacks are to come over a limit, in weather that could well come of a forecast.

Every stack, as it stands or with a remedy on, is dried through every member of the weather side by
side, from the state it has now, and judged in each as in the forecast itself. Where weighings have
taught how fast a stack's wood dries, what they leave open goes along: each member has its own wood.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import NormalDist

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, boards_of, stack_air
from drywind.judge.cases import Case, Grounds
from drywind.judge.findings import Hazard
from drywind.judge.hazards import pace
from drywind.judge.runs import Run, View, dry
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting
from drywind.wood.drying import Boards, State, simulate
from drywind.yard import Setup

OVER = 1.0

MEMBERS = 31
"""Weathers tried for how likely harm is: chances come in steps of about 3 %."""

_GOLDEN = 0.5 * (5.0**0.5 - 1.0)


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

    def in_members(self, airs: "_Airs") -> list[Drivers]:
        """Return the air that acts on it from here on, in each member."""
        case, grounds = self.view.run.case, self.view.grounds
        ends = [*(hour for hour, _ in self.setups[1:]), case.hours]
        parts = [
            airs.ahead(grounds, setup, case.time_of(start), case.time_of(end))
            for (start, setup), end in zip(self.setups, ends, strict=True)
        ]
        return [Drivers.after(list(member)) for member in zip(*parts, strict=True)]

    def of_members(self) -> list[Run]:
        """Return its run with the wood of each member; the first has the one believed."""
        run, count = self.view.run, len(self.view.grounds.could_come)
        return [replace(run, case=_of_wood(run.case, sds)) for sds in wood_sds(count)]


def wood_sds(count: int) -> list[float]:
    """Return by how many standard deviations each member's wood is off, the first by none.

    Spread evenly over a normal distribution, in an order that has nothing to do with the weathers'.
    """
    shares = [(i * _GOLDEN + 0.5) % 1.0 for i in range(count)]
    return [NormalDist().inv_cdf(share) for share in shares]


def _of_wood(case: Case, sds: float) -> Case:
    if not case.wood.readings:
        return case
    faster = float(np.exp(sds * case.wood.diffusion_sd))
    boards = replace(case.boards, diffusivity_m2s=case.boards.diffusivity_m2s * faster)
    return replace(case, boards=boards)


class _Airs:
    """The air of all members at a stack that is set up some way, made once and at one go."""

    def __init__(self) -> None:
        self._made: dict[tuple[int, Setup], tuple[Drivers, pd.DatetimeIndex]] = {}

    def ahead(
        self, grounds: Grounds, setup: Setup, start: datetime, end: datetime
    ) -> list[Drivers]:
        """Return the air over [start, end), one for each member."""
        key = (id(grounds), setup)
        if key not in self._made:
            tables = [member[setup.site] for member in grounds.could_come]
            index = pd.DatetimeIndex(tables[0].index)
            self._made[key] = stack_air(pd.concat(tables), grounds.sites[setup.site], setup), index
        drivers, index = self._made[key]
        first, last = index.searchsorted(pd.DatetimeIndex([start, end]))
        return [
            drivers.hours(slice(i * len(index) + first, i * len(index) + last))
            for i in range(len(grounds.could_come))
        ]


def chances(courses: Sequence[Course], ahead: int) -> list[Odds | None]:
    """Return how often each course goes over each limit; None if unknown.

    Parameters
    ----------
    ahead
        As in `drywind.judge.hazards.pace`.
    """
    made = _Airs()
    asked = [c for c in courses if c.view.grounds.could_come]
    airs = [(course, air) for course in asked for air in course.in_members(made)]
    if not airs:
        return [None] * len(courses)
    runs = [run for course in asked for run in course.of_members()]
    together = dry(runs, Drivers.beside([air for _, air in airs]))
    found: dict[int, list[Mapping[Hazard, bool]]] = {id(c): [] for c in courses}
    for i, (course, air) in enumerate(airs):
        run = course.view.run
        dried = replace(run.onward(together, i, run.case.hours), case=_in_weather(course, air))
        found[id(course)].append(_over(dried, course.view, ahead))
    return [_odds([over for over in found[id(c)] if over]) for c in courses]


def mc_in_members(courses: Sequence[Course]) -> list[NDArray[np.float64] | None]:
    """Return the moisture content of each course in every member, by hour from where its run is.

    In percent, shape (members, hours + 1, 3); None where there are no members.
    """
    made = _Airs()
    asked = [c for c in courses if c.view.grounds.could_come]
    airs = [air for course in asked for air in course.in_members(made)]
    if not airs:
        return [None] * len(courses)
    count = len(airs) // len(asked)
    runs = [course.view.run for course in asked for _ in range(count)]
    gone = simulate(
        Boards.beside([run.case.boards for run in runs]),
        Drivers.beside(airs),
        State.beside([run.state for run in runs]),
    )
    found, shape = {}, (count, len(Board))
    for i, course in enumerate(asked):
        columns = slice(i * count * len(Board), (i + 1) * count * len(Board))
        hours = course.view.run.case.hours - course.view.run.hour
        mc = gone.mc[: hours + 1, columns].reshape(hours + 1, *shape)
        found[id(course)] = 100.0 * np.moveaxis(mc, 1, 0)
    return [found.get(id(course)) for course in courses]


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


def _in_weather(course: Course, ahead: Drivers) -> Case:
    """Return the stack's case with the air of other weather ahead."""
    case, hour, (_, setup) = course.view.run.case, course.view.run.hour, course.setups[0]
    return replace(
        case,
        drivers=Drivers.after([case.drivers.hours(slice(0, hour)), ahead]),
        counted=boards_of(course.view.grounds.sites[setup.site], setup),
    )
