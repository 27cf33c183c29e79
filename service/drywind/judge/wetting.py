"""Rain on half-dried boards: it opens checks inside, and stains under the stickers.

Wetting partially dried oak causes much interior checking (Wengert 2009, Preventing drying damage
to oak, seen); green wood does not mind. Rain in one spell is added up on the board it strikes most.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.runs import Run
from drywind.wood.degrade import HALF_DRIED_PCT

Array = NDArray[np.float64]

SOAKS_MM = 2.0
"""Rain in one spell that does harm. Assumption, believable from 1 to 5: a millimeter is 7 points of
moisture content to a 4/4 board of oak, and half of it runs off."""

DRY_GAP_H = 6
"""Rain that stops for less is one spell (assumption)."""

WORST = 2.0
"""Rain is no worse than this severity (assumption: soaked is soaked)."""


class _Spell(NamedTuple):
    """A spell of rain: its hours from now on, and how much strikes which board."""

    start: int
    end: int
    mm: float
    column: int


def wetting(run: Run, now: int, ahead: int) -> Finding:
    """Return the worst spell of rain on boards below 40 % MC.

    Parameters
    ----------
    run
        Gone at least to the end of the hours ahead.
    now, ahead
        The present hour, counted from stacking, and how many hours from then on are judged.
    """
    case, now = run.case, max(now, 0)
    until = min(now + ahead, case.hours)
    columns = case.counted_columns
    rain = case.drivers.rain_mm[now:until][:, columns]
    half_dried = run.mc_pct[now:until][:, columns] < HALF_DRIED_PCT
    struck: Array = np.nan_to_num(np.where(half_dried, rain, 0.0))
    told = np.isfinite(case.weather["rain_mm"].to_numpy(float)[now:until]).all()
    known = not case.is_lost(now) and bool(told and case.known[now:until].all())
    nothing = Finding(
        case.stack.id, case.site_at(now), Hazard.WETTING, Sign.RAIN, 0.0, SOAKS_MM, 0.0
    )
    spells = [] if case.is_lost(now) else _spells(struck)
    if not spells:
        return replace(nothing, complete=known)
    worst = max(spells, key=lambda spell: spell.mm)
    over = [spell for spell in spells if spell.mm >= SOAKS_MM]
    return replace(
        nothing,
        value=worst.mm,
        severity=min(WORST, worst.mm / SOAKS_MM),
        board=case.counted[worst.column],
        first=case.time_of(now + over[0].start) if over else None,
        start=case.time_of(now + worst.start),
        end=case.time_of(now + worst.end),
        complete=known,
    )


def _spells(struck: Array) -> list[_Spell]:
    """Return the spells in hours of rain of shape (hours, boards)."""
    wet = np.flatnonzero(struck.max(axis=1) > 0.0)
    if not len(wet):
        return []
    parts = np.split(wet, np.flatnonzero(np.diff(wet) > DRY_GAP_H) + 1)
    spells = []
    for hours in parts:
        start, end = int(hours[0]), int(hours[-1]) + 1
        fallen = struck[start:end].sum(axis=0)
        spells.append(_Spell(start, end, float(fallen.max()), int(fallen.argmax())))
    return spells
