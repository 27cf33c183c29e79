"""The score of warnings against what people saw, and the limits that this proposes.

Nothing is ever changed by it: a proposal is a line for the owner to put in the configuration.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np

from drywind.judge.findings import Hazard
from drywind.judge.hazards import DAY, FIRST_WINDOW, net_of_rain, severities
from drywind.judge.runs import Run
from drywind.outcomes import Harm, Result

MARGIN = 0.9
"""A limit is proposed at this share of the least loss that checked boards (assumption)."""

LEAST_STEP = 0.1
"""Points a day by which a proposal must lie under the limit that holds (assumption)."""

SEEN_AS: Mapping[str, AbstractSet[Hazard]] = {
    "checks": frozenset({Hazard.TOO_FAST, Hazard.WETTING}),
    "stain": frozenset({Hazard.STAIN, Hazard.WAITING}),
}
"""Which hazards are to blame for what people see; warp is not foreseen."""


@dataclass(frozen=True)
class Ended:
    """A stack that was taken down.

    Attributes
    ----------
    limit
        The 4/4 limit of its species as it holds now, in points a day.
    warned
        The hazards that somebody was warned of.
    """

    name: str
    species: str
    limit: float
    result: Result
    warned: AbstractSet[Hazard]


class Tally(NamedTuple):
    """Stacks by whether they were warned of and whether they came to harm."""

    warned_harmed: int
    warned_sound: int
    silent_harmed: int
    silent_sound: int


@dataclass(frozen=True)
class Proposal:
    """A tighter limit for a species' 4/4, and why.

    `checked` and `sound` are the losses, as of wet 4/4, at which stacks did and did not check.
    """

    species: str
    limit: float
    proposed: float
    checked: tuple[float, ...]
    sound: tuple[float, ...]


def worst_severity(run: Run, until: int, limit: float) -> float | None:
    """Return the worst window a stack went through up to an hour; None where one is unknown."""
    start = run.case.begin_hour
    until = min(until, run.case.hours)
    if run.case.unknown_hours(until) or start > 0 or until < FIRST_WINDOW:
        return None
    spans = [(0, FIRST_WINDOW)] + [(first, DAY) for first in range(DAY, until - DAY + 1)]
    columns = run.case.counted_columns
    mc = net_of_rain(run.mc_pct[:, columns])
    found = severities(mc, run.shell_pct[:, columns], spans, limit, 0)
    return float(np.nanmax(found))


def tallies(ended: Sequence[Ended]) -> dict[str, Tally]:
    """Return the score by what people see, of the stacks of which they told."""
    found = {}
    for seen, hazards in SEEN_AS.items():
        counts = dict.fromkeys(product((True, False), (True, False)), 0)
        for one in ended:
            harm = getattr(one.result, seen)
            if harm is not None:
                counts[bool(hazards & one.warned), harm is not Harm.NONE] += 1
        found[seen] = Tally(*counts.values())
    return found


def proposals(ended: Sequence[Ended]) -> list[Proposal]:
    """Return the limits that checked boards speak for, by species.

    One stack that checked is enough, unless others bore as much: then it takes two.
    """
    found = []
    for species in sorted({one.species for one in ended}):
        told = [
            (one.result.checks is not Harm.NONE, one.result.severity * one.limit)
            for one in ended
            if one.species == species
            and one.result.checks is not None
            and one.result.severity is not None
        ]
        checked = tuple(sorted(loss for harmed, loss in told if harmed))
        sound = tuple(sorted(loss for harmed, loss in told if not harmed))
        limit = next(one.limit for one in ended if one.species == species)
        if not checked or (len(checked) == 1 and any(loss >= checked[0] for loss in sound)):
            continue
        proposed = np.floor(10.0 * MARGIN * checked[0]) / 10.0
        if proposed <= limit - LEAST_STEP:
            found.append(Proposal(species, limit, float(proposed), checked, sound))
    return found
