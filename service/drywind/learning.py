"""What weighings taught, kept in the store: simulated anew only where something changed."""

import io
import json
import logging
from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import datetime
from hashlib import sha256
from statistics import fmean

import numpy as np

from drywind.db.lessons import Lesson
from drywind.judge.cases import Case
from drywind.learn.nodes import Asked, Simulated, simulate_nodes
from drywind.learn.pooling import Member
from drywind.learn.priors import PRIORS
from drywind.learn.site import SiteOffset
from drywind.learn.weighed import Measured, ask, hour_of, usable
from drywind.learn.yard import Believed, Pupil, learn, members_of, seen_of_json, wood_of
from drywind.samples import Position, SampleBoard, sample_boards
from drywind.store import Store

_log = logging.getLogger(__name__)


def teach(store: Store, cases: Sequence[Case], now: datetime) -> list[Case]:
    """Return cases with the wood that weighings taught of them and of stacks like them.

    What is learned is kept in the store. A stack on which learning fails stays as the species'
    table has it, and is logged.
    """
    try:
        believed = learned(store, cases, now)
    except Exception:  # noqa: BLE001 - what cannot be learned must not silence what is known
        _log.exception("nothing could be learned from weighings")
        return list(cases)
    return [case.taught(wood_of(believed[case.stack.id])) for case in cases]


def learned(store: Store, cases: Sequence[Case], now: datetime) -> dict[str, Believed]:
    """Return what is believed of each stack, by name; cases are as the table has them."""
    lessons = store.lessons()
    cases = [_from_first(case, now) for case in cases]
    boards = {case.stack.id: _boards(case, now) for case in cases}
    weighed = [case for case in cases if boards[case.stack.id]]
    asked = {case.stack.id: ask(case, boards[case.stack.id]) for case in weighed}
    prints = {name: _fingerprint(one) for name, one in asked.items()}
    known = {
        name: _unpack(lessons[name].simulated)
        for name in asked
        if name in lessons and lessons[name].fingerprint == prints[name]
    }
    missing = [name for name in asked if name not in known]
    made = simulate_nodes([asked[name] for name in missing], PRIORS)
    known |= dict(zip(missing, made, strict=True))
    pupils = [
        Pupil(
            case,
            _site(case, boards[case.stack.id], now),
            Measured(asked[case.stack.id], boards[case.stack.id], known[case.stack.id])
            if case.stack.id in asked
            else None,
        )
        for case in cases
    ]
    believed = learn(pupils, _before(store, lessons, {c.stack.id for c in cases}), PRIORS)
    results = {name: json.dumps(believed[name].as_json()) for name in asked}
    store.save_lessons(
        Lesson(name, now, PRIORS.version, prints[name], result, _pack(known[name]))
        for name, result in results.items()
        if name in missing or result != lessons[name].result
    )
    return believed


def _from_first(case: Case, now: datetime) -> Case:
    """Return the case of a half-dried stack from its first reading since which enough is known.

    The stack is judged from its newest reading on; what its wood is like the earlier ones tell too.
    """
    if case.begin_hour == 0:
        return case
    told: dict[int, list[float]] = {}
    for board in sample_boards(case.stack.events, now):
        for reading in board.readings:
            if reading.mc_pct is not None and reading.time >= case.start:
                told.setdefault(hour_of(case, reading), []).append(reading.mc_pct)
    for hour in sorted(told):
        begun = replace(case, begin_hour=hour, begin_mc=fmean(told[hour]) / 100.0)
        if hour > 0 and not begun.is_lost(case.hour_of(now)):
            return begun
    return case


def _boards(case: Case, now: datetime) -> tuple[SampleBoard, ...]:
    """Return a stack's boards that tell something."""
    found = (usable(board, case) for board in sample_boards(case.stack.events, now))
    boards = tuple(board for board in found if board.tells)
    hours = {hour_of(case, reading) for board in boards for reading in board.readings}
    # The reading that a half-dried stack begins at tells by itself only how dry it is.
    return boards if case.begin_hour == 0 or len(hours) > 1 else ()


def _site(case: Case, boards: Sequence[SampleBoard], now: datetime) -> str:
    """Return where a stack stood when it was measured last; where it stands, if never."""
    last = max((b.readings[-1].time for b in boards), default=now)
    return case.stack.setup_at(last).site


def _before(
    store: Store, lessons: dict[str, Lesson], standing: set[str]
) -> list[tuple[Member, Member]]:
    """Return what stacks taught that are not at hand: those taken down."""
    gone = [s for s in store.stacks(include_ended=True) if s.id in lessons and s.id not in standing]
    return [
        members_of(
            stack.species,
            stack.setup_at(lessons[stack.id].made_at).site,
            seen_of_json(json.loads(lessons[stack.id].result)),
        )
        for stack in gone
    ]


def _fingerprint(asked: Asked) -> str:
    """Return a digest of all that decides what is simulated."""
    told = (PRIORS.version, asked.case.fingerprint(asked.until), sorted(asked.hours.items()))
    return sha256(repr(told).encode()).hexdigest()


def _pack(simulated: dict[Position, Simulated]) -> bytes:
    buffer = io.BytesIO()
    arrays = {
        f"{at} {name}": array for at, one in simulated.items() for name, array in vars(one).items()
    }
    np.savez_compressed(buffer, **arrays)
    return buffer.getvalue()


def _unpack(blob: bytes) -> dict[Position, Simulated]:
    with np.load(io.BytesIO(blob), allow_pickle=False) as arrays:
        positions = {name.split()[0] for name in arrays}
        return {
            Position(at): Simulated(*(arrays[f"{at} {field.name}"] for field in fields(Simulated)))
            for at in positions
        }


def site_offsets(store: Store) -> dict[str, SiteOffset]:
    """Return what loggers taught of each site that has any."""
    found = {}
    for name, result in store.offsets().items():
        offset = SiteOffset.of_json(json.loads(result))
        if offset.by_hour:
            found[name] = offset
    return found
