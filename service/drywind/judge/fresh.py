"""Fresh stacks that could be put up: dried side by side in the weathers that could come.

The boards, the model, the clocks and the windows are those of stacks that stand (`judge.runs`,
`judge.hazards`); only the records of single stacks are left out, so that thousands can be tried.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, boards_of, stack_air
from drywind.judge.cases import boards_like, green_mc_of
from drywind.judge.hazards import DAY, fresh_days_over, fresh_severity
from drywind.judge.slow import VISIBLE_MOLD, bears_days
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import clocks
from drywind.wood.clocks import Clocks
from drywind.wood.drying import Boards, Course, State, simulate
from drywind.wood.stain import blue_dose, enzymatic_dose
from drywind.yard import Setup, Site, Stack

Array = NDArray[np.float64]

TRIED_HOURS = 10 * DAY
"""How long fresh boards are judged hour by hour: the days in which most of them check or stain."""

STRETCH_HOURS = 20 * DAY
"""Of boards that dry on, those that are dry are left out only between such stretches."""

STAINS_ABOVE = 0.40
"""Stain is counted until a board's mean is down to this moisture content."""

Weathers = Sequence[Mapping[str, pd.DataFrame]]
"""Tables of every site, one mapping a weather that could come."""


class Spot(NamedTuple):
    """Where, how and when a stack could be put up, and in which weather."""

    setup: Setup
    start: datetime
    weather: int


class Airs:
    """The air at stacks set up some way, made once for each weather."""

    def __init__(self, sites: Mapping[str, Site], weathers: Weathers) -> None:
        self.sites, self.weathers = sites, weathers
        self._made: dict[tuple[Setup, int], tuple[datetime, Drivers]] = {}

    def at(self, spot: Spot) -> tuple[int, Drivers]:
        """Return the air from the beginning of a spot's weather on, and the hour it starts in."""
        key = (spot.setup, spot.weather)
        if key not in self._made:
            site = self.sites[spot.setup.site]
            table = self.weathers[spot.weather][site.name]
            made = stack_air(table, site, spot.setup)
            first: datetime = table.index[0].to_pydatetime()
            self._made[key] = (first, made.boards(slice(len(boards_of(site, spot.setup)))))
        first, drivers = self._made[key]
        return (spot.start - first) // timedelta(hours=1), drivers


@dataclass(frozen=True)
class Batch:
    """Spots whose boards stand side by side.

    Attributes
    ----------
    drivers
        Of all boards, shape (hours, boards).
    firsts
        Where each spot's boards begin; the first of them is the typical one.
    boards
        Which each is, as a place in `Board`, shape (boards,).
    """

    spots: tuple[Spot, ...]
    drivers: Drivers
    firsts: NDArray[np.intp]
    boards: NDArray[np.intp]

    @classmethod
    def of(cls, spots: Sequence[Spot], airs: Airs, hours: int = TRIED_HOURS) -> "Batch":
        """Put the boards of spots beside each other for so many hours."""
        parts = []
        for spot in spots:
            hour, drivers = airs.at(spot)
            parts.append(drivers.hours(slice(hour, hour + hours)))
        counts = np.array([part.air_temp_c.shape[1] for part in parts])
        firsts = np.cumsum(counts) - counts
        which = np.concatenate([np.arange(count) for count in counts])
        return cls(tuple(spots), Drivers.beside(parts), firsts, which)

    def each(self, values: Sequence[float] | Array) -> Array:
        """Return a value a spot as one a board."""
        return np.asarray(values, np.float64)[self.spot_of]

    @cached_property
    def spot_of(self) -> NDArray[np.intp]:
        """Whose each board is, as a place in `spots`."""
        counts = np.diff(np.append(self.firsts, len(self.boards)))
        return np.repeat(np.arange(len(self.spots)), counts)


class Waited(NamedTuple):
    """How far stains had run when boards were stacked, in days, one a spot."""

    enzymatic: Array
    blue: Array

    @classmethod
    def none(cls, spots: int) -> "Waited":
        """Return boards of trees felled on the day."""
        return cls(np.zeros(spots), np.zeros(spots))


