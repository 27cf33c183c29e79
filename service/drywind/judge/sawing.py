"""What is asked and answered of saw days: lots and sizes, the yard they are sawn into, days."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple
from zoneinfo import ZoneInfo

import pandas as pd

from drywind.climate.stack_air import Board
from drywind.clock import floor_hour
from drywind.judge.fresh import TRIED_HOURS, Weathers
from drywind.judge.hazards import DAY
from drywind.judge.measures import Remedy
from drywind.units import Thickness
from drywind.yard import LogLot, Setup, Site, Stack, Trait

DAYS = 10
"""So many coming days are tried."""

STACKED_AT = time(12)
"""Local time at which what is sawn on a day is on stickers, in the mean (assumption)."""

SHORT_DAYS = DAYS + 1 + TRIED_HOURS // DAY
LONG_DAYS = 400
"""How far a weather must reach for the boards of the last day to be judged, and to come to 20 %."""

LONG_WEATHERS = 3
"""So many of the weathers are followed until boards are dry."""


class Verdict(StrEnum):
    """What to make of a day and a site."""

    GOOD = "good"
    """Within every limit, as sure as advice need be."""
    WITH_MEASURE = "with_measure"
    """So with the measure named."""
    CHANCY = "chancy"
    """Likelier well than not."""
    NO = "no"
    UNKNOWN = "unknown"


class Parcel(NamedTuple):
    """What is sawn of a lot in one thickness.

    `standing` trees are felled on the day they are sawn, so that no clock runs before.
    """

    lot: LogLot
    thickness: Thickness
    standing: bool = False

    def stack(self, setup: Setup, start: datetime, *, is_old: bool = False) -> Stack:
        """Return the stack it would make."""
        traits = frozenset({Trait.OLD_LOGS} if is_old else ())
        return Stack(self.lot.id, self.lot.species, self.thickness, start, setup, traits=traits)


@dataclass(frozen=True)
class SawYard:
    """What lots are sawn into.

    Attributes
    ----------
    sites
        All of the yard.
    setups
        How stacks usually stand at each site that has room.
    tables
        The weather of each site as it is known and foretold, from before the first felling on.
    weathers
        Those that could come, from the present hour to `SHORT_DAYS` days ahead, the first
        `LONG_WEATHERS` to `LONG_DAYS`; the first of all is the forecast's own.
    foretold_until
        Where the forecast ends, and past years begin.
    own_limits
        As of `wood.limits.stack_limit`.
    """

    sites: Mapping[str, Site]
    setups: Mapping[str, Setup]
    tables: Mapping[str, pd.DataFrame]
    weathers: Weathers
    foretold_until: datetime
    own_limits: Mapping[str, float]
    now: datetime
    zone: ZoneInfo

    @cached_property
    def days(self) -> list[date]:
        """The days that are tried: from today, if there still is time, on."""
        local = self.now.astimezone(self.zone)
        first = local.date() + timedelta(days=int(local.time() >= STACKED_AT))
        return [first + timedelta(days=i) for i in range(DAYS)]

    def start(self, day: date) -> datetime:
        """Return when boards sawn on a day are stacked."""
        return floor_hour(datetime.combine(day, STACKED_AT, self.zone).astimezone(UTC))

    @cached_property
    def starts(self) -> list[datetime]:
        """The same of all days."""
        return [self.start(day) for day in self.days]


@dataclass(frozen=True)
class Fare:
    """How boards would fare.

    Attributes
    ----------
    worst_ratio, board
        The worst loss in the first ten days, 1 is the limit, in the middle one of the weathers;
        and of which board.
    stain_index
        What stain comes to until the boards are at 40 % MC, waiting counted; 1 is expected to show.
    over_chance, stain_chance
        Shares of the weathers in which each comes to 1.
    safe_chance
        Share in which neither does.
    """

    worst_ratio: float
    board: Board
    stain_index: float
    over_chance: float
    stain_chance: float
    safe_chance: float
    harm: float


@dataclass(frozen=True)
class DayAir:
    """The weather of a day and the next, at 10 m and in the open.

    Attributes
    ----------
    change_c
        How much warmer in the mean than the two days before; NaN where these are unknown.
    foretold
        Whether it comes from the forecast; else it is what past years had in the mean.
    """

    low_c: float
    high_c: float
    rh: float
    wind_ms: float
    change_c: float
    foretold: bool


@dataclass(frozen=True)
class SawDay:
    """A lot sawn to a thickness on a day, and stacked at a site.

    Attributes
    ----------
    score
        0 to 100, the more the better: 50 or less at a limit. None where it is unknown.
    usual, helped
        How it fares as stacks there usually stand, and with `remedy`; None where unknown, or where
        nothing need be done or helps.
    days_to_20
        Days from stacking to 20 % MC; None if that takes longer than `LONG_DAYS`.
    stain_waiting
        The share of stain that is the log's, from felling to that day.
    """

    parcel: Parcel
    day: date
    site: str
    score: float | None
    verdict: Verdict
    usual: Fare | None
    helped: Fare | None
    remedy: Remedy | None
    days_to_20: float | None
    air: DayAir
    stain_waiting: float
    is_old: bool

    @property
    def best(self) -> Fare | None:
        """How it fares with what is advised."""
        return self.helped or self.usual


@dataclass(frozen=True)
class LotDays:
    """What was found of a lot in one thickness.

    Attributes
    ----------
    days
        Every day at every site, the best first.
    saw_by
        By when to saw it before a stain sets in; None if none does within a year, or has already.
    is_foretold
        Whether that lies within the forecast; else it is by one past year.
    """

    parcel: Parcel
    days: tuple[SawDay, ...]
    saw_by: datetime | None
    is_foretold: bool

    @property
    def best(self) -> SawDay | None:
        """The best day and site; None where nothing is known of any."""
        return next((day for day in self.days if day.score is not None), None)

    @property
    def is_good(self) -> bool:
        """Whether there is a good day among them; else it is not in the next ten days."""
        return any(day.verdict in {Verdict.GOOD, Verdict.WITH_MEASURE} for day in self.days)


@dataclass(frozen=True)
class SawBoard:
    """The coming days for every lot, and which past years stand for what no forecast reaches."""

    now: datetime
    lots: tuple[LotDays, ...]
    past_years: str
