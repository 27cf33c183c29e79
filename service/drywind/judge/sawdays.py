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

from drywind.clock import floor_hour
from drywind.judge.cases import boards_like
from drywind.judge.findings import Hazard
from drywind.judge.fresh import (
    TRIED_HOURS,
    Airs,
    Batch,
    Pace,
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
from drywind.judge.saw_score import Hazards, Helped, score, verdict
from drywind.judge.sawing import LONG_DAYS, LONG_WEATHERS, Parcel, SawDay, SawYard
from drywind.judge.waiting import OLD_AFTER_DAYS, waited
from drywind.wood.drying import Boards, State
from drywind.wood.limits import stack_limit
from drywind.wood.species import find_species
from drywind.wood.stain import BEARS_DAYS
from drywind.yard import Setup, Trait

Array = NDArray[np.float64]
At = tuple[int, int]
"""A site and a day, by their numbers."""

LONG_STARTS = (0, 3, 6, 9)
"""From these days on boards are followed until dry; days between are read off a line."""

LONG_PACE = Pace(6, 6, LONG_DAYS * DAY)
AIR_DRY_MC = 0.20

SCREENED = 3
"""What helps is chosen in the forecast and the two weathers that err by the same to either side."""

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
class _Tried:
    """A parcel tried.

    Attributes
    ----------
    log
        How far its stains had run at each start, shape (days, weathers).
    is_old, limit
        Shape (days,).
    tried, hazards
        At all spots, flat and of shape (sites, days, weathers).
    helped
        What would help, by site and day.
    to_20
        Days to 20 % MC, shape (sites, days).
    """

    parcel: Parcel
    log: Waited
    is_old: NDArray[np.bool_]
    limit: Array
    tried: Tried
    hazards: Hazards
    helped: dict[At, Helped] = field(default_factory=dict)
    to_20: Array = field(default_factory=lambda: np.empty(0))


def _try(parcel: Parcel, yard: SawYard, airs: Airs, batch: Batch) -> _Tried:
    """Try a parcel everywhere in all weathers, and what would help where it goes over a limit."""
    log, is_old = _at_starts(parcel, yard)
    stack = parcel.stack(batch.spots[0].setup, yard.now)
    aged = (replace(stack, traits=frozenset({Trait.OLD_LOGS} if old else ())) for old in is_old)
    limit = np.array([stack_limit(each, yard.own_limits).value for each in aged])
    sites, days, weathers = len(yard.setups), len(yard.starts), len(yard.weathers)
    every = Waited(*(np.tile(dose.ravel(), sites) for dose in log))
    lumber = [(stack, len(batch.spots))]
    found = try_fresh(lumber, batch, np.tile(np.repeat(limit, weathers), sites), every)
    hazards = Hazards.shaped(found, sites, days, weathers)
    one = _Tried(parcel, log, is_old, limit, found, hazards)
    one.helped = _help(one, yard, airs)
    return one


def _at_starts(parcel: Parcel, yard: SawYard) -> tuple[Waited, NDArray[np.bool_]]:
    """Return how far stains have run on a lot at each start, and whether it is old by then.

    One that is expected already is past help, and counts no more.
    """
    lot, now = parcel.lot, floor_hour(yard.now)
    if parcel.standing:
        none = np.zeros((len(yard.starts), len(yard.weathers)))
        return Waited(none, none), none[:, 0] > 0
    hours = [(start - now) // timedelta(hours=1) for start in yard.starts]
    ahead = [w[lot.site]["temp_c"].to_numpy(float)[: hours[-1]] for w in yard.weathers]
    come = waited(lot, yard.tables[lot.site], yard.now, np.column_stack(ahead))
    doses = {"enzymatic": come.enzymatic, "blue": come.blue}
    for name, grade in find_species(lot.species).stain.items():
        if doses[name][0, 0] >= BEARS_DAYS[name][grade]:
            doses[name] = np.full_like(doses[name], -np.inf)
    return Waited(*(dose[hours] for dose in doses.values())), come.warm[hours, 0] >= OLD_AFTER_DAYS


def _help(one: _Tried, yard: SawYard, airs: Airs) -> dict[At, Helped]:
    """Find what would help where a parcel is not safe enough, and try that in all weathers."""
    every, first = len(yard.weathers), min(SCREENED, len(yard.weathers))
    setups = list(yard.setups.values())
    unsafe = np.argwhere(one.hazards.is_safe.mean(axis=2) < SURE_ENOUGH)
    known = [(int(i), int(j)) for i, j in unsafe if one.hazards.at(int(i), int(j)).is_known]
    options = [(at, r) for at in known for r in _options(one, at, setups[at[0]], yard)]
    chosen: dict[At, Helped] = {}
    for at, helped in _with(one, options, yard, airs, first):
        if at not in chosen or helped.rank < chosen[at].rank:
            chosen[at] = helped
    worthy = []
    for at, helped in chosen.items():
        without = one.hazards.at(*at, slice(first)).harm.mean()
        if helped.hazards.harm.mean() < WORTH * without:
            worthy.append((at, helped.remedy))
    return dict(_with(one, worthy, yard, airs, every))


def _options(one: _Tried, at: At, setup: Setup, yard: SawYard) -> list[Remedy]:
    """Return what could be done to a stack as it is put up, one thing at a time."""
    here = one.hazards.at(*at)
    over = {Hazard.TOO_FAST: here.ratio >= 1.0, Hazard.STAIN: here.stain >= 1.0}
    against = {hazard for hazard, often in over.items() if often.mean() > 1.0 - SURE_ENOUGH}
    site = {setup.site: yard.sites[setup.site]}
    found = remedies(setup, site, frozenset(), against, stacking=True)
    return [remedy for remedy in found if len(remedy.measures) <= 1]


def _with(
    one: _Tried, options: Sequence[tuple[At, Remedy]], yard: SawYard, airs: Airs, weathers: int
) -> list[tuple[At, Helped]]:
    """Try remedies, each at a site on a day, in the first so many weathers."""
    if not options:
        return []
    setups = list(yard.setups.values())
    stacked = [(r.applied(setups[site]), yard.starts[day]) for (site, day), r in options]
    days = np.array([day for (_, day), _ in options])
    log = Waited(*(dose[days, :weathers].ravel() for dose in one.log))
    stack = one.parcel.stack(setups[0], yard.now)
    batch = Batch.of(_in_all(stacked, weathers), airs)
    lumber = [(stack, len(batch.spots))]
    found = try_fresh(lumber, batch, np.repeat(one.limit[days], weathers), log)
    hazards = Hazards.shaped(found, len(options), weathers)
    return [(at, Helped(r, hazards.at(i))) for i, (at, r) in enumerate(options)]


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
    states = State.beside([one.tried.end.some(batch.firsts[picked]) for one in tried])
    passage = dry_on(boards, states, some * len(tried), LONG_PACE, AIR_DRY_MC)
    shape = (len(tried), sites, len(LONG_STARTS), followed)
    to_20 = TRIED_HOURS / DAY + _never(passage.days).reshape(shape)
    for i, (one, stack) in enumerate(zip(tried, stacks, strict=True)):
        mine = slice(i * len(picked), (i + 1) * len(picked))
        before = Waited(*(dose[picked] for dose in one.tried.doses))
        after = Waited(*(b + d[mine] for b, d in zip(before, passage.doses, strict=True)))
        more = (stain_share(stack, after) - stain_share(stack, before)).reshape(shape[1:])
        one.to_20 = _never(_between(np.median(to_20[i], axis=2), days))
        later = _between(np.median(more, axis=2), days)[:, :, None]
        one.hazards = replace(one.hazards, stain=one.hazards.stain + later)


def _never(days: Array) -> Array:
    """Return days of which what never comes is infinite."""
    return np.where(np.isnan(days), np.inf, days)


def _between(at_starts: Array, days: int) -> Array:
    """Return what holds for some days as what holds for all, shape (sites, days)."""
    return np.array([np.interp(np.arange(days), LONG_STARTS, row) for row in at_starts])


def _days(one: _Tried, yard: SawYard) -> Iterator[SawDay]:
    """Return what is to be told of a parcel on each day at each site."""
    for site, setup in enumerate(yard.setups.values()):
        for day, on in enumerate(yard.days):
            usual, to_20 = one.hazards.at(site, day).fare(), float(one.to_20[site, day])
            tried = one.helped.get((site, day))
            helped = tried.hazards.fare() if tried else None
            remedy = tried.remedy if tried and helped else None
            yield SawDay(
                parcel=one.parcel,
                day=on,
                site=setup.site,
                score=score(helped or usual, remedy, to_20),
                verdict=verdict(usual, helped),
                usual=usual,
                helped=helped,
                remedy=remedy,
                days_to_20=to_20 if np.isfinite(to_20) else None,
                air=day_air(yard, setup.site, on),
                stain_waiting=_waiting_share(one, day),
                is_old=bool(one.is_old[day]),
            )


def _waiting_share(one: _Tried, day: int) -> float:
    stack = one.parcel.stack(Setup(one.parcel.lot.site), one.parcel.lot.felled_at)
    return float(np.median(stain_share(stack, Waited(*(dose[day] for dose in one.log)))))
