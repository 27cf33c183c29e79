"""One stack as the page shows it: its words, its curve, what was entered of it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from drywind.alerts.curve import curve as day_table
from drywind.alerts.parts import Curve
from drywind.alerts.records import Reason
from drywind.alerts.story import in_short
from drywind.alerts.tried import what_to_do
from drywind.alerts.wording import Reader, all_clear, likely, points, share, why_clear
from drywind.climate.stack_air import Board
from drywind.judge.band import Whole, safe_pace
from drywind.judge.chance import MEMBERS
from drywind.judge.course import Day, course
from drywind.judge.findings import Finding
from drywind.judge.outlook import Outlook
from drywind.report.record import DayLoss, Entry, Line, Reading, StackCurve, StackSheet, State
from drywind.sheets.words import event_words, sticker_words
from drywind.wood.limits import NO_WEIGHT_MC_PCT
from drywind.wood.species import find_species
from drywind.yard import EventKind, Stack

AHEAD_STEP_H, PAST_POINTS = 6, 120
"""A curve has a point every six hours ahead, and at most so many behind (assumption: no more can
be told apart on a phone)."""

NAMES = {Board.TYPICAL: "typical", Board.EDGE: "edge", Board.TOP: "top"}


def stack_sheet(outlook: Outlook, whole: Whole, reader: Reader) -> StackSheet:
    """Return the sheet of a stack that stands."""
    stack, worst = outlook.case.stack, most_pressing(outlook)
    state = state_of(outlook)
    mc_pct = float(outlook.run.mc_pct[max(outlook.now, 0), 0])
    shown = None if state is State.UNKNOWN else _table(outlook, whole, reader)
    return StackSheet(
        name=stack.id,
        wood=wood_name(stack),
        site=outlook.site_now,
        stacked_at=stack.stacked_at,
        state=state,
        head=_head(outlook, state, worst, reader),
        mc_pct=mc_pct if isfinite(mc_pct) and not outlook.case.is_lost(outlook.now) else None,
        pace=None if outlook.pace.worst is None else outlook.severity,
        facts=tuple(_facts(outlook, worst, reader)),
        curve=stack_curve(outlook, whole, reader),
        table=shown,
        parts=tuple(what_to_do(outlook, reader)) if worst is not None else (),
    )


def wood_name(stack: Stack) -> str:
    """Return a stack's wood: red oak 4/4."""
    return f"{find_species(stack.species).key.replace('_', ' ')} {stack.thickness.label}"


def most_pressing(outlook: Outlook) -> Finding | None:
    """Return the worst that goes over its limit, first of what something can be done about."""
    over = [f for f in outlook.findings if f.over]
    return max(over, key=lambda f: (f.helps, f.severity), default=None)


def state_of(outlook: Outlook) -> State:
    """Return how a stack stands."""
    if outlook.over:
        return State.OVER
    if outlook.case.is_lost(outlook.now) or outlook.pace.worst is None or not outlook.pace.complete:
        return State.UNKNOWN
    now = max(outlook.now, 0)
    dry = outlook.run.mc_pct[now, outlook.case.counted_columns].max() < NO_WEIGHT_MC_PCT
    return State.DONE if dry else State.WELL


def stack_curve(outlook: Outlook, whole: Whole, reader: Reader) -> StackCurve | None:
    """Return how a stack dried and will; None where nothing of it is known."""
    case, now = outlook.case, max(outlook.now, outlook.case.begin_hour)
    hours = _points(case.begin_hour, now, case.hours)
    mc = whole.run.mc_pct
    if len(hours) <= 1 or not np.isfinite(mc[hours]).any():
        return None
    lines = [
        Line(
            NAMES[board],
            _values(mc[hours, i]),
            _values(whole.low_pct[hours, i]),
            _values(whole.high_pct[hours, i]),
        )
        for i, board in enumerate(Board)
        if board in case.counted
    ]
    pace = safe_pace(mc[hours[0], 0], outlook.limit.value, hours[-1] - hours[0])
    return StackCurve(
        times=tuple(case.time_of(hour) for hour in hours),
        now=case.time_of(now),
        lines=tuple(lines),
        pace_pct=_values(pace[[hour - hours[0] for hour in hours]]),
        days=tuple(
            _loss(day, outlook) for day in course(whole.run, outlook.limit.value, reader.zone)
        ),
        readings=tuple(_readings(case.stack, reader.now)),
        entries=tuple(
            Entry(event.time, event_words(event, reader))
            for event in case.stack.events
            if event.time <= reader.now
        ),
    )


