"""How much of its safe pace a stack uses, and what would let it dry faster without harm.

A stack far under its safe pace loses time and gains stain: covers that have done their work, packs
closed up, a still corner. It is a hint for the morning, never a warning.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from drywind.judge.cases import Grounds
from drywind.judge.hazards import DAY
from drywind.judge.measures import Span, Trial, lifts, remedies, try_remedies
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run, advance
from drywind.wood.limits import NO_WEIGHT_MC_PCT

BACK_HOURS, AHEAD_HOURS = 48, 72
"""The days a pace is taken over (assumption)."""

IDLE_SHARE = 0.3
"""A stack that uses less of its safe pace is worth opening up (assumption)."""

FASTER_SHARE = 1.25
"""What makes it dry so many times as fast is worth the work (assumption)."""


@dataclass(frozen=True)
class Hint:
    """What would let a stack dry faster, and how much of its safe pace it uses as it stands."""

    share: float
    trial: Trial


def share_of_pace(outlook: Outlook) -> float | None:
    """Return the loss of the fastest board, two days back and three ahead, over its safe loss.

    None where nothing is known, or where the wood is too dry for a limit.
    """
    now = max(outlook.now, 0)
    mc = outlook.run.mc_pct[:, outlook.case.counted_columns]
    if mc[now, 0] < NO_WEIGHT_MC_PCT or outlook.pace.worst is None:
        return None
    start, end = max(now - BACK_HOURS, 0), min(now + AHEAD_HOURS, len(mc) - 1)
    rows = np.flatnonzero(np.isfinite(mc[start : end + 1]).all(axis=1)) + start
    if len(rows) < DAY:
        return None
    loss = float((mc[rows[0]] - mc[rows[-1]]).max()) * DAY / int(rows[-1] - rows[0])
    return max(0.0, loss) / outlook.limit.value


def hints(
    outlooks: Sequence[Outlook], runs: Mapping[str, Run], grounds: Grounds, ahead: int
) -> dict[str, Hint]:
    """Return what would let stacks dry faster that use little of their safe pace, by stack.

    Parameters
    ----------
    runs
        Each stack at an hour from which it can be dried on, not after now.
    ahead
        As in `drywind.judge.hazards.pace`.
    """
    found = {}
    for outlook in outlooks:
        share = share_of_pace(outlook)
        if share is None or share >= IDLE_SHARE or outlook.over or not outlook.pace.complete:
            continue
        (at_hand,) = advance([runs[outlook.case.stack.id]], [outlook.ready])
        setup = outlook.case.stack.setup_at(outlook.case.time_of(outlook.now))
        moves = remedies(setup, grounds.sites, grounds.full, frozenset())
        options = [*lifts(setup), *(r for r in moves if not r.measures)]
        span = Span(outlook.now, ahead, outlook.limit.value)
        trials = try_remedies(at_hand, options, grounds, span, outlook.pace)
        faster = [t for t in trials if t.spared and _loss(t) > FASTER_SHARE * _loss(outlook)]
        if faster:
            best = min(faster, key=lambda t: t.remedy.minutes)
            found[outlook.case.stack.id] = Hint(share, best)
    return found


def _loss(judged: Outlook | Trial) -> float:
    """Return the fastest loss ahead, of any board."""
    return max((w.loss_pct_per_day for w in judged.pace.by_board.values()), default=0.0)
