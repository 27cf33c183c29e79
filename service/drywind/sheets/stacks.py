"""One stack as the page shows it: its words, its curve, what was entered of it."""

from collections.abc import Iterator
from dataclasses import replace
from math import isfinite

from drywind.alerts.curve import SHORT_NAMES
from drywind.alerts.curve import curve as day_table
from drywind.alerts.records import Reason
from drywind.alerts.story import in_short
from drywind.alerts.tried import what_to_do
from drywind.alerts.wording import Reader, all_clear, likely, points, share, why_clear
from drywind.climate.stack_air import Board
from drywind.judge.band import Whole
from drywind.judge.chance import MEMBERS
from drywind.judge.findings import Finding
from drywind.judge.outlook import Outlook
from drywind.report.record import StackSheet, State
from drywind.sheets.curves import stack_curve
from drywind.sheets.words import sticker_words
from drywind.wood.limits import NO_WEIGHT_MC_PCT
from drywind.wood.species import find_species
from drywind.yard import Stack


def stack_sheet(outlook: Outlook, whole: Whole, reader: Reader) -> StackSheet:
    """Return the sheet of a stack that stands."""
    stack, worst = outlook.case.stack, most_pressing(outlook)
    state = state_of(outlook)
    mc_pct = float(outlook.run.mc_pct[max(outlook.now, 0), 0])
    table = day_table(replace(outlook, run=whole.run), reader)
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
        table=None if state is State.UNKNOWN else table,
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
            f"{SHORT_NAMES[board]} {outlook.run.mc_pct[now, list(Board).index(board)]:.0f} %"
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