def _head(outlook: Outlook, state: State, worst: Finding | None, reader: Reader) -> str:
    if worst is not None:
        return in_short(outlook, Reason.FIRST, reader, worst.hazard)[0]
    if state is State.UNKNOWN:
        if outlook.pace.worst is None and not outlook.case.is_lost(outlook.now):
            return "what lies ahead is unknown: no usable forecast"
        return "unknown: too much of its weather is missing, so measure its moisture content"
    if state is State.DONE:
        return "too dry to be harmed by drying"
    return all_clear(outlook, reader)


def _facts(outlook: Outlook, worst: Finding | None, reader: Reader) -> Iterator[tuple[str, str]]:
    case, limit = outlook.case, outlook.limit.value
    now = max(outlook.now, 0)
    if worst is not None:
        cause = in_short(outlook, Reason.FIRST, reader, worst.hazard)[1]
        yield "Why", cause
        if worst.chance is not None:
            yield (
                "How likely",
                f"{likely(worst.chance)}, {share(worst.chance)} of {MEMBERS} weathers",
            )
    elif outlook.pace.worst is not None:
        yield "Ahead", why_clear(outlook).removesuffix(".")
    if not case.is_lost(outlook.now):
        boards = [
            f"{NAMES[board]} {outlook.run.mc_pct[now, list(Board).index(board)]:.0f} %"
            for board in case.counted
        ]
        yield "Moisture now", ", ".join(boards)
    yield "Safe while wet", f"{points(limit, limit)} points a day ({outlook.limit.basis})"
    yield "Stands", ", ".join(_stands(case.stack, reader))
    if outlook.unknown_hours:
        yield "Missing", f"the weather of {outlook.unknown_hours} h behind it"


def _stands(stack: Stack, reader: Reader) -> Iterator[str]:
    """Yield since when it stands so, and under what."""
    since, setup = [span for span in stack.setup_spans() if span[0] <= reader.now][-1]
    local = since.astimezone(reader.zone)
    yield f"so since {local:%a %b} {local.day}"
    yield f"{sticker_words(setup.sticker_m, reader.units)} stickers"
    covers = [m.replace("_", " ") for m in sorted(setup.measures)]
    yield f"under {', '.join(covers)}" if covers else "no covers"


def _table(outlook: Outlook, whole: Whole, reader: Reader) -> Curve | None:
    return day_table(replace(outlook, run=whole.run), reader)


def _points(begin: int, now: int, end: int) -> list[int]:
    """Return the hours of a curve's points: the first, now and the last among them."""
    step = AHEAD_STEP_H * max(1, -(-(now - begin) // (AHEAD_STEP_H * PAST_POINTS)))
    past = range(now, begin, -step)
    ahead = range(now + AHEAD_STEP_H, end, AHEAD_STEP_H)
    return sorted({begin, *past, now, *ahead, end})


def _loss(day: Day, outlook: Outlook) -> DayLoss:
    case, board = outlook.case, day.boards[day.fastest]
    known = not day.unknown_hours
    judged = known and day.is_whole and isfinite(board.safe_pct)
    return DayLoss(
        start=case.time_of(day.start),
        end=case.time_of(day.end),
        board=NAMES[day.fastest],
        loss_pct=board.loss_pct if known else None,
        safe_pct=board.safe_pct if judged else None,
        over=known and day.severity > 1.0,
    )


def _readings(stack: Stack, now: datetime) -> Iterator[Reading]:
    for event in stack.events:
        if event.kind in {EventKind.WEIGHED, EventKind.METERED} and event.time <= now:
            yield Reading(event.time, float(event.detail), event.kind.value)


def _values(series: NDArray[np.float64] | Sequence[float]) -> tuple[float | None, ...]:
    return tuple(round(float(v), 2) if isfinite(v) else None for v in series)
