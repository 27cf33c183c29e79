"""The domain records: sites, stacks and the events people enter about them, log lots.

What people do is stored as events with a time and never edited; how a stack stands at any
moment is computed from them.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

from drywind.errors import UsageError
from drywind.units import FOOT_M, INCH_M, Thickness

DIRECTIONS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


class Exposure(StrEnum):
    """What stands around a site; each its own small climate."""

    OPEN = "open"
    SHED = "shed"
    BARN = "barn"


class Ground(StrEnum):
    """What lies under and around a stack."""

    GRAVEL = "gravel"
    GRASS = "grass"
    WET = "wet"


class Measure(StrEnum):
    """What can be put on, or done to, a stack to slow its drying or keep it dry."""

    PILE_ROOF = "pile_roof"
    SHADE_CLOTH = "shade_cloth"
    BURLAP = "burlap"
    TARP = "tarp"
    """Over all of it, down the sides."""
    PACKS_CLOSED = "packs_closed"


class Trait(StrEnum):
    """What is told of a stack's lumber beyond its species; of heart and sap only one is true."""

    HEART = "heart"
    """All heartwood."""
    SAP = "sap"
    """All sapwood."""
    QUARTERSAWN = "quartersawn"
    OLD_LOGS = "old_logs"
    """From logs stored for weeks in warm weather before they were sawn."""


class Storage(StrEnum):
    """How logs lie until they are sawn."""

    OPEN = "open"
    SHADE = "shade"
    SPRINKLED = "sprinkled"


class EventKind(StrEnum):
    """What people tell the program about a stack."""

    FELLED = "felled"
    SAWN = "sawn"
    STACKED = "stacked"
    COVERED = "covered"
    UNCOVERED = "uncovered"
    MOVED = "moved"
    RESTICKERED = "restickered"
    SAMPLED = "sampled"
    """A sample board was cut and weighed."""
    WEIGHED = "weighed"
    METERED = "metered"
    OVEN_DRIED = "oven_dried"
    """A sample board was dried in an oven, and weighed."""
    STRUCK = "struck"
    """An earlier entry was wrong, and counts no more."""
    ENDED = "ended"


CHANGES = frozenset(
    {EventKind.COVERED, EventKind.UNCOVERED, EventKind.MOVED, EventKind.RESTICKERED}
)
"""What changes how a stack stands."""


@dataclass(frozen=True)
class Site:
    """A spot in the yard.

    Attributes
    ----------
    shelter
        Fraction (0-1) of the wind that reaches the spot, by the direction it blows from (one of
        `DIRECTIONS`), on top of what `exposure` already says. A direction not named is 1.
    roof
        Whether a roof that belongs to the spot keeps rain and sun off every stack there.
    room
        How many stacks fit; None where nobody said.
    """

    name: str
    lat: float
    lon: float
    altitude_m: float
    exposure: Exposure = Exposure.OPEN
    roof: bool = False
    shelter: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    room: int | None = None
    ground: Ground = Ground.GRAVEL

    @property
    def place(self) -> str:
        """The place whose forecast serves the spot, to about a kilometer: sites share it."""
        return f"{self.lat:.2f},{self.lon:.2f}"


@dataclass(frozen=True)
class Setup:
    """How a stack stands at a moment: where, on which stickers, under which covers."""

    site: str
    sticker_m: float = 1.0 * INCH_M
    pack_width_m: float = 4.0 * FOOT_M
    measures: frozenset[Measure] = frozenset()

    def with_measure(self, measure: Measure) -> "Setup":
        """Return this setup with one more measure in place."""
        return replace(self, measures=self.measures | {measure})


