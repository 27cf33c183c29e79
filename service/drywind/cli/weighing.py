"""A reading held against what the model expects, and what all readings have taught, in words."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from drywind.cli.told import paragraph
from drywind.cli.wood_words import wood_words
from drywind.climate.stack_air import Board
from drywind.config import Config
from drywind.cycle import watched_cases
from drywind.judge.cases import Case
from drywind.learn.ahead import Unsure, futures
from drywind.learn.doubt import Expected, doubt, doubt_unseen, expected_after
from drywind.learn.nodes import BOARD_AT
from drywind.learn.priors import PRIORS
from drywind.samples import Reading, SampleBoard, sample_boards
from drywind.store import Store
from drywind.yard import Event, Stack


def doubt_of(
    config: Config, store: Store, told: tuple[Stack, Sequence[Event]], event: Event
) -> str | None:
    """Return why a reading that is not kept yet is doubtful; None where it is not.

    Parameters
    ----------
    told
        The stack, and its events without the one that the reading stands for.
    """
    stack, kept = told
    boards = sample_boards([*kept, event], event.time)
    mine, new = _find(boards, event)
    if mine is None or new is None or new.mc_pct is None:
        return None
    last = next((r for r in reversed(mine.readings) if r is not new and r.mc_pct is not None), None)
    _, cases, _ = watched_cases(config, store, event.time, stack.id)
    known = [c for c in cases if c.begin_hour == 0 and not c.unknown_hours(c.hour_of(event.time))]
    if not known:
        if last is None or last.mc_pct is None:
            return None
        return doubt_unseen(new.mc_pct, last.mc_pct, (new.time - last.time) / timedelta(days=1))
    expected = _expected(known[0], mine, new, last)
    others = [b for b in boards if b.name != mine.name]
    return doubt(new.mc_pct, new.kg, expected, mine.name, others)


def _find(boards: Sequence[SampleBoard], event: Event) -> tuple[SampleBoard | None, Reading | None]:
    """Return the board an event that has no number yet tells of, and its reading."""
    for board in boards:
        for reading in board.readings:
            if reading.id is None and reading.time == event.time:
                return board, reading
    return None, None


def _expected(case: Case, board: SampleBoard, new: Reading, last: Reading | None) -> Expected:
    """Return what a board should be at by the model, and by its own last reading if it has one."""
    hours = max(case.hour_of(new.time), 0)
    until = replace(case, drivers=case.drivers.hours(slice(max(hours, 1))))
    until = replace(until, weather=case.weather.iloc[: max(hours, 1)])
    at: Board = BOARD_AT[board.position]
    (ahead,) = futures([Unsure(until, 0, board=at)], PRIORS)

    def at_hour(hour: int) -> Expected:
        values = ahead.at(min(hour, int(ahead.hours[-1])))
        own = 100.0 * case.green_mc * PRIORS.green_board_sd
        return Expected(float(values.mean()), float((values.var() + own**2) ** 0.5))

    now = at_hour(hours)
    if last is None or last.mc_pct is None:
        return now
    before = at_hour(max(case.hour_of(last.time), 0))
    noise = PRIORS.meter_pct if new.metered or last.metered else PRIORS.weigh_pct
    return expected_after(last.mc_pct, before, now, noise)


def taught_words(config: Config, store: Store, stack_id: str) -> str:
    """Return what the readings have taught of a stack; empty where nothing."""
    stack = store.stack(stack_id)
    now = max(event.time for event in stack.events)
    _, cases, _ = watched_cases(config, store, now, stack_id)
    words = [paragraph(wood_words(case)) for case in cases if case.wood.readings]
    return "".join(f"{line}\n" for line in words)