Lumber = Sequence[tuple[Stack, int]]
"""Whose boards are put up at the spots of a batch, in their order: a stack, and at how many."""


@dataclass(frozen=True)
class Tried:
    """How fresh stacks fare at spots; arrays of shape (spots,) unless told otherwise.

    Attributes
    ----------
    severity
        Of the worst window of any board, 1 is the limit; NaN where hours are unknown.
    first
        Loss of the first day over the safe one, of any board.
    board
        The board that comes to `severity`, as a place in `Board`.
    stain
        What the worst clock comes to, as a share of what the wood bears; NaN as above.
    doses
        The enzymatic and blue doses behind it, in days.
    days_over
        On how many of the days a board goes over its limit.
    boards, end
        All boards of the batch, and how they are at the end.
    """

    severity: Array
    first: Array
    board: NDArray[np.intp]
    stain: Array
    doses: Waited
    days_over: Array
    boards: Boards
    end: State


def try_fresh(
    lumber: Lumber, batch: Batch, limit: Sequence[float] | Array, waited: Waited
) -> Tried:
    """Dry boards, fresh from the saw, at every spot of a batch.

    Parameters
    ----------
    limit
        Safe daily loss while wet, one a spot.
    """
    typical, air = batch.firsts, batch.drivers
    boards, green = _sawn(lumber, batch)
    course = simulate(boards, air, State.green(green, np.nan_to_num(air.air_temp_c[0])))
    pct, safe = (100.0 * course.mc, 100.0 * course.shell_mc), batch.each(limit)
    worst, first = fresh_severity(*pct, safe)
    over = np.logical_or.reduceat(fresh_days_over(*pct, safe), typical, axis=1)
    table = np.full((len(typical), len(Board)), -np.inf)
    table[batch.spot_of, batch.boards] = worst
    inside = columns(air, typical)
    rh = inside.vapor_pressure_pa / saturation_pressure_pa(inside.air_temp_c)
    none = np.zeros(len(typical))
    begun = Clocks(waited.enzymatic + none, waited.blue + none, none, none.copy())
    ran = clocks.run(begun, inside.air_temp_c, rh, course.shell_mc[1:, typical])
    # No clock counts once the board is down to the moisture content at which stains are set.
    wet = (course.mc[:, typical] > STAINS_ABOVE).sum(axis=0) - 1
    doses = Waited(_at(ran.enzymatic, wet), _at(ran.blue, wet))
    unknown = ~np.logical_and.reduceat(course.known.all(axis=0), typical)
    return Tried(
        np.where(unknown, np.nan, table.max(axis=1)),
        np.maximum.reduceat(first, typical),
        table.argmax(axis=1),
        np.where(unknown, np.nan, stain_shares(lumber, doses, _at(ran.mold, wet))),
        doses,
        over.sum(axis=0).astype(float),
        boards,
        course.end,
    )


def _sawn(lumber: Lumber, batch: Batch) -> tuple[Boards, Array]:
    """Return the boards of a batch, and their moisture content from the saw."""
    ends = np.append(batch.firsts, len(batch.boards))
    parts, green, spot = [], [], 0
    for stack, spots in lumber:
        count = int(ends[spot + spots] - ends[spot])
        parts.append(boards_like(stack, count))
        green.append(np.full(count, green_mc_of(stack)))
        spot += spots
    return Boards.beside(parts), np.concatenate(green)


def stain_shares(lumber: Lumber, doses: Waited, mold: Array) -> Array:
    """Return what the worst clock comes to at each spot, as a share of what the wood bears."""
    found, spot = np.zeros(len(mold)), 0
    for stack, spots in lumber:
        mine = slice(spot, spot + spots)
        own = Waited(doses.enzymatic[mine], doses.blue[mine])
        found[mine] = stain_share(stack, own, mold[mine])
        spot += spots
    return found


