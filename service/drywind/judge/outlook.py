"""What lies ahead of each stack: its pace, the weather behind it, and what would help."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from drywind.judge.chance import Course, Odds, chances
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.hazards import SHELL_CHECKS_PCT, SHELL_HOURS, Pace, Window, pace
from drywind.judge.measures import (
    READY_HOURS,
    STACKING_HOURS,
    Span,
    Trial,
    choose,
    ready_hour,
    remedies,
    try_remedies,
)
from drywind.judge.runs import Case, Grounds, Run, advance
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.limits import Limit

_log = logging.getLogger(__name__)

SPELL_SHARE = 0.6
"""Hours do harm that have at least this share of the vapor pressure deficit of a window's driest
hour (assumption: it decides by when to act, not whether)."""


CHANCE_FROM = 0.7
"""How near the limit a stack must be for its chance to be worth the work (assumption)."""


CANDIDATES = 8
"""So many of the remedies that would do, the least work first, are tried in all weathers."""


@dataclass(frozen=True)
class Spell:
    """The hours that do a window's harm, and their weather.

    Attributes
    ----------
    first
        When harm first begins, in this window or an earlier one over the limit.
    start, end
        The hours in a row around the driest one.
    temp_c, rh, wind_ms
        The highest temperature, the lowest humidity and the strongest wind in them.
    """

    first: datetime
    start: datetime
    end: datetime
    temp_c: float
    rh: float
    wind_ms: float


@dataclass(frozen=True)
class Outlook:
    """One stack over the hours ahead.

    Attributes
    ----------
    run
        Gone to the end of the forecast with the stack as it stands.
    now
        The present hour, counted from stacking.
    spell
        The weather of the worst window; None where nothing ahead is known.
    trials, chosen
        What was tried, least work first, and what to do; empty and None within all limits.
    others
        The findings of the other hazards, with the stack as it stands.
    odds
        How often weathers that could well come bring it over its limits; None where it was not
        asked.
    ready
        The hour since stacking in which work could be done.
    """

    run: Run
    now: int
    limit: Limit
    pace: Pace
    spell: Spell | None
    trials: tuple[Trial, ...] = ()
    chosen: Trial | None = None
    others: tuple[Finding, ...] = ()
    odds: Odds | None = None
    ready: int = 0

    @property
    def case(self) -> Case:
        """The stack and what acts on it."""
        return self.run.case

    @property
    def site_now(self) -> str:
        """The site the stack stands at."""
        return self.case.site_at(self.now)

    @property
    def severity(self) -> float:
        """Of the worst window ahead, 1 being the limit; 0 where nothing is known."""
        return self.pace.worst.severity if self.pace.worst else 0.0

    @property
    def chance(self) -> float | None:
        """The share of weathers in which it dries too fast; None where it was not asked."""
        return self.odds.over[Hazard.TOO_FAST] if self.odds else None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What lies ahead, by hazard, with what to do about it."""
        ready = self.case.time_of(max(self.ready, self.now + READY_HOURS))
        return (
            self.too_fast,
            *(
                replace(
                    found,
                    act_by=max(found.first, ready) if found.first else None,
                    helps=self.chosen is not None,
                    chance=self.odds.over[found.hazard] if self.odds else None,
                )
                for found in self.others
            ),
        )

    @property
    def over(self) -> frozenset[Hazard]:
        """The hazards that go over their limits."""
        return frozenset(f.hazard for f in self.findings if f.over)

    @property
    def onset(self) -> datetime | None:
        """When the first window over the limit starts."""
        return self.case.time_of(self.pace.onset.start) if self.pace.onset else None

    @property
    def act_by(self) -> datetime | None:
        """By when the work should be done: when harm first begins, or as soon as it can be."""
        if self.spell is None:
            return None
        ready = max(self.ready, self.now + READY_HOURS)
        return max(self.spell.first, self.case.time_of(ready))

    @property
    def too_fast(self) -> Finding:
        """The finding that it dries too fast."""
        worst, spell = self.pace.worst, self.spell
        by_skin = worst is not None and worst.shell_pct is not None and worst.severity < worst.ratio
        value, limit = 0.0, self.limit.value
        if worst is not None:
            value, limit = worst.loss_pct_per_day, worst.safe_pct_per_day
            if by_skin and worst.shell_pct is not None:
                value, limit = worst.shell_pct, SHELL_CHECKS_PCT
        return Finding(
            subject=self.case.stack.id,
            site=self.site_now,
            hazard=Hazard.TOO_FAST,
            sign=Sign.SKIN if by_skin else Sign.LOSS,
            value=value,
            limit=limit,
            severity=self.severity,
            board=worst.board if worst else None,
            first=spell.first if spell is not None and self.pace.onset is not None else None,
            start=spell.start if spell else None,
            end=spell.end if spell else None,
            act_by=self.act_by,
            helps=self.chosen is not None,
            chance=self.chance,
            complete=self.pace.complete,
        )

    @property
    def unknown_hours(self) -> int:
        """Past hours whose weather nobody knows; the stack was left as it was in them."""
        return self.case.unknown_hours(self.now)

    @property
    def unknown_loss_pct(self) -> float | None:
        """Points of moisture content the stack may be drier for its unknown hours.

        At the mean rate of the hours that are known; None where none is.
        """
        case, mc_pct = self.case, self.run.mc_pct[:, 0]
        hours = slice(case.begin_hour, max(self.now, case.begin_hour))
        drops, known = -np.diff(mc_pct)[hours], case.known[hours]
        drops = drops[known & np.isfinite(drops)]
        return None if not len(drops) else max(0.0, float(drops.mean())) * self.unknown_hours


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
    try:
        return _assess(runs, limits, grounds, now, ahead)
    except Exception:  # noqa: BLE001 - one stack must not silence the others
        if len(runs) > 1:
            alone = (assess([r], limits, grounds, now, ahead) for r in runs)
            return [outlook for outlooks in alone for outlook in outlooks]
        (run,) = runs
        _log.exception("stack %s cannot be judged", run.case.stack.id)
        nothing = Pace({}, None, complete=False)
        return [Outlook(run, run.case.hour_of(now), limits[run.case.stack.id], nothing, None)]


