"""What lies ahead of a stack: findings, the weather behind them, and what would help."""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from drywind.judge.cases import Case
from drywind.judge.chance import Odds
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.hazards import SHELL_CHECKS_PCT, Pace
from drywind.judge.measures import READY_HOURS, Trial
from drywind.judge.runs import Run
from drywind.wood.limits import Limit

FRESH_LEAD_H = 72.0
"""A fresh stack is told of at once: its three days have begun, and no work is less than that done
while it is stacked (assumption)."""

LOADER_LEAD_H = 10.0
"""Work with a loader is told so much earlier: a working day instead of an evening (assumption)."""


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
    lift
        The covers that can come off, where no limit is near; None to leave all as it is.
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
    lift: Trial | None = None

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
        return (
            self.too_fast,
            *(
                replace(
                    found,
                    act_by=max(found.first, self._ready_at) if found.first else None,
                    helps=self.chosen is not None,
                    lead_h=self._lead_h,
                    chance=self.odds.over[found.hazard] if self.odds else None,
                )
                for found in self.others
            ),
        )

    def finding(self, hazard: Hazard) -> Finding:
        """Return what lies ahead of one hazard."""
        return next(f for f in self.findings if f.hazard is hazard)

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
        return max(self.spell.first, self._ready_at)

    @property
    def _ready_at(self) -> datetime:
        """When work could be done at the earliest."""
        return self.case.time_of(max(self.ready, self.now + READY_HOURS))

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
            lead_h=FRESH_LEAD_H if by_skin else self._lead_h,
            chance=self.chance,
            complete=self.pace.complete,
        )

    @property
    def _lead_h(self) -> float:
        """What the advised work needs beside an evening."""
        return LOADER_LEAD_H if self.chosen and self.chosen.remedy.needs_loader else 0.0

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
