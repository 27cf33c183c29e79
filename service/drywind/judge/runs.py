"""Stacks made ready to simulate, and dried hour by hour in one batch.

A `Case` is a stack with its boards and the air of every hour from stacking to the end of the
forecast. A `Run` is a case dried up to some hour; runs are advanced together, and may branch off
into another setup from the hour they have come to.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, boards_of, stack_air
from drywind.clock import floor_hour
from drywind.errors import UsageError
from drywind.weather.air import saturation_pressure_pa
from drywind.weather.hour import NEEDED
from drywind.wood.diffusion import transverse_diffusivity
from drywind.wood.drying import MODEL_VERSION, Boards, Course, State, simulate
from drywind.wood.emc import emc_fraction_and_slope
from drywind.wood.limits import Limit
from drywind.wood.species import find_species
from drywind.wood.traits import diffusion_share, sorted_green_mc_pct
from drywind.yard import EventKind, Setup, Site, Stack

Array = NDArray[np.float64]

READINGS = (EventKind.WEIGHED, EventKind.METERED)
BORNE_HOURS = 48
"""A stack with more unknown hours behind it cannot be judged until somebody measures its moisture
content; up to so many, it is taken as wetter than it is (assumption)."""
MILD_C, MILD_RH = 15.0, 0.65
"""Stand for an unknown first hour (assumption)."""


@dataclass(frozen=True)
class Grounds:
    """What every stack stands on.

    Attributes
    ----------
    tables
        The canonical weather table of each site, regular from before the first stack to the end
        of the horizon; an hour nobody knows is a row of NaN.
    full
        The sites that have no room for another stack.
    members
        Makes tables like `tables`, of weather that could well come instead (see `weather.spread`),
        one mapping a member; the first are the forecast's own. Called only where it is asked for.
    """

    sites: Mapping[str, Site]
    tables: Mapping[str, pd.DataFrame]
    full: frozenset[str] = frozenset()
    members: Callable[[], Sequence[Mapping[str, pd.DataFrame]]] = tuple

    @cached_property
    def could_come(self) -> Sequence[Mapping[str, pd.DataFrame]]:
        """The members, made once."""
        return self.members()

    def air(self, setup: Setup, start: datetime, end: datetime) -> tuple[Drivers, pd.DataFrame]:
        """Return the air of a stack set up so over [start, end), and the weather behind it."""
        if setup.site not in self.sites:
            raise UsageError(f"no site named {setup.site!r} in the configuration")
        table = self.tables[setup.site]
        part = table.loc[start : end - timedelta(hours=1)]
        return stack_air(part, self.sites[setup.site], setup), part


@dataclass(frozen=True)
class Case:
    """A stack ready to simulate; hour 0 is the hour it was stacked in.

    Attributes
    ----------
    drivers
        Of the three boards of `Board`, shape (hours, 3).
    weather
        The outdoor hours behind them.
    counted
        The boards that stand for the stack as it is set up now.
    green_mc
        Moisture content of the fresh boards, a fraction.
    begin_hour, begin_mc
        Where the simulation begins, and the moisture content (a fraction) it begins with: green
        when stacked; or, where too much weather since then is unknown, a later reading.
    """

    stack: Stack
    start: datetime
    boards: Boards
    drivers: Drivers
    weather: pd.DataFrame
    counted: tuple[Board, ...]
    green_mc: float
    begin_hour: int
    begin_mc: float

    @property
    def hours(self) -> int:
        """How many hours there are to simulate."""
        return len(self.weather)

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Which hours are known, shape (hours,)."""
        needed = self.weather[list(NEEDED)].to_numpy(float)
        known: NDArray[np.bool_] = np.isfinite(needed).all(axis=1)
        return known

    def unknown_hours(self, until: int) -> int:
        """Return how many hours from the beginning to hour `until` nobody knows."""
        return int((~self.known[self.begin_hour : max(until, 0)]).sum())

    def is_lost(self, until: int) -> bool:
        """Return whether so much is unknown that nothing can be said of the stack."""
        return self.unknown_hours(until) > BORNE_HOURS

    def hour_of(self, instant: datetime) -> int:
        """Return the hour `instant` lies in, counted from stacking; negative before it."""
        return (floor_hour(instant) - self.start) // timedelta(hours=1)

    def time_of(self, hour: int) -> datetime:
        """Return when an hour, counted from stacking, starts."""
        return self.start + timedelta(hours=hour)

    def fingerprint(self, hours: int) -> str:
        """Return a digest of all that decides the state after the first `hours`."""
        begin = (MODEL_VERSION, self.start, self.green_mc, self.begin_hour, self.begin_mc)
        digest = hashlib.sha256(repr(begin).encode())
        for array in (*vars(self.boards).values(), *vars(self.drivers).values()):
            part = array[:hours] if array.ndim > 1 else array
            digest.update(np.ascontiguousarray(part).tobytes())
        return digest.hexdigest()


