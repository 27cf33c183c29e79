"""Which day to saw a lot, and where to stack it: every coming day tried at every site with room.

Boards are stacked on each day at each site as stacks there usually stand, and, where that goes over
a limit, with the least work that would help; dried through the weathers that could come, the
forecast's members as far as they reach and the same weeks of past years from there on; and judged
on too fast and on stain. The lot's own clocks run on until it is sawn, so that waiting has a price.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board
from drywind.clock import floor_hour
from drywind.judge.cases import boards_like
from drywind.judge.findings import Hazard
from drywind.judge.fresh import (
    TRIED_HOURS,
    Airs,
    Batch,
    Spot,
    Tried,
    Waited,
    dry_on,
    stain_share,
    try_fresh,
)
from drywind.judge.hazards import DAY
from drywind.judge.measures import SURE_ENOUGH, Remedy, remedies
from drywind.judge.saw_air import day_air
from drywind.judge.sawing import (
    LONG_WEATHERS,
    Fare,
    Parcel,
    SawDay,
    SawYard,
    Verdict,
)
from drywind.judge.waiting import OLD_AFTER_DAYS, waited
from drywind.wood.drying import Boards, State
from drywind.wood.limits import stack_limit
from drywind.wood.species import find_species
from drywind.wood.stain import BEARS_DAYS
from drywind.yard import Setup, Trait

Array = NDArray[np.float64]

LONG_STARTS = (0, 3, 6, 9)
"""From these days on; between them the days to 20 % are read off a line."""

LONG_STEP_H = 6
AIR_DRY_MC = 0.20

WORST = 3.0
"""No hazard counts for more when days are ranked: what is lost is lost (assumption)."""

LESSER_SHARE = 0.25
"""What the lesser of the two hazards counts beside the greater one (assumption)."""

WORK_PER_HOUR = 0.05
"""What an hour of work on a stack counts, where the square of a hazard at its limit counts 1
(assumption: it decides between days alike)."""

SLOW_PER_100_DAYS = 0.02
"""What 100 days to 20 % count likewise (assumption)."""

EVEN_CHANCE = 0.5
SCREENED = 3
"""Covers are chosen in the forecast and the two weathers that err by the same to either side."""

WORTH = 0.9
"""A measure that leaves more than this share of the harm is not worth its work (assumption)."""


def saw_days(
    parcels: Sequence[Parcel], yard: SawYard, progress: Callable[[int], None] = lambda _: None
) -> list[SawDay]:
    """Return every day at every site for every parcel, the best first.

    Parameters
    ----------
    progress
        Is told of every parcel that is done.
    """
    airs = Airs(yard.sites, yard.weathers)
    everywhere = [(setup, start) for setup in yard.setups.values() for start in yard.starts]
    batch = Batch.of(_in_all(everywhere, len(yard.weathers)), airs)
    tried = []
    for parcel in parcels:
        tried.append(_try(parcel, yard, airs, batch))
        progress(1)
    _until_dry(tried, yard, airs, batch)
    days = [day for one in tried for day in _days(one, yard)]
    return sorted(days, key=lambda d: (d.score is None, -(d.score or 0.0), d.day))


def _in_all(stacked: Sequence[tuple[Setup, datetime]], weathers: int) -> list[Spot]:
    return [Spot(*each, weather) for each in stacked for weather in range(weathers)]


@dataclass
class _Helped:
    """What would help at a site on a day, and how boards fare with it in each weather."""

    remedy: Remedy
    ratio: Array
    stain: Array
    board: NDArray[np.intp]


@dataclass
class _Tried:
    """A parcel tried; arrays of shape (sites, days, weathers) unless told otherwise.

    Attributes
    ----------
    log
        How far its stains had run at each start, shape (days, weathers).
    is_old, limit
        Shape (days,).
    tried
        At all spots in the order of these shapes, flat.
    to_20
        Days to 20 % MC, shape (sites, days).
    """

    parcel: Parcel
    log: Waited
    is_old: NDArray[np.bool_]
    limit: Array
    tried: Tried
    ratio: Array
    stain: Array
    helped: dict[tuple[int, int], _Helped] = field(default_factory=dict)
    to_20: Array = field(default_factory=lambda: np.empty(0))


def _try(parcel: Parcel, yard: SawYard, airs: Airs, batch: Batch) -> _Tried:
    """Try a parcel everywhere in all weathers, and what would help where it goes over a limit."""
    log, is_old = _at_starts(parcel, yard)
    stack = parcel.stack(batch.spots[0].setup, yard.now)
    aged = (replace(stack, traits=frozenset({Trait.OLD_LOGS} if old else ())) for old in is_old)
    limit = np.array([stack_limit(each, yard.own_limits).value for each in aged])
    sites, days, weathers = len(yard.setups), len(yard.starts), len(yard.weathers)
    every = Waited(*(np.tile(dose.ravel(), sites) for dose in log))
    found = try_fresh(stack, batch, np.tile(np.repeat(limit, weathers), sites), every)
    shape = (sites, days, weathers)
    one = _Tried(
        parcel, log, is_old, limit, found, found.severity.reshape(shape), found.stain.reshape(shape)
    )
    _help(one, yard, airs)
    return one


def _at_starts(parcel: Parcel, yard: SawYard) -> tuple[Waited, NDArray[np.bool_]]:
    """Return how far stains have run on a lot at each start, and whether it is old by then.

    One that is expected already is past help, and counts no more.
    """
    lot, now = parcel.lot, floor_hour(yard.now)
    hours = [(start - now) // timedelta(hours=1) for start in yard.starts]
    ahead = [w[lot.site]["temp_c"].to_numpy(float)[: hours[-1]] for w in yard.weathers]
    come = waited(lot, yard.tables[lot.site], yard.now, np.column_stack(ahead))
    doses = {"enzymatic": come.enzymatic, "blue": come.blue}
    for name, grade in find_species(lot.species).stain.items():
        if doses[name][0, 0] >= BEARS_DAYS[name][grade]:
            doses[name] = np.full_like(doses[name], -np.inf)
    return Waited(*(dose[hours] for dose in doses.values())), come.warm[hours, 0] >= OLD_AFTER_DAYS


def _harm(ratio: Array, stain: Array) -> Array:
    """Return how bad hazards are together: 1 where one of them comes to its limit."""
    ratio, stain = np.clip(ratio, 0.0, WORST), np.clip(stain, 0.0, WORST)
    harm: Array = np.maximum(ratio, stain) ** 2 + LESSER_SHARE * np.minimum(ratio, stain) ** 2
    return harm


def _is_safe(ratio: Array, stain: Array) -> NDArray[np.bool_]:
    return (ratio < 1.0) & (stain < 1.0)


def _help(one: _Tried, yard: SawYard, airs: Airs) -> None:
    """Find what would help where a parcel is not safe enough, and try that in all weathers."""
    setups = list(yard.setups.values())
    unsafe = np.argwhere(_is_safe(one.ratio, one.stain).mean(axis=2) < SURE_ENOUGH)
    known = [(int(i), int(j)) for i, j in unsafe if np.isfinite(one.ratio[i, j]).all()]
    options = [(at, r) for at in known for r in _options(one, at, setups[at[0]], yard)]
    if not options:
        return
    screened = _with(one, options, yard, airs, min(SCREENED, len(yard.weathers)))
    chosen: dict[tuple[int, int], _Helped] = {}
    for (at, _), helped in zip(options, screened, strict=True):
        if at not in chosen or _worth(helped) < _worth(chosen[at]):
            chosen[at] = helped
    first = slice(min(SCREENED, len(yard.weathers)))
    worthy = [
        (at, helped.remedy)
        for at, helped in chosen.items()
        if _harm(helped.ratio, helped.stain).mean()
        < WORTH * _harm(one.ratio[at][first], one.stain[at][first]).mean()
    ]
    if worthy:
        found = _with(one, worthy, yard, airs, len(yard.weathers))
        one.helped = {at: helped for (at, _), helped in zip(worthy, found, strict=True)}


def _worth(helped: _Helped) -> tuple[bool, float]:
    """Return how a remedy ranks: the least work that is safe, else the least harm."""
    if _is_safe(helped.ratio, helped.stain).all():
        return False, float(helped.remedy.minutes)
    return True, float(_harm(helped.ratio, helped.stain).mean())


def _options(one: _Tried, at: tuple[int, int], setup: Setup, yard: SawYard) -> list[Remedy]:
    """Return what could be done to a stack as it is put up, one thing at a time."""
    over = {
        Hazard.TOO_FAST: one.ratio[at] >= 1.0,
        Hazard.STAIN: one.stain[at] >= 1.0,
    }
    against = {hazard for hazard, often in over.items() if often.mean() > 1.0 - SURE_ENOUGH}
    here = {setup.site: yard.sites[setup.site]}
    found = remedies(setup, here, frozenset(), against, stacking=True)
    return [r for r in found if len(r.measures) <= 1]


def _with(
    one: _Tried,
    options: Sequence[tuple[tuple[int, int], Remedy]],
    yard: SawYard,
    airs: Airs,
    weathers: int,
) -> list[_Helped]:
    """Try remedies, each at a site on a day, in the first so many weathers."""
    setups = list(yard.setups.values())
    stacked = [(r.applied(setups[site]), yard.starts[day]) for (site, day), r in options]
    days = np.array([day for (_, day), _ in options])
    log = Waited(*(dose[days, :weathers].ravel() for dose in one.log))
    batch = Batch.of(_in_all(stacked, weathers), airs)
    stack = one.parcel.stack(setups[0], yard.now)
    found = try_fresh(stack, batch, np.repeat(one.limit[days], weathers), log)
    shape = (len(options), weathers)
    ratio, stain = found.severity.reshape(shape), found.stain.reshape(shape)
    board = found.board.reshape(shape)
    return [_Helped(r, ratio[i], stain[i], board[i]) for i, (_, r) in enumerate(options)]


def _until_dry(tried: Sequence[_Tried], yard: SawYard, airs: Airs, batch: Batch) -> None:
    """Follow some of the boards of all parcels until they are dry, side by side."""
    sites, days, weathers = len(yard.setups), len(yard.starts), len(yard.weathers)
    followed = min(LONG_WEATHERS, weathers)
    at = np.arange(sites * days * weathers).reshape(sites, days, weathers)
    picked = at[:, list(LONG_STARTS), :followed].ravel()
    some = []
    for which in picked:
        hour, air = airs.at(batch.spots[int(which)])
        some.append((hour + TRIED_HOURS, air.boards(slice(1))))
    stacks = [one.parcel.stack(batch.spots[0].setup, yard.now) for one in tried]
    boards = Boards.beside([boards_like(stack, len(picked)) for stack in stacks])
    states = State.beside([one.tried.end.some(picked) for one in tried])
    passage = dry_on(boards, states, some * len(tried), LONG_STEP_H, AIR_DRY_MC)
    shape = (len(tried), sites, len(LONG_STARTS), followed)
    to_20 = TRIED_HOURS / DAY + _never(passage.days).reshape(shape)
    for i, (one, stack) in enumerate(zip(tried, stacks, strict=True)):
        mine = slice(i * len(picked), (i + 1) * len(picked))
        before = Waited(*(dose[picked] for dose in one.tried.doses))
        after = Waited(*(b + d[mine] for b, d in zip(before, passage.doses, strict=True)))
        more = (stain_share(stack, after) - stain_share(stack, before)).reshape(shape[1:])
        one.to_20 = _never(_between(np.median(to_20[i], axis=2), days))
        one.stain += _between(np.median(more, axis=2), days)[:, :, None]


def _never(days: Array) -> Array:
    """Return days of which what never comes is infinite."""
    return np.where(np.isnan(days), np.inf, days)


def _between(at_starts: Array, days: int) -> Array:
    """Return what holds for some days as what holds for all, shape (sites, days)."""
    return np.array([np.interp(np.arange(days), LONG_STARTS, row) for row in at_starts])


def _days(one: _Tried, yard: SawYard) -> Iterator[SawDay]:
    """Return what is to be told of a parcel on each day at each site."""
    boards = one.tried.board.reshape(one.ratio.shape)
    for site, setup in enumerate(yard.setups.values()):
        for day, on in enumerate(yard.days):
            at = (site, day)
            usual = _fare(one.ratio[at], one.stain[at], boards[at])
            with_help = one.helped.get(at)
            helped = remedy = None
            if with_help is not None:
                helped = _fare(with_help.ratio, with_help.stain, with_help.board)
                remedy = with_help.remedy if helped else None
            to_20 = float(one.to_20[at])
            yield SawDay(
                parcel=one.parcel,
                day=on,
                site=setup.site,
                score=_score(helped or usual, remedy, to_20),
                verdict=_verdict(usual, helped),
                usual=usual,
                helped=helped,
                remedy=remedy,
                days_to_20=to_20 if np.isfinite(to_20) else None,
                air=day_air(yard, setup.site, on),
                stain_waiting=_waiting_share(one, day),
                is_old=bool(one.is_old[day]),
            )


def _fare(ratio: Array, stain: Array, board: NDArray[np.intp]) -> Fare | None:
    """Return how boards fare over all weathers; None where that is unknown."""
    if not np.isfinite(ratio).all():
        return None
    middle = int(np.argsort(ratio)[len(ratio) // 2])
    return Fare(
        worst_ratio=float(ratio[middle]),
        board=list(Board)[board[middle]],
        stain_index=float(np.median(stain)),
        over_chance=float((ratio >= 1.0).mean()),
        stain_chance=float((stain >= 1.0).mean()),
        safe_chance=float(_is_safe(ratio, stain).mean()),
        harm=float(_harm(ratio, stain).mean()),
    )


def _score(fare: Fare | None, remedy: Remedy | None, to_20: float) -> float | None:
    if fare is None:
        return None
    work = WORK_PER_HOUR * remedy.minutes / 60.0 if remedy else 0.0
    slow = SLOW_PER_100_DAYS * min(to_20, 400.0) / 100.0
    return 100.0 / (1.0 + fare.harm + work + slow)


def _verdict(usual: Fare | None, helped: Fare | None) -> Verdict:
    if usual is None:
        return Verdict.UNKNOWN
    if usual.safe_chance >= SURE_ENOUGH:
        return Verdict.GOOD
    if helped is not None and helped.safe_chance >= SURE_ENOUGH:
        return Verdict.WITH_MEASURE
    best = max(f.safe_chance for f in (usual, helped) if f is not None)
    return Verdict.CHANCY if best >= EVEN_CHANCE else Verdict.NO


def _waiting_share(one: _Tried, day: int) -> float:
    stack = one.parcel.stack(Setup(one.parcel.lot.site), one.parcel.lot.felled_at)
    return float(np.median(stain_share(stack, Waited(*(dose[day] for dose in one.log)))))
