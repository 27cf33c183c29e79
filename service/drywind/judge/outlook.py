"""What lies ahead of each stack: its pace, the weather behind it, and what would help."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from drywind.judge.chance import chances
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.hazards import SHELL_CHECKS_PCT, SHELL_HOURS, Pace, Window, pace
from drywind.judge.measures import READY_HOURS, Trial, choose, remedies, try_remedies
from drywind.judge.runs import Case, Grounds, Run, View, advance
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.limits import Limit

_log = logging.getLogger(__name__)

SPELL_SHARE = 0.6
"""Hours do harm that have at least this share of the vapor pressure deficit of a window's driest
hour (assumption: it decides by when to act, not whether)."""


CHANCE_FROM = 0.7
"""How near the limit a stack must be for its chance to be worth the work (assumption)."""


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
    chance
        The share of weathers that could well come in which the stack goes over its limit; None
        where it was not asked.
    trials, chosen
        What was tried, least work first, and what to do; empty and None within the limit.
    """

    run: Run
    now: int
    limit: Limit
    pace: Pace
    spell: Spell | None
    trials: tuple[Trial, ...] = ()
    chosen: Trial | None = None
    chance: float | None = None

    @property
    def case(self) -> Case:
        """The stack and what acts on it."""
        return self.run.case

    @property
    def site_now(self) -> str:
        """The site the stack stands at."""
        return self.case.stack.setup_at(self.case.time_of(max(self.now, 0))).site

    @property
    def severity(self) -> float:
        """Of the worst window ahead, 1 being the limit; 0 where nothing is known."""
        return self.pace.worst.severity if self.pace.worst else 0.0

    @property
    def onset(self) -> datetime | None:
        """When the first window over the limit starts."""
        return self.case.time_of(self.pace.onset.start) if self.pace.onset else None

    @property
    def act_by(self) -> datetime | None:
        """By when the work should be done: when harm first begins, or as soon as it can be."""
        if self.spell is None:
            return None
        return max(self.spell.first, self.case.time_of(self.now + READY_HOURS))

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
    return assess_views([View(r, limits[r.case.stack.id], grounds, now) for r in runs], ahead)


def assess_views(views: Sequence[View], ahead: int, *, advise: bool = True) -> list[Outlook]:
    """Judge stacks as `assess` does, each at an instant and in a weather of its own.

    Without `advise` nothing is tried of what could be done, which is most of the work.
    """
    try:
        outlooks = _look(views, ahead)
        if not advise:
            return outlooks
        pairs = zip(views, outlooks, strict=True)
        return [with_remedies(outlook, view, ahead) for view, outlook in pairs]
    except Exception:  # noqa: BLE001 - one stack must not silence the others
        if len(views) > 1:
            alone = (assess_views([view], ahead, advise=advise) for view in views)
            return [outlook for outlooks in alone for outlook in outlooks]
        (view,) = views
        _log.exception("stack %s cannot be judged", view.run.case.stack.id)
        return [Outlook(view.run, view.hour, view.limit, Pace({}, None, complete=False), None)]


def with_remedies(outlook: Outlook, view: View, ahead: int) -> Outlook:
    """Return an outlook with what could be done about it; as it is within the limit."""
    if outlook.pace.onset is None:
        return outlook
    options = remedies(
        view.run.case.stack.setup_at(view.now), view.grounds.sites, view.grounds.full
    )
    (ready,) = _ready([view])
    trials = try_remedies(ready.run, options, view.grounds, ahead, view.limit.value, outlook.pace)
    return replace(outlook, trials=tuple(trials), chosen=choose(trials, outlook.severity))


def _ready(views: Sequence[View]) -> list[View]:
    """Return the views with their stacks dried to the hour work could be done."""
    runs = advance([v.run for v in views], [max(0, v.hour + READY_HOURS) for v in views])
    return [replace(view, run=run) for view, run in zip(views, runs, strict=True)]


def _look(views: Sequence[View], ahead: int) -> list[Outlook]:
    """Judge the stacks as they stand, and say how likely harm is where it is near."""
    ready = _ready(views)
    ended = advance([v.run for v in ready], [v.run.case.hours for v in ready])
    paces = [
        pace(run, view.hour, ahead, view.limit.value)
        for run, view in zip(ended, views, strict=True)
    ]
    near = [i for i, p in enumerate(paces) if p.worst and p.worst.severity >= CHANCE_FROM]
    likely = dict(zip(near, chances([ready[i] for i in near], ahead), strict=True))
    outlooks = []
    for i, (view, run) in enumerate(zip(views, ended, strict=True)):
        judged = paces[i]
        spell = None
        if judged.worst is not None:
            spell = _spell(run.case, judged.worst, judged.onset or judged.worst, view.hour)
        outlooks.append(Outlook(run, view.hour, view.limit, judged, spell, chance=likely.get(i)))
    return outlooks


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
