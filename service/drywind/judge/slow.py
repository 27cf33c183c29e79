"""A stack that dries too slowly: stain clocks and mold, held against what its wood bears.

The clocks only run on, so what matters is whether one passes its limit in the hours ahead. Where
one has passed it the harm is done, and nothing is left to say.
"""

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.runs import Run
from drywind.wood.limits import is_oak
from drywind.wood.species import find_species
from drywind.wood.stain import BEARS_DAYS
from drywind.yard import Stack, Trait

Array = NDArray[np.float64]

VISIBLE_MOLD = 3.0
"""Spots the eye sees (Hukka and Viitanen 1999, from memory). Counted on the woods that stain alone:
the index was fitted on sapwood, and what grows on heartwood is planed off (assumption)."""

LEAST_HOURS = 48
"""So many hours ahead must be known before a clock is called safe (assumption)."""

_INSIDE = list(Board).index(Board.TYPICAL)
"""Stain is judged inside the pack: the boards around it dry sooner, and are few."""


def stain(run: Run, now: int) -> Finding:
    """Return what the clock that comes to most will have come to at the end of the forecast.

    Parameters
    ----------
    run
        Gone to the end of the forecast.
    now
        The present hour, counted from stacking.
    """
    found = [_clock(run, max(now, 0), *clock) for clock in _clocks(run)]
    return max(found, key=lambda f: f.severity, default=_nothing(run, max(now, 0)))


def bears_days(stack: Stack) -> Mapping[str, float]:
    """Return the dose in days at which each stain shows on a stack's wood; heartwood takes none.

    Oak is taken for heartwood unless it is told to be sapwood, of which it has little (assumption).
    """
    species = find_species(stack.species)
    if Trait.HEART in stack.traits or (is_oak(species) and Trait.SAP not in stack.traits):
        return {}
    return {stain: BEARS_DAYS[stain][grade] for stain, grade in species.stain.items()}


def _clocks(run: Run) -> Iterator[tuple[Sign, Array, float]]:
    """Return each clock: its sign, its course inside the pack, and what the wood bears."""
    courses = {
        "enzymatic": (Sign.SUGAR_STAIN, run.clocks.enzymatic),
        "blue": (Sign.BLUE_STAIN, run.clocks.blue),
    }
    bears = bears_days(run.case.stack)
    for name, limit in bears.items():
        sign, course = courses[name]
        yield sign, course[:, _INSIDE], limit
    if bears:
        yield Sign.MOLD, run.clocks.mold[:, _INSIDE], VISIBLE_MOLD


def _nothing(run: Run, now: int) -> Finding:
    """Return the finding of wood that takes no stain."""
    site = run.case.site_at(now)
    return Finding(run.case.stack.id, site, Hazard.STAIN, Sign.SUGAR_STAIN, 0.0, np.inf, 0.0)


def _clock(run: Run, now: int, sign: Sign, course: Array, limit: float) -> Finding:
    case = run.case
    ahead = course[now:]
    # A clock that began at a reading has run before it, nobody knows how far. Hours beyond the end
    # of the forecast are not asked about, if it reaches a few days.
    told = np.flatnonzero(case.known[now:])
    reach = int(told[-1]) + 1 if len(told) else 0
    known = case.begin_hour == 0 and not case.is_lost(now) and len(told) == reach >= LEAST_HOURS
    done = not np.isfinite(ahead).all() or ahead[0] >= limit or case.is_lost(now)
    severity = 0.0 if done else float(ahead[-1] / limit)
    first = None
    if severity >= 1.0:
        first = case.time_of(now + int(np.argmax(ahead >= limit)))
    return Finding(
        subject=case.stack.id,
        site=case.site_at(now),
        hazard=Hazard.STAIN,
        sign=sign,
        value=float(ahead[-1]),
        limit=limit,
        severity=severity,
        board=Board.TYPICAL,
        first=first,
        start=case.time_of(now),
        end=first,
        complete=known,
    )
