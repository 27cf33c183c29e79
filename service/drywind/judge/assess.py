"""Stacks judged: what lies ahead of each as it stands, how likely that is, and what would help."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from drywind.judge.cases import Case, Grounds
from drywind.judge.chance import Course, chances
from drywind.judge.hazards import SHELL_HOURS, Pace, Window, pace
from drywind.judge.measures import (
    STACKING_HOURS,
    Remedy,
    Span,
    Trial,
    choose,
    lifts,
    ready_hour,
    remedies,
    try_remedies,
)
from drywind.judge.outlook import Outlook, Spell
from drywind.judge.runs import Run, View, advance
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.limits import Limit

SPELL_SHARE = 0.6
"""Hours do harm that have at least this share of the vapor pressure deficit of a window's driest
hour (assumption: it decides by when to act, not whether)."""

CHANCE_FROM = 0.85
"""How near a limit a stack must be for its chance to be worth the work (assumption)."""

CANDIDATES = 8
"""So many of the remedies that would do, the least work first, are tried in all weathers
(assumption: what does not do then is seldom saved by more work)."""

_log = logging.getLogger(__name__)


def assess(
    runs: Sequence[Run],
    limits: Mapping[str, Limit],
    grounds: Grounds,
    now: datetime,
    ahead: int,
) -> list[Outlook]:
    """Judge each stack from the state its run has come to, which must not lie after `now`.

    One on which the model fails is unknown, and does not keep the others from being judged.

    Parameters
    ----------
    limits
        The safe loss of each stack, by its name.
    ahead
        How many hours ahead a window may start and still be judged.
    """
    return assess_views([View(r, limits[r.case.stack.id], grounds, now) for r in runs], ahead)


def assess_views(views: Sequence[View], ahead: int, *, advise: bool = True) -> list[Outlook]:
    """Judge stacks as `assess` does, each at an instant and in a weather of its own.

    Without `advise` nothing is tried of what could be done, which is most of the work.
    """
    try:
        outlooks = _look(views, ahead)
        return with_remedies(outlooks, views, ahead) if advise else outlooks
    except Exception:  # noqa: BLE001 - one stack must not silence the others
        if len(views) > 1:
            alone = (assess_views([view], ahead, advise=advise) for view in views)
            return [outlook for outlooks in alone for outlook in outlooks]
        (view,) = views
        _log.exception("stack %s cannot be judged", view.run.case.stack.id)
        return [Outlook(view.run, view.hour, view.limit, Pace({}, None, complete=False), None)]


def with_remedies(outlooks: Sequence[Outlook], views: Sequence[View], ahead: int) -> list[Outlook]:
    """Return outlooks with what could be done.

    Where a hazard is over its limit, that is what keeps it under; where none is, the covers that
    can come off.
    """
    found = list(outlooks)
    options = [_options(outlook, view) for outlook, view in zip(outlooks, views, strict=True)]
    busy = [i for i, each in enumerate(options) if each]
    at_hand = at_work([views[i] for i in busy])
    tried = [
        try_remedies(view.run, options[i], view.grounds, _span(view, ahead), found[i].pace)
        for i, view in zip(busy, at_hand, strict=True)
    ]
    for i, trials in zip(busy, _made_sure(tried, at_hand, ahead), strict=True):
        if found[i].over:
            chosen = choose(trials, [f.severity for f in found[i].findings])
            found[i] = replace(found[i], trials=tuple(trials), chosen=chosen)
        else:
            safe = [trial for trial in trials if trial.safe]
            most = max(safe, key=lambda t: len(t.remedy.off), default=None)
            found[i] = replace(found[i], lift=most)
    return found


def _options(outlook: Outlook, view: View) -> list[Remedy]:
    """Return what is worth trying on a stack."""
    grounds, fresh = view.grounds, view.hour <= STACKING_HOURS
    if outlook.over:
        return remedies(view.setup, grounds.sites, grounds.full, outlook.over, stacking=fresh)
    return lifts(view.setup) if outlook.pace.complete and outlook.pace.worst else []


def _span(view: View, ahead: int) -> Span:
    return Span(view.hour, ahead, view.limit.value)


def at_work(views: Sequence[View]) -> list[View]:
    """Return the views with their stacks dried to the hour work could be done."""
    hours = [_ready(view) for view in views]
    runs = advance([view.run for view in views], hours)
    return [replace(view, run=run) for view, run in zip(views, runs, strict=True)]


def _ready(view: View) -> int:
    case = view.run.case
    return min(ready_hour(case, view.grounds.sites[view.setup.site], view.hour), case.hours)


def _look(views: Sequence[View], ahead: int) -> list[Outlook]:
    """Judge the stacks as they stand, and say how likely harm is where it is near."""
    at_hand = at_work(views)
    ended = advance([v.run for v in at_hand], [v.run.case.hours for v in at_hand])
    found = [
        replace(_as_it_stands(run, view, ahead), ready=view.run.hour)
        for run, view in zip(ended, at_hand, strict=True)
    ]
    near = [i for i, o in enumerate(found) if max(f.severity for f in o.findings) >= CHANCE_FROM]
    courses = [Course.as_it_stands(at_hand[i]) for i in near]
    for i, odds in zip(near, chances(courses, ahead), strict=True):
        found[i] = replace(found[i], odds=odds)
    return found


def _as_it_stands(run: Run, view: View, ahead: int) -> Outlook:
    """Return the outlook of a stack to which nothing is done."""
    judged = pace(run, view.hour, ahead, view.limit.value)
    worst = judged.worst
    spell = _spell(run.case, worst, judged.onset or worst, view.hour) if worst else None
    others = (stain(run, view.hour), wetting(run, view.hour, ahead))
    return Outlook(run, view.hour, view.limit, judged, spell, others=others)


def _made_sure(
    tried: Sequence[Sequence[Trial]], views: Sequence[View], ahead: int
) -> list[list[Trial]]:
    """Return the trials, of which those that would do are tried in other weathers, too."""
    found = [list(trials) for trials in tried]
    asked = [
        (i, j)
        for i, trials in enumerate(found)
        for j in [j for j, trial in enumerate(trials) if trial.spared][:CANDIDATES]
    ]
    courses = [_with_remedy(views[i], found[i][j]) for i, j in asked]
    for (i, j), odds in zip(asked, chances(courses, ahead), strict=True):
        if odds is not None:
            found[i][j] = replace(found[i][j], chance=odds.spared)
    return found


def _with_remedy(view: View, trial: Trial) -> Course:
    """Return a stack to which a remedy is done, and undone when that is advised."""
    setups = [(view.run.hour, trial.remedy.applied(view.setup))]
    if trial.off_at is not None:
        lifted = trial.remedy.lifted.applied(view.setup)
        setups.append((view.run.case.hour_of(trial.off_at), lifted))
    return Course(view, tuple(setups))


def _spell(case: Case, window: Window, onset: Window, now: int) -> Spell:
    """Return the harmful hours of a window that still lie ahead: those around the driest."""
    first, harmful, driest = _harmful(case, window, now)
    padded = np.pad(harmful, 1)
    start = driest - int(np.argmin(padded[driest + 1 :: -1])) + 1
    end = driest + int(np.argmin(padded[driest + 1 :]))
    hours = case.weather.iloc[first + start : first + end]
    begins, early, _ = _harmful(case, onset, now)
    return Spell(
        case.time_of(begins + int(np.argmax(early))),
        case.time_of(first + start),
        case.time_of(first + end),
        float(hours["temp_c"].max()),
        float(hours["rh"].min()),
        float(hours["wind_ms"].max()),
    )


def _harmful(case: Case, window: Window, now: int) -> tuple[int, NDArray[np.bool_], int]:
    """Return the first hour of a window ahead, which from there on do harm, and the driest."""
    first = max(window.start, now, 0)
    # A fresh board is judged by its skin of the first three days as well: heat on the third harms.
    end = window.end if window.shell_pct is None else max(window.end, SHELL_HOURS)
    part = case.weather.iloc[first:end]
    deficit = saturation_pressure_pa(part["temp_c"]) * (1.0 - part["rh"].to_numpy(float))
    return first, deficit >= SPELL_SHARE * deficit.max(), int(np.argmax(deficit))
