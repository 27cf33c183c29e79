"""Stacks made ready to simulate, and dried hour by hour in one batch.

A `Case` is a stack with its boards and the air of every hour from stacking to the end of the
forecast. A `Run` is a case dried up to some hour; runs are advanced together, and may branch off
into another setup from the hour they have come to.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, boards_of, has_roof, stack_air
from drywind.clock import floor_hour
from drywind.wood.diffusion import transverse_diffusivity
from drywind.wood.drying import MODEL_VERSION, Boards, State, simulate
from drywind.wood.species import find_species
from drywind.yard import Setup, Site, Stack

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Grounds:
    """What every stack stands on: the sites, and the weather table of each, hour by hour.

    The tables are canonical ones, regular from before the first stack to the end of the horizon;
    an hour nobody knows is a row of NaN.
    """

    sites: Mapping[str, Site]
    tables: Mapping[str, pd.DataFrame]

    def air(self, setup: Setup, start: datetime, end: datetime) -> tuple[Drivers, pd.DataFrame]:
        """Return the air of a stack set up so over [start, end), and the weather behind it."""
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
    """

    stack: Stack
    start: datetime
    boards: Boards
    green_mc: float
    drivers: Drivers
    weather: pd.DataFrame
    counted: tuple[Board, ...]

    @property
    def hours(self) -> int:
        """How many hours there are to simulate."""
        return len(self.weather)

    @property
    def known(self) -> NDArray[np.bool_]:
        """Which hours are known, shape (hours,)."""
        needed = self.weather[["temp_c", "rh", "wind_ms"]].to_numpy(float)
        known: NDArray[np.bool_] = np.isfinite(needed).all(axis=1)
        return known

    def hour_of(self, instant: datetime) -> int:
        """Return the hour `instant` lies in, counted from stacking; negative before it."""
        return (floor_hour(instant) - self.start) // timedelta(hours=1)

    def time_of(self, hour: int) -> datetime:
        """Return when an hour, counted from stacking, starts."""
        return self.start + timedelta(hours=hour)

    def fingerprint(self, hours: int) -> str:
        """Return a digest of all that decides the state after the first `hours`."""
        digest = hashlib.sha256(f"{MODEL_VERSION} {self.green_mc} {self.start}".encode())
        for array in (*vars(self.boards).values(), *vars(self.drivers).values()):
            part = array[:hours] if array.ndim > 1 else array
            digest.update(np.ascontiguousarray(part).tobytes())
        return digest.hexdigest()


def make_case(stack: Stack, grounds: Grounds, end: datetime, now: datetime) -> Case:
    """Return the case of a stack from the hour it was stacked in to `end`."""
    start = floor_hour(stack.stacked_at)
    spans = [(max(floor_hour(since), start), setup) for since, setup in stack.setup_spans()]
    ends = [*(since for since, _ in spans[1:]), end]
    parts = [
        grounds.air(setup, since, until)
        for (since, setup), until in zip(spans, ends, strict=True)
        if since < until
    ]
    setup = stack.setup_at(now)
    species = find_species(stack.species)
    count = len(Board)
    green_pct = species.green_mc_pct if stack.green_mc_pct is None else stack.green_mc_pct
    diffusivity = species.diffusion_multiplier * transverse_diffusivity(
        species.basic_specific_gravity
    )
    return Case(
        stack,
        start,
        Boards(
            half_thickness_m=np.full(count, stack.thickness.green_m / 2),
            density_kgm3=np.full(count, 1000.0 * species.basic_specific_gravity),
            diffusivity_m2s=np.full(count, diffusivity),
        ),
        green_pct / 100.0,
        Drivers.after([air for air, _ in parts]),
        pd.concat([part for _, part in parts]),
        boards_of(grounds.sites[setup.site], setup),
    )


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
        """Return the run of a green stack at the hour it was stacked in."""
        temp = np.nan_to_num(case.drivers.air_temp_c[0], nan=15.0)
        green = State.green(np.full(len(Board), case.green_mc), temp)
        return cls.resumed(case, 0, green)

    @classmethod
    def resumed(cls, case: Case, hour: int, state: State) -> "Run":
        """Return a run taken up at an hour it had come to before."""
        empty = np.full((case.hours + 1, len(Board)), np.nan)
        empty[0] = 100.0 * case.green_mc
        return cls(case, hour, state, empty, empty.copy())


def advance(runs: Sequence[Run], to_hours: Sequence[int]) -> list[Run]:
    """Dry each run on to its own hour, all in one batch."""
    if not runs:
        return []
    spans = [slice(r.hour, max(r.hour, to)) for r, to in zip(runs, to_hours, strict=True)]
    course = simulate(
        _beside([r.case.boards for r in runs]),
        Drivers.beside([r.case.drivers.hours(span) for r, span in zip(runs, spans, strict=True)]),
        _states_beside([r.state for r in runs]),
    )
    count = len(Board)
    onward = []
    for i, (run, span) in enumerate(zip(runs, spans, strict=True)):
        mine = slice(i * count, (i + 1) * count)
        rows = slice(span.start, span.stop + 1)
        mc, shell = run.mc_pct.copy(), run.shell_pct.copy()
        length = span.stop - span.start + 1
        mc[rows] = 100.0 * course.mc[:length, mine]
        shell[rows] = 100.0 * course.shell_mc[:length, mine]
        onward.append(Run(run.case, span.stop, course.end.columns(mine), mc, shell))
    return onward


def branch(run: Run, setup: Setup, grounds: Grounds) -> Run:
    """Return the run with its stack set up otherwise from the hour it has come to."""
    case = run.case
    air, weather = grounds.air(setup, case.time_of(run.hour), case.time_of(case.hours))
    counted = case.counted
    if has_roof(grounds.sites[setup.site], setup):
        counted = tuple(b for b in counted if b is not Board.TOP)
    changed = replace(
        case,
        drivers=Drivers.after([case.drivers.hours(slice(0, run.hour)), air]),
        weather=pd.concat([case.weather.iloc[: run.hour], weather]),
        counted=counted,
    )
    return replace(run, case=changed)


def _beside(parts: Sequence[Boards]) -> Boards:
    return Boards(
        np.concatenate([p.half_thickness_m for p in parts]),
        np.concatenate([p.density_kgm3 for p in parts]),
        np.concatenate([p.diffusivity_m2s for p in parts]),
    )


def _states_beside(parts: Sequence[State]) -> State:
    return State(
        np.concatenate([p.mc for p in parts], axis=1),
        np.concatenate([p.temp_c for p in parts]),
        np.concatenate([p.face_rh for p in parts]),
        np.concatenate([p.age_h for p in parts]),
    )