def make_case(stack: Stack, grounds: Grounds, end: datetime, now: datetime) -> Case:
    """Return the case of a stack from the hour it was stacked in to `end`.

    Raises
    ------
    UsageError
        If the stack's species or site is unknown.
    """
    start = floor_hour(stack.stacked_at)
    spans = [(floor_hour(since), setup) for since, setup in stack.setup_spans()]
    ends = [*(since for since, _ in spans[1:]), end]
    parts = [
        grounds.air(setup, since, until)
        for (since, setup), until in zip(spans, ends, strict=True)
        if since < until
    ]
    setup = stack.setup_at(now)
    species = find_species(stack.species)
    count = len(Board)
    flatsawn = species.diffusion_multiplier * transverse_diffusivity(species.basic_specific_gravity)
    told_pct = (stack.green_mc_pct, sorted_green_mc_pct(species, stack.traits))
    green_pct = next((mc for mc in told_pct if mc is not None), species.green_mc_pct)
    green = Case(
        stack,
        start,
        Boards(
            half_thickness_m=np.full(count, stack.thickness.green_m / 2),
            density_kgm3=np.full(count, 1000.0 * species.basic_specific_gravity),
            diffusivity_m2s=np.full(count, flatsawn * diffusion_share(stack.traits)),
        ),
        Drivers.after([air for air, _ in parts]),
        pd.concat([part for _, part in parts]),
        boards_of(grounds.sites[setup.site], setup),
        green_pct / 100.0,
        0,
        green_pct / 100.0,
    )
    return _from_reading(green, now)


def _from_reading(case: Case, now: datetime) -> Case:
    """Let a case begin at its newest reading, if too much weather before `now` is unknown."""
    since = case.stack.stacked_at
    readings = [e for e in case.stack.events if e.kind in READINGS and since <= e.time <= now]
    newest = max(readings, key=lambda e: e.time, default=None)
    if newest is None or not case.is_lost(case.hour_of(now)):
        return case
    hour = case.hour_of(newest.time)
    return replace(case, begin_hour=hour, begin_mc=float(newest.detail) / 100.0)


@dataclass(frozen=True)
class Run:
    """A case dried up to (the start of) `hour`.

    `mc_pct` and `shell_pct` have shape (hours + 1, 3) and are NaN where the run has not come yet,
    or where it did not pass because it was resumed.
    """

    case: Case
    hour: int
    state: State
    mc_pct: Array
    shell_pct: Array

    @classmethod
    def fresh(cls, case: Case) -> "Run":
        """Return the run of a stack at the hour its simulation begins."""
        hour = case.begin_hour
        temp = np.nan_to_num(case.drivers.air_temp_c[hour], nan=MILD_C)
        if hour == 0:
            state = State.green(np.full(len(Board), case.begin_mc), temp)
        else:
            humid = case.drivers.vapor_pressure_pa[hour] / saturation_pressure_pa(temp)
            face, _ = emc_fraction_and_slope(temp, np.nan_to_num(humid, nan=MILD_RH))
            state = State.part_dried(case.boards, (case.green_mc, case.begin_mc), face)
            state = replace(state, temp_c=temp)
        return cls.resumed(case, hour, state)

    @classmethod
    def resumed(cls, case: Case, hour: int, state: State) -> "Run":
        """Return a run taken up at an hour it had come to before."""
        empty = np.full((case.hours + 1, len(Board)), np.nan)
        empty[case.begin_hour] = 100.0 * case.begin_mc
        return cls(case, hour, state, empty, empty.copy())

    def within(self, hours: int) -> "Run":
        """Return the run, not yet gone so far, of a case of no more than so many hours."""
        drivers, weather = self.case.drivers.hours(slice(hours)), self.case.weather.iloc[:hours]
        case = replace(self.case, drivers=drivers, weather=weather)
        so_far = slice(hours + 1)
        return replace(
            self, case=case, mc_pct=self.mc_pct[so_far], shell_pct=self.shell_pct[so_far]
        )

    def onward(self, course: Course, which: int, hour: int) -> "Run":
        """Return the run gone on to an hour, as the boards of stack `which` of a course dried."""
        mine = slice(which * len(Board), (which + 1) * len(Board))
        rows, length = slice(self.hour, hour + 1), hour - self.hour + 1
        mc, shell = self.mc_pct.copy(), self.shell_pct.copy()
        mc[rows] = 100.0 * course.mc[:length, mine]
        shell[rows] = 100.0 * course.shell_mc[:length, mine]
        return Run(self.case, hour, course.end.columns(mine), mc, shell)


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


def advance(runs: Sequence[Run], to_hours: Sequence[int]) -> list[Run]:
    """Dry each run on to its own hour, all in one batch."""
    if not runs:
        return []
    spans = [slice(r.hour, max(r.hour, to)) for r, to in zip(runs, to_hours, strict=True)]
    course = simulate(
        Boards.beside([r.case.boards for r in runs]),
        Drivers.beside([r.case.drivers.hours(span) for r, span in zip(runs, spans, strict=True)]),
        State.beside([r.state for r in runs]),
    )
    return [
        run.onward(course, i, span.stop)
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
