"""The curve of a stack as data to be drawn."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from math import isfinite
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from drywind.alerts.curve import SHORT_NAMES
from drywind.alerts.decide import SPEAK_FROM
from drywind.alerts.parts import Picture
from drywind.alerts.wording import Reader, stack_name
from drywind.climate.stack_air import Board
from drywind.errors import UsageError
from drywind.judge.band import Whole, safe_pace
from drywind.judge.cases import Case
from drywind.judge.course import Day, course
from drywind.judge.outlook import Outlook
from drywind.report.plots import mail_picture, save_plot
from drywind.report.record import DayLoss, Entry, Line, Reading, StackCurve, Values
from drywind.samples import sample_boards
from drywind.sheets.words import event_words
from drywind.yard import EventKind, Stack

STEP_H, MOST_POINTS = 6, 120
"""A curve has a point every six hours ahead, and at most so many behind (assumption: no more can
be told apart on a phone)."""

GAP_BORNE_H = 6
"""A forecast that lacks more hours is not drawn beyond them (assumption)."""


def stack_curve(outlook: Outlook, whole: Whole, reader: Reader) -> StackCurve | None:
    """Return how a stack dried and will, with all that was entered; None where nothing is known."""
    drawn = run_curve(whole, outlook.limit.value, reader.zone, outlook.now)
    if drawn is None:
        return None
    done = [
        Entry(event.time, event_words(event, reader))
        for event in outlook.case.stack.events
        if event.time <= reader.now
    ]
    readings = tuple(_readings(outlook.case.stack, reader.now))
    return replace(drawn, readings=readings, entries=tuple(done))


def outlook_picture(outlook: Outlook, reader: Reader) -> Picture | None:
    """Return the plot of a stack as far as a pass knows it: without what lies long ago."""
    drawn = stack_curve(outlook, Whole.without_band(outlook.run), reader)
    if drawn is None:
        return None
    name = stack_name(outlook)
    shows = f"{name}: moisture content of its boards, and points lost a day beside the safe loss"
    return Picture(mail_picture(drawn, reader.zone, name), shows)


def plot_outlook(outlook: Outlook, reader: Reader, path: Path) -> None:
    """Draw a stack whose run is known from where it began."""
    drawn = stack_curve(outlook, Whole.without_band(outlook.run), reader)
    if drawn is None:
        raise UsageError(f"nothing is known of {outlook.case.stack.id} that could be drawn")
    save_plot(drawn, reader.zone, stack_name(outlook), path)


def run_curve(whole: Whole, limit: float, zone: ZoneInfo, now: int) -> StackCurve | None:
    """Return the curve of a run that is known from where it began, or from some later hour on.

    Parameters
    ----------
    now
        The present hour, counted from stacking; what lies after it is forecast.
    """
    case, mc = whole.run.case, whole.run.mc_pct
    known = np.flatnonzero(np.isfinite(mc[:, 0]))
    begin = _unbroken(known, now)
    hours = _points(begin, max(now, begin), case.hours)
    if len(known) <= 1 or len(hours) <= 1:
        return None
    told = np.array([_is_told(case, now, hour) for hour in hours])
    lines = [
        Line(
            SHORT_NAMES[board],
            *(
                _values(np.where(told, of[hours, i], np.nan))
                for of in (mc, whole.low_pct, whole.high_pct)
            ),
        )
        for i, board in enumerate(Board)
        if board in case.counted
    ]
    pace = safe_pace(float(mc[begin, 0]), limit, hours[-1] - begin)
    return StackCurve(
        times=tuple(case.time_of(hour) for hour in hours),
        now=case.time_of(max(now, begin)),
        lines=tuple(lines),
        pace_pct=_values(pace[[hour - begin for hour in hours]]),
        days=tuple(
            _loss(day, case.time_of(day.start), case.time_of(day.end))
            for day in course(whole.run, limit, zone)
            if day.start >= begin
        ),
        gaps=tuple(_gaps(case, begin)),
    )


def _is_told(case: Case, now: int, hour: int) -> bool:
    """Return whether anything can be said of an hour: of one ahead, not beyond a gap."""
    if hour <= now:
        return True
    return int((~case.known[max(now, 0) : hour]).sum()) <= GAP_BORNE_H


def _gaps(case: Case, begin: int) -> Iterator[tuple[datetime, datetime]]:
    """Yield the stretches of hours whose weather nobody knows."""
    lost = np.flatnonzero(~case.known[begin:]) + begin
    for stretch in np.split(lost, np.flatnonzero(np.diff(lost) > 1) + 1):
        if len(stretch):
            yield case.time_of(int(stretch[0])), case.time_of(int(stretch[-1]) + 1)


def _unbroken(known: NDArray[np.intp], now: int) -> int:
    """Return the first hour from which on all is known up to now."""
    before = known[known <= max(now, 0)]
    if not len(before):
        return int(known[0]) if len(known) else 0
    gaps = np.flatnonzero(np.diff(before) > 1)
    return int(before[gaps[-1] + 1]) if len(gaps) else int(before[0])


def _points(begin: int, now: int, end: int) -> list[int]:
    """Return the hours of a curve's points: the first, now and the last among them."""
    step = STEP_H * max(1, -(-(now - begin) // (STEP_H * MOST_POINTS)))
    past = range(now, begin, -step)
    ahead = range(now + STEP_H, end, STEP_H)
    return sorted({begin, *past, now, *ahead, end})


def _loss(day: Day, start: datetime, end: datetime) -> DayLoss:
    board, known = day.boards[day.fastest], not day.unknown_hours
    judged = known and day.is_whole and isfinite(board.safe_pct)
    return DayLoss(
        start=start,
        end=end,
        board=SHORT_NAMES[day.fastest],
        loss_pct=board.loss_pct if known else None,
        safe_pct=board.safe_pct if judged else None,
        over=known and day.severity > SPEAK_FROM,
    )


def _readings(stack: Stack, now: datetime) -> Iterator[Reading]:
    for board in sample_boards(stack.events, now):
        for read in board.readings:
            if read.mc_pct is not None:
                how = EventKind.METERED if read.metered else EventKind.WEIGHED
                yield Reading(read.time, read.mc_pct, how.value)


def _values(series: NDArray[np.float64] | Sequence[float]) -> Values:
    return tuple(round(float(v), 2) if isfinite(v) else None for v in series)
