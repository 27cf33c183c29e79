"""What lies ahead of each stack: its pace, the weather behind it, and what would help."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from drywind.judge.hazards import Hazard, Pace, Window, pace
from drywind.judge.measures import READY_HOURS, Trial, choose, remedies, try_remedies
from drywind.judge.runs import Case, Grounds, Run, advance
from drywind.weather.air import saturation_pressure_pa
from drywind.wood.limits import Limit

_log = logging.getLogger(__name__)

SPELL_SHARE = 0.6
"""Hours do harm that have at least this share of the vapor pressure deficit of a window's driest
hour (assumption: it decides by when to act, not whether)."""


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
        What was tried, least work first, and what to do; empty and None within the limit.
    """

    run: Run
    now: int
    limit: Limit
    pace: Pace
    spell: Spell | None
    trials: tuple[Trial, ...] = ()
    chosen: Trial | None = None
    hazard: Hazard = Hazard.TOO_FAST

    @property
    def case(self) -> Case:
        """The stack and what acts on it."""
        return self.run.case

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
    def unknown_hours(self) -> int:
        """Past hours whose weather nobody knows; the stack was left as it was in them."""
        return self.case.unknown_hours(self.now)


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
    ready = advance(runs, [max(0, r.case.hour_of(now) + READY_HOURS) for r in runs])
    ended = advance(ready, [r.case.hours for r in ready])
    outlooks = []
    for at_hand, run in zip(ready, ended, strict=True):
        hour, limit = run.case.hour_of(now), limits[run.case.stack.id]
        judged = pace(run, hour, ahead, limit.value)
        trials: list[Trial] = []
        if judged.onset is not None:
            options = remedies(run.case.stack.setup_at(now), grounds.sites, grounds.full)
            trials = try_remedies(at_hand, options, grounds, ahead, limit.value, judged)
        worst = judged.worst
        spell = chosen = None
        if worst is not None:
            spell = _spell(run.case, worst, judged.onset or worst, hour)
            chosen = choose(trials, worst.severity)
        outlooks.append(Outlook(run, hour, limit, judged, spell, tuple(trials), chosen))
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
    part = case.weather.iloc[first : window.end]
    deficit = saturation_pressure_pa(part["temp_c"]) * (1.0 - part["rh"].to_numpy(float))
    return first, deficit >= SPELL_SHARE * deficit.max(), int(np.argmax(deficit))
