"""Sample boards: what people weigh and meter, and the moisture content that comes of it.

A sample board is cut from the stack's own lumber, weighed, put back where it can be drawn out, and
weighed again. Its oven-dry weight comes from sections cut off its ends, from drying the board
itself once all is over, or is not known: then its weights still tell how it lost water.

Everything is an event: what was entered wrong is struck by another event, never changed.

Sources: the procedure and its formulas, Drying Oak Lumber 3A and 3B (Wengert, seen); sections
dried at 215-217 °F (the same) or 103 °C to constant mass (ASTM D4442, from memory).
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from drywind.yard import Event, EventKind

METER_LIMIT_PCT = 30.0
"""Above fiber saturation a moisture meter errs widely (Drying Oak Lumber 3A, seen)."""

UNNAMED = "1"
"""The board of a reading that names none: most stacks have one."""


class Position(StrEnum):
    """Where in the stack a sample board lies."""

    MIDDLE = "middle"
    EDGE = "edge"
    TOP = "top"


@dataclass(frozen=True)
class Entry:
    """What was told of a sample board at one time, as an event's detail; None is not told.

    Attributes
    ----------
    kg, dry_kg
        Its weight, and its oven-dry weight.
    mc_pct
        Its moisture content, where that was told instead.
    sections
        Wet and oven-dry mass of the sections cut off it, in kilograms.
    meter_pct, temp_c
        What a meter showed, and how warm the wood was; `mc_pct` is corrected for it.
    """

    board: str = UNNAMED
    position: Position = Position.MIDDLE
    kg: float | None = None
    dry_kg: float | None = None
    mc_pct: float | None = None
    sections: tuple[tuple[float, float], ...] = ()
    meter_pct: float | None = None
    temp_c: float | None = None

    @property
    def detail(self) -> str:
        """The entry as it is stored."""
        told = {name: value for name, value in asdict(self).items() if value not in (None, ())}
        return json.dumps(told)

    @classmethod
    def read(cls, detail: str) -> "Entry":
        """Return the entry stored; a mere number is a moisture content in percent."""
        told: Any = json.loads(detail)
        if not isinstance(told, dict):
            return cls(mc_pct=float(told))
        sections = tuple((float(wet), float(dry)) for wet, dry in told.pop("sections", ()))
        position = Position(told.pop("position", Position.MIDDLE))
        return cls(**told, sections=sections, position=position)


class Basis(StrEnum):
    """What a board's oven-dry weight rests on."""

    OVEN = "oven"
    """It, or all of its like, was dried in an oven."""
    SECTIONS = "sections"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Reading:
    """One measurement of a board.

    Attributes
    ----------
    id
        The event's number in the store, by which it can be struck; None if it never was there.
    kg
        The weight; None where moisture content was told or metered.
    mc_pct
        Moisture content in percent; None for a board whose oven-dry weight is not known.
    metered
        Whether a meter said so.
    """

    id: int | None
    time: datetime
    kg: float | None
    mc_pct: float | None
    metered: bool = False


@dataclass(frozen=True)
class SampleBoard:
    """A sample board and its readings in order of time; `dry_kg` is None where not known."""

    name: str
    position: Position
    dry_kg: float | None
    basis: Basis
    readings: tuple[Reading, ...]

    @property
    def tells(self) -> bool:
        """Whether anything can be learned of it; one weight of unknown meaning tells nothing."""
        return any(r.mc_pct is not None for r in self.readings) or len(self.readings) > 1


def mc_pct(wet_kg: float, dry_kg: float) -> float:
    """Return moisture content in percent of oven-dry mass."""
    return 100.0 * (wet_kg / dry_kg - 1.0)


def oven_dry_kg(kg: float, at_mc_pct: float) -> float:
    """Return the oven-dry weight of a board that weighs `kg` at a moisture content."""
    return 100.0 * kg / (100.0 + at_mc_pct)


def sections_mc_pct(sections: Iterable[tuple[float, float]]) -> float:
    """Return the moisture content of a board by (wet, dry) sections off its ends: their mean."""
    found = [mc_pct(wet, dry) for wet, dry in sections]
    return sum(found) / len(found)


def corrected_meter_pct(shown_pct: float, temp_c: float, wood_pct: float = 0.0) -> float:
    """Return the moisture content behind a resistance meter's reading: cold wood reads low.

    Parameters
    ----------
    shown_pct
        What a meter calibrated at 20 °C on Douglas-fir shows.
    wood_pct
        What the meter's own table adds for this wood, in points.

    Source: Pfaff and Garrahan 1986, Forest Products Journal 36(3): 28-30 (from memory).
    """
    x = temp_c + 2.8
    plain = (shown_pct + 0.567 - 0.0260 * x + 0.000051 * x * x) / (0.881 * 1.0056**x)
    return float(plain + wood_pct)


def sample_boards(events: Iterable[Event], now: datetime) -> tuple[SampleBoard, ...]:
    """Return the sample boards that were told of up to `now`, by name.

    The oven-dry weight of a board is the one
    told last, wherever in time: its earlier weights are worth more once it is known.
    """
    told: dict[str, list[tuple[Event, Entry]]] = defaultdict(list)
    for event in sorted(events, key=lambda e: e.time):
        if event.kind in KINDS and event.time <= now:
            entry = Entry.read(event.detail)
            told[entry.board].append((event, entry))
    return tuple(_board(name, told[name]) for name in sorted(told))


KINDS = frozenset({EventKind.SAMPLED, EventKind.WEIGHED, EventKind.METERED, EventKind.OVEN_DRIED})
"""What tells of a sample board."""


def _board(name: str, told: list[tuple[Event, Entry]]) -> SampleBoard:
    dry_kg, basis = _dry(entry for _, entry in told)
    readings = []
    for event, entry in told:
        metered = event.kind is EventKind.METERED
        mc = entry.mc_pct
        if mc is None and entry.kg is not None and dry_kg is not None:
            mc = mc_pct(entry.kg, dry_kg)
        if event.kind is EventKind.OVEN_DRIED or (mc is None and entry.kg is None):
            continue
        readings.append(Reading(event.id, event.time, entry.kg, mc, metered))
    return SampleBoard(name, told[0][1].position, dry_kg, basis, tuple(readings))


def _dry(entries: Iterable[Entry]) -> tuple[float | None, Basis]:
    """Return the best word on the oven-dry weight: from the oven before sections."""
    found: Mapping[Basis, float] = {}
    for entry in entries:
        if entry.dry_kg is not None:
            found = {**found, Basis.OVEN: entry.dry_kg}
        elif entry.sections and entry.kg is not None:
            at = sections_mc_pct(entry.sections)
            found = {**found, Basis.SECTIONS: oven_dry_kg(entry.kg, at)}
    for basis in (Basis.OVEN, Basis.SECTIONS):
        if basis in found:
            return found[basis], basis
    return None, Basis.UNKNOWN
