"""What could be done for a stack: every measure tried in the model, with its side effects.

Measures and moves are data with the work they cost. Each is put on the stack at the hour it can
be in place, the stack is simulated anew to the end of the forecast, and judged on every hazard
like the stack as it stands: what slows drying may stain. Covers are tried with their removal, too,
once the danger is over. Chosen is the least work that brings every hazard under its limit; where
nothing does, what helps most, said so.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import combinations
from typing import NamedTuple

import numpy as np

from drywind.climate.stack_air import has_roof
from drywind.judge.cases import Case, Grounds
from drywind.judge.findings import Finding, Hazard
from drywind.judge.hazards import DAY, Pace, pace
from drywind.judge.runs import Run, advance, branch
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting
from drywind.units import INCH_M
from drywind.weather.sun import sun_position
from drywind.yard import Measure, Setup, Site

WORK_MINUTES: Mapping[Measure, int] = {
    Measure.PILE_ROOF: 20,
    Measure.SHADE_CLOTH: 20,
    Measure.BURLAP: 30,
    Measure.TARP: 50,
    Measure.PACKS_CLOSED: 45,
}
OFF_MINUTES: Mapping[Measure, int] = {
    Measure.PILE_ROOF: 10,
    Measure.SHADE_CLOTH: 10,
    Measure.BURLAP: 10,
    Measure.TARP: 10,
    Measure.PACKS_CLOSED: 45,
}
MOVE_MINUTES, RESTICKER_MINUTES = 60, 120
"""Work for one stack, two people; closing packs up or opening them and moving need a loader, and a
tarp that is not to sail or drip is lashed over battens (assumption)."""

READY_HOURS = 2
"""From the message to the measure in place, at the earliest (assumption)."""

DAYLIGHT_DEG = -3.0
"""How far under the horizon the sun may stand for work in the yard (assumption)."""

STACKING_HOURS = 4
"""Stickers can be changed for so long after a stack was begun (assumption)."""

THIN_M, THICK_M = 0.5 * INCH_M, 1.25 * INCH_M
"""Stickers that are tried instead of those of a stack (assumption)."""

WORTH_SHARE = 0.9
"""A remedy that leaves more than this share of the severity is not worth its work (assumption)."""

SURE_ENOUGH = 0.8
"""A remedy is called safe if it is in at least this share of the weathers that could well come."""


@dataclass(frozen=True)
class Remedy:
    """Covers to put on, another site to move to, covers to take off, other stickers."""

    measures: tuple[Measure, ...]
    move_to: str | None = None
    off: tuple[Measure, ...] = ()
    sticker_m: float | None = None

    @property
    def minutes(self) -> int:
        """The work it costs."""
        return (
            sum(WORK_MINUTES[m] for m in self.measures)
            + sum(OFF_MINUTES[m] for m in self.off)
            + (MOVE_MINUTES if self.move_to is not None else 0)
            + (RESTICKER_MINUTES if self.sticker_m is not None else 0)
        )

    @property
    def needs_loader(self) -> bool:
        """Whether packs are lifted."""
        lifts = Measure.PACKS_CLOSED in (*self.measures, *self.off)
        return lifts or self.move_to is not None or self.sticker_m is not None

    @property
    def lifted(self) -> "Remedy":
        """What is left of it when its covers have come off again; a roof stays."""
        return replace(self, measures=tuple(m for m in self.measures if m is Measure.PILE_ROOF))

    def applied(self, setup: Setup) -> Setup:
        """Return the setup after the work."""
        return replace(
            setup,
            site=self.move_to or setup.site,
            sticker_m=self.sticker_m or setup.sticker_m,
            measures=(setup.measures - set(self.off)) | set(self.measures),
        )


@dataclass(frozen=True)
class Trial:
    """A remedy, and how the stack fares with it.

    Attributes
    ----------
    known
        Whether all judged without it is known.
    others
        The findings of the other hazards with it.
    off_at
        When its covers can come off again without harm as far as the forecast reaches; None to
        leave them on.
    chance
        The share of weathers that could well come in which no hazard goes over its limit; None
        where it was not asked.
    """

    remedy: Remedy
    pace: Pace
    known: bool = True
    others: tuple[Finding, ...] = ()
    off_at: datetime | None = None
    chance: float | None = None

    @property
    def severity(self) -> float:
        """Of the worst window with the remedy; 1 is the limit."""
        return self.pace.worst.severity if self.pace.worst else float("inf")

    @property
    def excess(self) -> float:
        """By how much hazards go over their limits, added up."""
        return sum(max(0.0, s - 1.0) for s in (self.severity, *(f.severity for f in self.others)))

    @property
    def spared(self) -> bool:
        """Whether, should the forecast come true, no hazard goes over its limit."""
        within = self.pace.worst is not None and self.pace.onset is None
        return self.known and within and not any(f.over for f in self.others)

    @property
    def safe(self) -> bool:
        """Whether that is sure enough."""
        return self.spared and (self.chance is None or self.chance >= SURE_ENOUGH)


def remedies(
    setup: Setup,
    sites: Mapping[str, Site],
    full: AbstractSet[str] = frozenset(),
    against: AbstractSet[Hazard] = frozenset({Hazard.TOO_FAST}),
    *,
    stacking: bool = False,
) -> list[Remedy]:
    """Return what could be done for a stack set up so, the least work first.

    Parameters
    ----------
    full
        Sites without room.
    against
        The hazards that are over their limits.
    stacking
        Whether it is only being stacked, so that its stickers can still be changed.
    """
    found = _elsewhere(setup, sites, full)
    if against & {Hazard.TOO_FAST, Hazard.WETTING}:
        here = _covers(sites[setup.site], setup)
        found += [Remedy((m,)) for m in here] + [Remedy(pair) for pair in combinations(here, 2)]
    if Hazard.WETTING in against and Hazard.TOO_FAST not in against:
        found += [Remedy((Measure.TARP,))] if Measure.TARP not in setup.measures else []
    if Hazard.STAIN in against:
        bare = lifts(setup)
        found += bare
        if bare:
            moves = [r for r in found if r.move_to is not None and not r.measures]
            found += [replace(move, off=bare[-1].off) for move in moves]
    if stacking:
        sizes = {
            THIN_M: Hazard.TOO_FAST in against and setup.sticker_m > THIN_M,
            THICK_M: Hazard.STAIN in against and setup.sticker_m < THICK_M,
        }
        found += [Remedy((), sticker_m=size) for size, useful in sizes.items() if useful]
    return sorted(found, key=lambda r: r.minutes)


def lifts(setup: Setup) -> list[Remedy]:
    """Return what could come off a stack again, a roof left aside: each cover, and last all."""
    on = tuple(m for m in Measure if m in setup.measures and m is not Measure.PILE_ROOF)
    each = [Remedy((), off=(m,)) for m in on]
    return [*each, Remedy((), off=on)] if len(on) > 1 else each


def _covers(at: Site, setup: Setup) -> list[Measure]:
    """Return what can be put on a stack there: what it lacks, and no roof under a roof.

    A tarp is for rain alone: how hot it gets under one in the sun is not modeled.
    """
    useless = {Measure.TARP, *setup.measures}
    if has_roof(at, setup):
        useless.add(Measure.PILE_ROOF)
    return [m for m in Measure if m not in useless]


def _elsewhere(setup: Setup, sites: Mapping[str, Site], full: AbstractSet[str]) -> list[Remedy]:
    """Return every other site with room, also with one cover more."""
    found = []
    for name, other in sites.items():
        if name != setup.site and name not in full:
            found.append(Remedy((), name))
            found += [Remedy((m,), name) for m in _covers(other, setup)]
    return found


class Span(NamedTuple):
    """What is judged of a stack, as in `drywind.judge.hazards.pace`."""

    now: int
    ahead: int
    limit_pct_per_day: float


def ready_hour(case: Case, site: Site, now: int) -> int:
    """Return the hour since stacking in which work begun at hour `now` is done, in daylight."""
    hours = range(max(now, 0) + READY_HOURS, max(now, 0) + READY_HOURS + DAY)
    times = np.array([case.time_of(h).replace(tzinfo=None) for h in hours], "datetime64[s]")
    elevation, _ = sun_position(times, site.lat, site.lon)
    return hours[int(np.argmax(elevation > DAYLIGHT_DEG))]


def try_remedies(
    run: Run, options: Sequence[Remedy], grounds: Grounds, span: Span, without: Pace
) -> list[Trial]:
    """Simulate a stack with each remedy from the hour the run has come to, and judge it.

    Parameters
    ----------
    run
        The stack at the hour the work could be done.
    without
        The pace of the stack as it stands, which says when its covers could come off again.
    """
    case = run.case
    setup = case.stack.setup_at(case.time_of(run.hour))
    end = case.hours
    branches = [branch(run, option.applied(setup), grounds) for option in options]
    relief = end if without.relief is None else max(without.relief, run.hour)
    relieved = advance(branches, [relief] * len(branches))
    left_on = advance(relieved, [end] * len(branches))
    trials = [
        _judged(option, done, span, without) for option, done in zip(options, left_on, strict=True)
    ]
    lifted = [i for i, t in enumerate(trials) if t.spared and t.remedy.lifted != t.remedy]
    if relief == end or not lifted:
        return trials
    bare = [branch(relieved[i], options[i].lifted.applied(setup), grounds) for i in lifted]
    for i, done in zip(lifted, advance(bare, [end] * len(bare)), strict=True):
        if _judged(options[i], done, span, without).spared:
            trials[i] = replace(trials[i], off_at=case.time_of(relief))
    return trials


def _judged(remedy: Remedy, done: Run, span: Span, without: Pace) -> Trial:
    judged = pace(done, *span)
    others = (stain(done, span.now), wetting(done, span.now, span.ahead))
    return Trial(remedy, judged, judged.judged >= without.judged, others)


def choose(trials: Sequence[Trial], now: Sequence[float]) -> Trial | None:
    """Return the least work that is safe, else what helps most, else None.

    Parameters
    ----------
    now
        The severities of the hazards of the stack as it stands.
    """
    safe = [t for t in trials if t.safe]
    if safe:
        return min(safe, key=lambda t: (t.remedy.minutes, t.severity))
    excess = sum(max(0.0, severity - 1.0) for severity in now)
    worth = (1.0 - WORTH_SHARE) * max(now, default=0.0)
    helping = [t for t in trials if t.spared or t.excess < excess - worth]
    # Within a few hundredths the model cannot tell remedies apart: then the least work.
    return min(
        helping,
        key=lambda t: (round(t.excess, 1), -round(t.chance or 0.0, 1), t.remedy.minutes),
        default=None,
    )
