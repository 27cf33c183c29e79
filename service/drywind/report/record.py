"""What the page of a yard shows, as data: all of it found elsewhere, nothing computed here.

Quantities are SI, °C, fractions and UTC, the page writes them in the reader's units. What is
unknown is None. A section that is None, or empty, is left off the page.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from types import MappingProxyType

from drywind.alerts.parts import Curve, Part
from drywind.alerts.wording import Reader

Values = tuple[float | None, ...]
"""A series by the hour, or by the point of a curve."""


class State(StrEnum):
    """How a stack or a lot stands, the most pressing first."""

    OVER = "over"
    UNKNOWN = "unknown"
    WELL = "well"
    DONE = "done"
    """Too dry to be harmed by drying."""


@dataclass(frozen=True)
class Task:
    """Work to be done: on what, by when, and why."""

    subject: str
    about: str
    do: str
    why: str
    by: datetime | None = None


@dataclass(frozen=True)
class Day:
    """The weather of a local day at a place, as far as it is known; see `SiteDay`.

    Attributes
    ----------
    word
        What kind of day it is.
    rain_mm, sun_kwh
        All of the day; the sun on a square meter of level ground.
    emc_pct
        The mean of the hours, of outdoor air.
    """

    date: date
    word: str
    high_c: float | None = None
    low_c: float | None = None
    low_rh: float | None = None
    wind_ms: float | None = None
    rain_mm: float | None = None
    sun_kwh: float | None = None
    emc_pct: float | None = None


@dataclass(frozen=True)
class SiteAhead:
    """How much the air of a site could dry, by the hour: mm of water off a wet board's face."""

    name: str
    drying_mm: Values


@dataclass(frozen=True)
class PlaceAhead:
    """The days ahead at sites that share a forecast; series are by the hour from `start` on."""

    start: datetime
    sites: tuple[SiteAhead, ...]
    emc_pct: Values
    wind_ms: Values
    rain_mm: Values
    sun_wm2: Values
    days: tuple[Day, ...]


@dataclass(frozen=True)
class Line:
    """A board's moisture content at the points of a curve; its band is None where it is past."""

    board: str
    mc_pct: Values
    low_pct: Values
    high_pct: Values


@dataclass(frozen=True)
class DayLoss:
    """What the board nearest its limit loses in a day, and what would be safe.

    Attributes
    ----------
    safe_pct
        None where the wood is too dry for a limit, or the day is not judged.
    """

    start: datetime
    end: datetime
    board: str
    loss_pct: float | None
    safe_pct: float | None
    over: bool


@dataclass(frozen=True)
class Entry:
    """Something entered or said about a stack."""

    at: datetime
    what: str


@dataclass(frozen=True)
class Reading:
    """A moisture content somebody weighed or metered."""

    at: datetime
    mc_pct: float
    how: str


@dataclass(frozen=True)
class StackCurve:
    """How a stack dried and will.

    Attributes
    ----------
    times
        Of the points of `lines` and `pace_pct`.
    pace_pct
        A board that loses just what is safe, from the first point on.
    gaps
        From when to when the weather is unknown.
    """

    times: tuple[datetime, ...]
    now: datetime
    lines: tuple[Line, ...]
    pace_pct: Values
    days: tuple[DayLoss, ...]
    readings: tuple[Reading, ...] = ()
    entries: tuple[Entry, ...] = ()
    gaps: tuple[tuple[datetime, datetime], ...] = ()

    @property
    def most_lost_pct(self) -> float | None:
        """The most lost in a day, or what was safe while wet if that is more; None if unknown."""
        losses = [day.loss_pct for day in self.days if day.loss_pct is not None]
        safe = min((day.safe_pct for day in self.days if day.safe_pct is not None), default=0.0)
        return max([*losses, safe, 0.1]) if losses else None


@dataclass(frozen=True)
class Ready:
    """When a stack comes to a moisture content: the likely day, and an early and a late one."""

    mc_pct: float
    early: date | None
    likely: date | None
    late: date | None


@dataclass(frozen=True)
class StackSheet:
    """One stack on the page.

    Attributes
    ----------
    pace
        The worst ahead as a share of the limit.
    facts
        Each with its name.
    table
        The days around today, in words.
    parts
        What was tried and what to mind, for one that needs work.
    """

    name: str
    wood: str
    site: str
    stacked_at: datetime
    state: State
    head: str
    mc_pct: float | None = None
    pace: float | None = None
    facts: tuple[tuple[str, str], ...] = ()
    curve: StackCurve | None = None
    table: Curve | None = None
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True)
class LotSheet:
    """A log lot that waits."""

    name: str
    about: str
    state: State
    told: str


@dataclass(frozen=True)
class SawDay:
    """How a day suits the sawing of a lot: the best site on that day, and what to make of it."""

    date: date
    lot: str
    wood: str
    site: str
    state: State
    verdict: str
    why: str = ""


@dataclass(frozen=True)
class PlaceMonth:
    """How one wood dries at a site if it is stacked in a month, 1 to 12."""

    site: str
    wood: str
    month: int
    days_to_20_pct: float | None
    days_over: float | None
    note: str


@dataclass(frozen=True)
class Sight:
    """What drywind sees of the weather at a place."""

    sites: str
    source: str
    issued_at: datetime | None
    trouble: str = ""


@dataclass(frozen=True)
class Reach:
    """How the last message to a contact fared; `at` is None where none was tried yet."""

    name: str
    kind: str
    at: datetime | None
    outcome: str


@dataclass(frozen=True)
class Health:
    """How the watch itself fares.

    Attributes
    ----------
    backup_at
        The newest backup that is known of.
    """

    sights: tuple[Sight, ...]
    reach: tuple[Reach, ...]
    backup_at: datetime | None
    version: str
    trouble: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plans:
    """What is found beside a pass, where somebody found it: `ready` is by stack."""

    ready: Mapping[str, tuple[Ready, ...]] = field(default_factory=lambda: MappingProxyType({}))
    saw_days: tuple[SawDay, ...] = ()
    months: tuple[PlaceMonth, ...] = ()


@dataclass(frozen=True)
class YardSheet:
    """The whole page."""

    yard: str
    reader: Reader
    head: str
    rest: tuple[str, ...]
    tasks: tuple[Task, ...]
    places: tuple[PlaceAhead, ...]
    stacks: tuple[StackSheet, ...]
    lots: tuple[LotSheet, ...]
    health: Health
    credits: Sequence[str]
    plans: Plans = Plans()