@dataclass(frozen=True)
class Event:
    """Something that happened to a stack, entered by a person.

    `detail` is what the kind needs: the measure of covered and uncovered, the site of moved, the
    sticker in metres of restickered, what `drywind.samples.Entry` writes of a sample board, the
    number of the event that was struck. `id` is the event's own number, once it is stored.
    """

    stack: str
    time: datetime
    kind: EventKind
    detail: str = ""
    id: int | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Stack:
    """A stickered stack of one species and thickness.

    `green_mc_pct` is the owner's own figure; None takes the species table's, by `traits`.
    """

    id: str
    species: str
    thickness: Thickness
    stacked_at: datetime
    setup: Setup
    green_mc_pct: float | None = None
    traits: frozenset[Trait] = frozenset()
    events: tuple[Event, ...] = ()

    @property
    def ended_at(self) -> datetime | None:
        """When the stack was taken down, or None while it stands."""
        return next((e.time for e in self.events if e.kind is EventKind.ENDED), None)

    @property
    def sawn_at(self) -> datetime:
        """When its logs were sawn; when it was stacked, where nobody said."""
        return self._earliest(EventKind.SAWN, self.stacked_at)

    @property
    def felled_at(self) -> datetime:
        """When its trees were felled; when they were sawn, where nobody said."""
        return self._earliest(EventKind.FELLED, self.sawn_at)

    def _earliest(self, kind: EventKind, latest: datetime) -> datetime:
        told = [e.time for e in self.events if e.kind is kind and e.time < latest]
        return min(told, default=latest)

    def stands_at(self, instant: datetime) -> bool:
        """Return whether the stack is up at `instant`."""
        return self.stacked_at <= instant and (self.ended_at is None or instant < self.ended_at)

    def changed_at(self, now: datetime) -> datetime | None:
        """Return when people last changed how the stack stands, as far as `now`."""
        return max(
            (e.time for e in self.events if e.kind in CHANGES and e.time <= now), default=None
        )

    def setup_spans(self) -> list[tuple[datetime, Setup]]:
        """Return how the stack stood, as (from this instant on, setup) in order of time."""
        spans = [(self.stacked_at, self.setup)]
        for event in sorted(self.events, key=lambda e: e.time):
            changed = _apply(spans[-1][1], event)
            if changed != spans[-1][1]:
                spans.append((max(event.time, self.stacked_at), changed))
        return spans

    def setup_at(self, instant: datetime) -> Setup:
        """Return how the stack stands at `instant`."""
        return [
            setup
            for start, setup in self.setup_spans()
            if start <= instant or start == self.stacked_at
        ][-1]


def _apply(setup: Setup, event: Event) -> Setup:
    match event.kind:
        case EventKind.COVERED:
            return setup.with_measure(Measure(event.detail))
        case EventKind.UNCOVERED:
            return replace(setup, measures=setup.measures - {Measure(event.detail)})
        case EventKind.MOVED:
            return replace(setup, site=event.detail)
        case EventKind.RESTICKERED:
            return replace(setup, sticker_m=float(event.detail))
        case _:
            return setup


@dataclass(frozen=True)
class LogLot:
    """Logs of one species, felled together, that wait for the saw; then their boards, unstacked.

    Attributes
    ----------
    ended_at
        When the last was stacked, sold or burned; None while any of it waits.
    volume
        As people write it, like "1,200 bf"; for them alone.
    end_coated
        Whether the ends were sealed.
    thicknesses
        What is to be sawn of it; empty where nobody said.
    """

    id: str
    species: str
    felled_at: datetime
    site: str
    sawn_at: datetime | None = None
    ended_at: datetime | None = None
    volume: str = ""
    end_coated: bool = False
    stored: Storage = Storage.OPEN
    thicknesses: tuple[Thickness, ...] = ()

    def waits_at(self, instant: datetime) -> bool:
        """Return whether the lot lies waiting at `instant`, as logs or as boards."""
        return self.felled_at <= instant and (self.ended_at is None or instant < self.ended_at)

    def is_sawn_at(self, instant: datetime) -> bool:
        """Return whether the lot is sawn at `instant`."""
        return self.sawn_at is not None and self.sawn_at <= instant


def check_id(text: str) -> str:
    """Return the name of a stack or a lot if it can stand in a text message, a file and a page.

    Raises
    ------
    UsageError
        If it is empty, longer than 12 characters, or has anything but letters, digits, . _ -
    """
    if re.fullmatch(r"[A-Za-z0-9._-]{1,12}", text) is None:
        raise UsageError(
            f"{text!r} cannot name a stack or a lot; use up to 12 letters, digits or . _ -"
        )
    return text
