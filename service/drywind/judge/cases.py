"""Stacks made ready to simulate: what they stand on, their boards, and the air of every hour."""

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
from drywind.samples import sample_boards
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import clocks
from drywind.wood.diffusion import transverse_diffusivity
from drywind.wood.drying import MODEL_VERSION, Boards, State
from drywind.wood.emc import emc_fraction_and_slope
from drywind.wood.species import find_species
from drywind.wood.stain import Dose, blue_dose, enzymatic_dose
from drywind.wood.traits import diffusion_share, sorted_green_mc_pct
from drywind.yard import Setup, Site, Stack

Array = NDArray[np.float64]

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
class Wood:
    """What the yard has taught of a stack's wood, against the species' table and the model.

    Attributes
    ----------
    diffusion, green, air
        How many times as fast water moves in it, as wet as it was sawn, and as readily as the air
        takes its water.
    diffusion_sd, green_sd, air_sd
        Standard deviations of their logarithms.
    correlations
        Of the first two, the first and third, the second and third.
    edge_ease, edge_ease_sd
        How many times as readily as elsewhere air takes water at the edge, and the deviation of
        its logarithm; 1 and None where that cannot be told.
    readings
        How many of the stack's own it rests on; the rest is from other stacks.
    """

    diffusion: float = 1.0
    diffusion_sd: float = 0.0
    green: float = 1.0
    green_sd: float = 0.0
    air: float = 1.0
    air_sd: float = 0.0
    correlations: tuple[float, float, float] = (0.0, 0.0, 0.0)
    edge_ease: float = 1.0
    edge_ease_sd: float | None = None
    readings: int = 0

    @property
    def ease(self) -> Array:
        """How readily air takes water at each board, against the model."""
        edge = [self.edge_ease if board is Board.EDGE else 1.0 for board in Board]
        return self.air * np.array(edge)


UNTAUGHT = Wood()


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
    waited
        Days that enzymatic and blue stain had run before it was stacked, as far as is known.
    wood
        What weighings taught of it; `boards` and `green_mc` are by it, `drivers` are not.
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
    waited: tuple[float, float] = (0.0, 0.0)
    wood: Wood = UNTAUGHT

    def taught(self, wood: Wood) -> "Case":
        """Return the case, of which nothing was taught yet, with its wood as it is believed."""
        boards = replace(self.boards, diffusivity_m2s=self.boards.diffusivity_m2s * wood.diffusion)
        green = self.green_mc * wood.green
        begin = green if self.begin_hour == 0 else self.begin_mc
        return replace(self, boards=boards, green_mc=green, begin_mc=begin, wood=wood)

    def begin(self, boards: Boards, mc: Array, air: Drivers) -> State:
        """Return boards as the simulation begins with them: fresh from the saw, or half-dried.

        Parameters
        ----------
        boards, mc
            Like the stack's, and their mean moisture content, shape (boards,).
        air
            From that hour on, shape (hours, boards).
        """
        temp = np.nan_to_num(air.air_temp_c[0], nan=MILD_C)
        if self.begin_hour == 0:
            return State.green(mc, temp)
        humid = np.nan_to_num(air.vapor_pressure_pa[0] / saturation_pressure_pa(temp), nan=MILD_RH)
        face, _ = emc_fraction_and_slope(temp, humid)
        return replace(State.part_dried(boards, (self.green_mc, mc), face), temp_c=temp)

    @property
    def hours(self) -> int:
        """How many hours there are to simulate."""
        return len(self.weather)

    @property
    def counted_columns(self) -> list[int]:
        """Where the boards that stand for the stack stand in its arrays."""
        return [list(Board).index(board) for board in self.counted]

    def site_at(self, hour: int) -> str:
        """Return the name of the site the stack stands at in an hour."""
        return self.stack.setup_at(self.time_of(max(hour, 0))).site

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Which hours are known, shape (hours,)."""
        air = self.drivers
        told = np.isfinite(air.air_temp_c + air.vapor_pressure_pa + air.vapor_ms)
        known: NDArray[np.bool_] = np.all(told, axis=1)
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
        versions = (MODEL_VERSION, clocks.VERSION)
        begin = (*versions, self.start, self.green_mc, self.begin_hour, self.begin_mc, self.waited)
        digest = hashlib.sha256(repr((*begin, self.wood.air, self.wood.edge_ease)).encode())
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
    green_mc = green_mc_of(stack)
    green = Case(
        stack,
        start,
        boards_like(stack, len(Board)),
        Drivers.after([air for air, _ in parts]),
        pd.concat([part for _, part in parts]),
        boards_of(grounds.sites[setup.site], setup),
        green_mc,
        0,
        green_mc,
        _waited(stack, grounds),
    )
    return _from_reading(green, now)


def boards_like(stack: Stack, count: int) -> Boards:
    """Return so many boards as a stack's are."""
    species = find_species(stack.species)
    flatsawn = species.diffusion_multiplier * transverse_diffusivity(species.basic_specific_gravity)
    return Boards(
        half_thickness_m=np.full(count, stack.thickness.green_m / 2),
        density_kgm3=np.full(count, 1000.0 * species.basic_specific_gravity),
        diffusivity_m2s=np.full(count, flatsawn * diffusion_share(stack.traits)),
    )


def green_mc_of(stack: Stack) -> float:
    """Return the moisture content of a stack's fresh boards, a fraction."""
    species = find_species(stack.species)
    told_pct = (stack.green_mc_pct, sorted_green_mc_pct(species, stack.traits))
    return next((mc for mc in told_pct if mc is not None), species.green_mc_pct) / 100.0


def _waited(stack: Stack, grounds: Grounds) -> tuple[float, float]:
    """Return how long enzymatic stain had run since felling, and blue stain since sawing."""

    def dose(since: datetime, of: Callable[[Array, float], Dose]) -> float:
        table = grounds.tables[stack.setup.site]
        temp = table.loc[floor_hour(since) : floor_hour(stack.stacked_at) - timedelta(hours=1)]
        return float(of(temp["temp_c"].to_numpy(float), 1.0).known[-1]) if len(temp) else 0.0

    return dose(stack.felled_at, enzymatic_dose), dose(stack.sawn_at, blue_dose)


def _from_reading(case: Case, now: datetime) -> Case:
    """Let a case begin at its newest reading, if too much weather before `now` is unknown."""
    since = case.stack.stacked_at
    boards = sample_boards(case.stack.events, now)
    readings = [r for b in boards for r in b.readings if r.time >= since]
    known = [r for r in readings if r.mc_pct is not None]
    newest = max(known, key=lambda r: r.time, default=None)
    if newest is None or newest.mc_pct is None or not case.is_lost(case.hour_of(now)):
        return case
    hour = case.hour_of(newest.time)
    return replace(case, begin_hour=hour, begin_mc=newest.mc_pct / 100.0)
