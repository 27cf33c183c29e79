"""The course of a stack by the days of the yard's calendar: what its boards hold, and lose."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from drywind.climate.stack_air import Board
from drywind.judge.cases import Case
from drywind.judge.hazards import DAY, severities
from drywind.judge.runs import Run
from drywind.wood.limits import weight

WHOLE_DAY_HOURS = 23
"""A day of the calendar has 23 to 25 hours; a shorter one is a part of one."""


@dataclass(frozen=True)
class BoardDay:
    """One board over a day.

    Attributes
    ----------
    mc_pct
        At the end of the day.
    loss_pct, safe_pct
        What it loses in the day, and what would just be safe; infinite below 25 % MC.
    severity
        How bad the day is by itself, 1 being the limit; 0 for a part of a day, and for the first,
        when any board starts steeply.
    """

    mc_pct: float
    loss_pct: float
    safe_pct: float
    severity: float


@dataclass(frozen=True)
class Day:
    """One day, or the part of it that is simulated; hours count from stacking."""

    date: date
    start: int
    hours: int
    unknown_hours: int
    boards: Mapping[Board, BoardDay]

    @property
    def end(self) -> int:
        """The first hour after the day."""
        return self.start + self.hours

    @property
    def is_whole(self) -> bool:
        """Whether it is all of a day."""
        return self.hours >= WHOLE_DAY_HOURS

    @property
    def fastest(self) -> Board:
        """The board that loses most for what is safe."""
        return max(self.boards, key=lambda b: self.boards[b].loss_pct / self.boards[b].safe_pct)

    @property
    def severity(self) -> float:
        """How bad the day is for that board."""
        return self.boards[self.fastest].severity


def day_spans(case: Case, zone: ZoneInfo) -> list[tuple[date, int, int]]:
    """Return the days of a case by the local calendar: date, first hour, and the hour after."""
    local = case.weather.index.tz_convert(zone)  # type: ignore[attr-defined]
    changes = np.flatnonzero(local.date[1:] != local.date[:-1]) + 1
    bounds = [0, *changes.tolist(), case.hours]
    return [(local[start].date(), start, end) for start, end in pairwise(bounds)]


def course(run: Run, limit: float, zone: ZoneInfo) -> list[Day]:
    """Return the days a run has passed, of the boards that count.

    Parameters
    ----------
    limit
        The safe daily loss of the stack's boards at high moisture content.
    """
    columns = run.case.counted_columns
    mc_pct, shell_pct = run.mc_pct[:, columns], run.shell_pct[:, columns]
    days = []
    for on, start, end in day_spans(run.case, zone):
        if not np.isfinite(mc_pct[[start, end]]).all():
            continue
        hours = end - start
        judged = start >= DAY and hours >= WHOLE_DAY_HOURS
        severity = severities(mc_pct, shell_pct, [(start, hours)], limit, start)[0]
        counts = weight(mc_pct[start])
        boards = {
            board: BoardDay(
                mc_pct=float(mc_pct[end, i]),
                loss_pct=float(mc_pct[start, i] - mc_pct[end, i]),
                safe_pct=limit / float(counts[i]) if counts[i] else float("inf"),
                severity=float(severity[i]) if judged else 0.0,
            )
            for i, board in enumerate(run.case.counted)
        }
        unknown = int((~run.case.known[start:end]).sum())
        days.append(Day(on, start, hours, unknown, boards))
    return days