def stain_share(stack: Stack, doses: Waited, mold: Array | float = 0.0) -> Array:
    """Return the same of one stack's wood."""
    bears = bears_days(stack)
    worst = np.zeros(len(doses.enzymatic))
    for name, days in bears.items():
        worst = np.maximum(worst, getattr(doses, name) / days)
    return np.maximum(worst, np.asarray(mold) / VISIBLE_MOLD) if bears else worst


def _at(course: Array, rows: NDArray[np.intp]) -> Array:
    """Return a course's value at a row of its own for each board."""
    found: Array = course[np.maximum(rows, 0), np.arange(course.shape[1])]
    return found


def columns(drivers: Drivers, which: NDArray[np.intp]) -> Drivers:
    """Return some of the boards' drivers."""
    return Drivers(**{name: array[:, which] for name, array in vars(drivers).items()})


class Pace(NamedTuple):
    """Hours a step at first and from `LATE_HOURS` on, and after how many hours to stop.

    By 3 a day of 20 % MC is found to half a day, and the loss of a day to a tenth of a point; by 6
    the day to two, to four in a cold barn where drying all but stands still (see tests).
    """

    early_h: int
    late_h: int
    hours: int


LATE_HOURS = 60 * DAY


class Stretch(NamedTuple):
    """Some days of boards that dry on: which boards, since what hour, their air and course."""

    live: NDArray[np.intp]
    hour: int
    step_h: int
    air: Drivers
    course: Course


def stretches(
    boards: Boards,
    state: State,
    airs: Sequence[tuple[int, Drivers]],
    pace: Pace,
    live: NDArray[np.bool_],
) -> Iterator[Stretch]:
    """Dry boards on in long steps, some weeks at a time.

    Parameters
    ----------
    airs
        For each board the hour to go on from, and its air, of shape (hours, 1).
    live
        Which boards to go on with; whoever takes the stretches changes it.
    """
    lasts = np.array([min(len(air.air_temp_c) - first, pace.hours) for first, air in airs])
    for hour in range(0, int(lasts.max(initial=0)), STRETCH_HOURS):
        step_h = pace.early_h if hour < LATE_HOURS else pace.late_h
        on = np.flatnonzero(live & (lasts >= hour + step_h))
        if not len(on):
            return
        parts = []
        for i in on:
            first, air = airs[int(i)]
            span = slice(first + hour, first + hour + STRETCH_HOURS)
            parts.append(air.hours(span).coarse(step_h))
        together = Drivers.beside(parts)
        course = simulate(_some(boards, on), together, state.some(on), step_h)
        state.mc[:, on], state.temp_c[on], state.face_rh[on] = vars(course.end).values()
        yield Stretch(on, hour, step_h, together, course)


class Passage(NamedTuple):
    """When boards came down to a moisture content, in days from the start; NaN if they did not.

    `doses` is what ran of both stains on the way to `STAINS_ABOVE`.
    """

    days: Array
    doses: Waited


def dry_on(
    boards: Boards, state: State, airs: Sequence[tuple[int, Drivers]], pace: Pace, to_mc: float
) -> Passage:
    """Dry typical boards on until they are so dry (a fraction) or their air ends; see above."""
    count = len(state.temp_c)
    days, enzymatic, blue = np.full(count, np.nan), np.zeros(count), np.zeros(count)
    live = np.ones(count, np.bool_)
    for on, hour, step_h, air, course in stretches(boards, state, airs, pace, live):
        below = course.mc <= to_mc
        there = below.any(axis=0)
        days[on[there]] = (hour + step_h * below.argmax(axis=0)[there]) / DAY
        live[on[there]] = False
        shell = np.where(course.mc[1:] > STAINS_ABOVE, course.shell_mc[1:], 0.0)
        enzymatic[on] += step_h * enzymatic_dose(air.air_temp_c, shell).known[-1]
        blue[on] += step_h * blue_dose(air.air_temp_c, shell).known[-1]
    return Passage(days, Waited(enzymatic, blue))


def _some(boards: Boards, which: NDArray[np.intp]) -> Boards:
    return Boards(*(array[which] for array in vars(boards).values()))
