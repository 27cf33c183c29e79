"""When a stack is ready, with what nine in ten futures lie within, and when to weigh it next."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from drywind.judge.cases import Case
from drywind.learn.ahead import Futures, interval, loss_interval
from drywind.learn.priors import Priors

Array = NDArray[np.float64]


class Goal(StrEnum):
    """What a stack may be ready for."""

    PAST_CHECKS = "past_checks"
    KILN = "kiln"
    AIR_DRY = "air_dry"


GOALS_PCT: Mapping[Goal, float] = MappingProxyType(
    {Goal.PAST_CHECKS: 30.0, Goal.KILN: 25.0, Goal.AIR_DRY: 20.0}
)
"""No longer at risk of new surface checks below fiber saturation, 30 % (Drying Hardwood Lumber,
FPL-GTR-118, from memory); to the kiln at 25 % and air-dry at 20 % by the trade's usual words
(common practice, no source)."""

LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95
DRIEST_GOAL_PCT = min(GOALS_PCT.values())

WEIGH_DAYS = 14
"""How far ahead a day to weigh is looked for (assumption)."""
ENOUGH_SHARE = 0.85
"""The first day is named that teaches so much of what the best would (assumption)."""
LEAST_TAUGHT = 0.1
"""A weighing that narrows the standard deviation of diffusion by less is not asked for
(assumption)."""


@dataclass(frozen=True)
class Reached:
    """When a goal is reached: early, middle and late futures; None is beyond all that was seen.

    `is_reached` says whether more than half of them have reached it by now.
    """

    goal: Goal
    mc_pct: float
    low: datetime | None
    middle: datetime | None
    high: datetime | None
    is_reached: bool


@dataclass(frozen=True)
class Readiness:
    """A stack now and to come.

    Attributes
    ----------
    mc_pct
        Of the typical board now: mean, and what nine in ten futures lie within.
    week_loss_pct
        The same of the points it loses in the seven days ahead; None where those are unknown.
    goals
        In the order of `Goal`.
    weigh_on
        The day on which a weighing teaches most, and the share by which it narrows what is not
        known of the wood; None where it teaches little.
    seen_until
        How far ahead was looked.
    """

    case: Case
    mc_pct: tuple[float, float, float]
    week_loss_pct: tuple[float, float, float] | None
    goals: tuple[Reached, ...]
    weigh_on: tuple[datetime, float] | None
    seen_until: datetime


def readiness(
    case: Case, ahead: Futures, now: int, read_at: int | None, priors: Priors
) -> Readiness:
    """Return how ready a stack is.

    Parameters
    ----------
    now
        The present hour since stacking; the futures go past it.
    read_at
        The hour of its last reading; None if there is none.
    """
    present = max(now, int(ahead.hours[0]))
    week = present + 7 * 24
    loss = ahead.at(present) - ahead.at(week) if week <= ahead.hours[-1] else None
    return Readiness(
        case=case,
        mc_pct=_with(ahead.at(present), interval),
        week_loss_pct=None if loss is None else _with(loss, loss_interval),
        goals=tuple(_reached(case, ahead, goal, present) for goal in Goal),
        weigh_on=_weigh_on(case, ahead, present, read_at, priors),
        seen_until=case.time_of(int(ahead.hours[-1])),
    )


def _with(
    values: Array, interval_of: Callable[[Array], tuple[float, float]]
) -> tuple[float, float, float]:
    low, high = interval_of(values)
    return float(values.mean()), low, high


def _reached(case: Case, ahead: Futures, goal: Goal, now: int) -> Reached:
    """Return when each share of the futures has reached a goal."""
    dry = ahead.mc_pct <= GOALS_PCT[goal]
    first = np.where(dry.any(0), ahead.hours[dry.argmax(0)], np.iinfo(np.int64).max)
    last = int(ahead.hours[-1])

    def when(share: float) -> datetime | None:
        hour = int(np.quantile(first, share, method="closest_observation"))
        return case.time_of(hour) if hour <= last else None

    low, middle, high = (when(share) for share in (LOW, MIDDLE, HIGH))
    reached = middle is not None and middle <= case.time_of(now)
    return Reached(goal, GOALS_PCT[goal], low, middle, high, reached)


def _weigh_on(
    case: Case, ahead: Futures, now: int, read_at: int | None, priors: Priors
) -> tuple[datetime, float] | None:
    """Return the day that teaches most of how fast the wood dries, and how much.

    By a weighing on that day and the last one; without any, one today.
    """
    first = ahead.at(now if read_at is None else max(read_at, int(ahead.hours[0])))
    taught = []
    for day in range(1, WEIGH_DAYS + 1):
        if now + 24 * day > ahead.hours[-1]:
            break
        later = ahead.at(now + 24 * day)
        taught.append(_narrows(np.stack([first, later]), ahead.ln_diffusion, priors))
    if not taught or max(taught) < LEAST_TAUGHT:
        return None
    day = next(i for i, share in enumerate(taught) if share >= ENOUGH_SHARE * max(taught))
    return case.time_of(now) + timedelta(days=day + 1), taught[day]


def _narrows(mc_pct: Array, ln_diffusion: Array, priors: Priors) -> float:
    """Return by what share two weighings narrow the standard deviation of diffusion.

    By linear regression over the draws; both weighings share the error of the oven-dry weight.
    """
    dry = priors.sections_sd * (100.0 + mc_pct.mean(axis=1))
    noise = np.outer(dry, dry) + priors.weigh_pct**2 * np.eye(len(mc_pct))
    together = np.cov(np.vstack([mc_pct, ln_diffusion]))
    between = together[:-1, -1]
    known = between @ np.linalg.solve(together[:-1, :-1] + noise, between) / together[-1, -1]
    return float(1.0 - np.sqrt(max(1.0 - known, 0.0)))