def _assess(
    runs: Sequence[Run],
    limits: Mapping[str, Limit],
    grounds: Grounds,
    now: datetime,
    ahead: int,
) -> list[Outlook]:
    hours = [_ready(run.case, grounds, now) for run in runs]
    ready = advance(runs, hours)
    ended = advance(ready, [r.case.hours for r in ready])
    seen = [
        replace(_as_it_stands(run, limits[run.case.stack.id], now, ahead), ready=hour)
        for run, hour in zip(ended, hours, strict=True)
    ]
    courses = [
        Course.as_it_stands(at_hand, outlook.limit.value, now)
        for at_hand, outlook in zip(ready, seen, strict=True)
    ]
    near = [i for i, o in enumerate(seen) if max(f.severity for f in o.findings) >= CHANCE_FROM]
    for i, odds in zip(near, chances([courses[i] for i in near], grounds, now, ahead), strict=True):
        seen[i] = replace(seen[i], odds=odds)
    over = [i for i in near if seen[i].over]
    tried = [_tried(seen[i], ready[i], grounds, ahead) for i in over]
    sure = _make_sure(tried, [courses[i] for i in over], grounds, now, ahead)
    for i, trials in zip(over, sure, strict=True):
        chosen = choose(trials, [f.severity for f in seen[i].findings])
        seen[i] = replace(seen[i], trials=tuple(trials), chosen=chosen)
    return seen


def _as_it_stands(run: Run, limit: Limit, now: datetime, ahead: int) -> Outlook:
    """Return the outlook of a stack to which nothing is done."""
    hour = run.case.hour_of(now)
    judged = pace(run, hour, ahead, limit.value)
    worst = judged.worst
    spell = _spell(run.case, worst, judged.onset or worst, hour) if worst else None
    others = (stain(run, hour), wetting(run, hour, ahead))
    return Outlook(run, hour, limit, judged, spell, others=others)


def _ready(case: Case, grounds: Grounds, now: datetime) -> int:
    hour = case.hour_of(now)
    return min(ready_hour(case, grounds.sites[case.site_at(hour)], hour), case.hours)


def _tried(outlook: Outlook, at_hand: Run, grounds: Grounds, ahead: int) -> list[Trial]:
    """Return what was tried on a stack that comes over a limit."""
    setup = at_hand.case.stack.setup_at(at_hand.case.time_of(at_hand.hour))
    options = remedies(
        setup,
        grounds.sites,
        grounds.full,
        outlook.over,
        stacking=outlook.now <= STACKING_HOURS,
    )
    span = Span(outlook.now, ahead, outlook.limit.value)
    return try_remedies(at_hand, options, grounds, span, outlook.pace)


def _make_sure(
    tried: Sequence[list[Trial]],
    courses: Sequence[Course],
    grounds: Grounds,
    now: datetime,
    ahead: int,
) -> list[list[Trial]]:
    """Return the trials, of which those that would do are tried in other weathers, too."""
    asked = [
        (i, j)
        for i, trials in enumerate(tried)
        for j in [j for j, trial in enumerate(trials) if trial.spared][:CANDIDATES]
    ]
    found = [list(trials) for trials in tried]
    with_remedy = [_with_remedy(courses[i], found[i][j]) for i, j in asked]
    for (i, j), odds in zip(asked, chances(with_remedy, grounds, now, ahead), strict=True):
        if odds is not None:
            found[i][j] = replace(found[i][j], chance=odds.spared)
    return found


def _with_remedy(course: Course, trial: Trial) -> Course:
    """Return a stack to which a remedy is done, and undone when that is advised."""
    (hour, setup), remedy = course.setups[0], trial.remedy
    setups = [(hour, remedy.applied(setup))]
    if trial.off_at is not None:
        setups.append((course.run.case.hour_of(trial.off_at), remedy.lifted.applied(setup)))
    return replace(course, setups=tuple(setups))


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
