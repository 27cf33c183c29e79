"""Where in the yard a wood dries best, month by month, over the weather of past years.

Stacks of it are put up in every month of every past year at every site, as stacks there usually
stand and with the least work that would help where that goes over a limit, and followed until they
are dry. Trees are felled on the day: what their logs waited is another matter.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from drywind.judge.findings import Hazard
from drywind.judge.fresh import Airs, Pace, Spot, Weathers
from drywind.judge.measures import SURE_ENOUGH, Remedy, remedies
from drywind.judge.saw_score import Hazards, score, verdict
from drywind.judge.sawing import Fare, Verdict
from drywind.judge.whole_course import PACE, SCREEN_PACE, Followed, follow
from drywind.wood.limits import stack_limit
from drywind.yard import Setup, Site, Stack

Array = NDArray[np.float64]

SCREENED = 2
"""What helps is chosen in so many of the past years (assumption)."""

WORTH = 0.9
"""A measure that leaves more than this share of the harm is not worth its work (assumption)."""


@dataclass(frozen=True)
class PlacesYard:
    """Where stacks could be put up, and when.

    Attributes
    ----------
    setups
        How stacks usually stand at each site that is asked for.
    weathers
        Of past years, each from the first start to a year after the last.
    starts
        When stacks are put up, in order; several may fall in a month.
    months
        Their months, 1 to 12.
    """

    sites: Mapping[str, Site]
    setups: Mapping[str, Setup]
    weathers: Weathers
    starts: Sequence[datetime]
    months: Sequence[int]
    own_limits: Mapping[str, float]

    @cached_property
    def kinds(self) -> list[int]:
        """The months, each once, in the order of the starts."""
        return list(dict.fromkeys(self.months))

    @property
    def steps(self) -> int:
        """How many steps `places` tells of."""
        return len(self.setups) + 2


@dataclass(frozen=True)
class PlaceMonth:
    """How a wood fares that is stacked at a site in a month; figures are medians of the starts.

    Attributes
    ----------
    starts
        How many stacks were tried.
    score
        0 to 100, as of saw days.
    usual, helped
        As stacks there usually stand, and with `remedy`: the worst day until 25 % MC; None where
        unknown, or where nothing need be done or helps.
    days_over
        Days over the limit, as usual; and with the remedy.
    days_to_25, days_to_20
        To kiln-ready, and air-dry; None if it takes more than a year.
    slowest_to_20
        Of nine in ten.
    """

    species: str
    thickness: str
    site: str
    month: int
    starts: int
    score: float | None
    verdict: Verdict
    usual: Fare | None
    helped: Fare | None
    remedy: Remedy | None
    days_over: float
    days_over_helped: float | None
    days_to_25: float | None
    days_to_20: float | None
    slowest_to_20: float | None
    kiln_ready: date | None

    @property
    def best(self) -> Fare | None:
        """How it fares with what is advised."""
        return self.helped or self.usual


def places(
    woods: Sequence[Stack], yard: PlacesYard, progress: Callable[[int], None] = lambda _: None
) -> list[PlaceMonth]:
    """Return every wood at every site in every month, by site in the order given.

    Parameters
    ----------
    woods
        Stacks of the species and thicknesses that are asked about; no more of them counts.
    progress
        Is told of every step that is done, of `steps`.
    """
    airs, every = Airs(yard.sites, yard.weathers), len(yard.weathers)
    cells = [
        Cell(wood, month, name)
        for name in yard.setups
        for wood in range(len(woods))
        for month in range(len(yard.kinds))
    ]
    ask = _Ask(woods, yard, airs)
    usual = dict(
        zip(cells, ask.follow([(c, yard.setups[c.site]) for c in cells], every), strict=True)
    )
    progress(1)
    remedy: dict[Cell, Remedy] = {}
    for name in yard.setups:
        here = {cell: seen for cell, seen in usual.items() if cell.site == name}
        remedy |= _screened(here, replace(ask, airs=Airs(yard.sites, yard.weathers)))
        progress(1)
    advised = [(c, r.applied(yard.setups[c.site])) for c, r in remedy.items()]
    helped = dict(zip(remedy, ask.follow(advised, every), strict=True))
    progress(1)
    return [
        _month(ask, cell, seen, (remedy.get(cell), helped.get(cell)))
        for cell, seen in usual.items()
    ]


class Cell(NamedTuple):
    """A wood and a month, by their numbers, at a site."""

    wood: int
    month: int
    site: str


@dataclass(frozen=True)
class _Ask:
    """What is asked: which woods, where, in which air."""

    woods: Sequence[Stack]
    yard: PlacesYard
    airs: Airs

    def starts(self, month: int) -> list[datetime]:
        """Return when stacks of a month are put up."""
        pairs = zip(self.yard.starts, self.yard.months, strict=True)
        return [start for start, which in pairs if which == self.yard.kinds[month]]

    def follow(
        self, stacked: Sequence[tuple[Cell, Setup]], weathers: int, pace: Pace = PACE
    ) -> "list[_Seen]":
        """Follow woods, set up some way, from all starts of a month in so many weathers."""
        if not stacked:
            return []
        spots: list[Spot] = []
        lumber, limits = [], []
        for cell, setup in stacked:
            wood, starts = self.woods[cell.wood], self.starts(cell.month)
            spots += [Spot(setup, start, w) for start in starts for w in range(weathers)]
            lumber.append((wood, len(starts) * weathers))
            limits.append(stack_limit(wood, self.yard.own_limits).value)
        sizes = [count for _, count in lumber]
        found = follow(lumber, spots, self.airs, np.repeat(limits, sizes), pace)
        return list(_parts(found, sizes, weathers))


def _screened(usual: "Mapping[Cell, _Seen]", ask: _Ask) -> dict[Cell, Remedy]:
    """Return what would help most at one site in each month, where it is worth its work."""
    first = min(SCREENED, len(ask.yard.weathers))
    options = [(cell, r) for cell, seen in usual.items() for r in _options(seen, cell, ask.yard)]
    tried = [(cell, r.applied(ask.yard.setups[cell.site])) for cell, r in options]
    best: dict[Cell, tuple[float, Remedy]] = {}
    for (cell, remedy), seen in zip(options, ask.follow(tried, first, SCREEN_PACE), strict=True):
        harm = float(seen.hazards.harm.mean())
        if cell not in best or harm < best[cell][0]:
            best[cell] = (harm, remedy)
    return {
        cell: remedy
        for cell, (harm, remedy) in best.items()
        if harm < WORTH * usual[cell].first(first).harm.mean()
    }


@dataclass(frozen=True)
class _Seen:
    """A wood in a month, over all its starts and weathers, weathers first of each start."""

    hazards: Hazards
    days_over: Array
    to_25: Array
    to_20: Array
    weathers: int

    def first(self, weathers: int) -> Hazards:
        """Return what came in the first so many weathers."""
        keep = np.arange(len(self.days_over)) % self.weathers < weathers
        h = self.hazards
        return Hazards(h.ratio[keep], h.stain[keep], h.first[keep], h.board[keep])


def _parts(found: Followed, sizes: Sequence[int], weathers: int) -> Iterator[_Seen]:
    end = 0
    for size in sizes:
        mine, end = slice(end, end + size), end + size
        hazards = Hazards(
            found.ratio[mine], found.stain[mine], found.tried.first[mine], found.board[mine]
        )
        yield _Seen(hazards, found.days_over[mine], found.to_25[mine], found.to_20[mine], weathers)


def _options(seen: _Seen, cell: Cell, yard: PlacesYard) -> list[Remedy]:
    """Return what could be done to a stack as it is put up, one thing at a time."""
    here = seen.hazards
    if not here.is_known or here.is_safe.mean() >= SURE_ENOUGH:
        return []
    over = {Hazard.TOO_FAST: here.ratio >= 1.0, Hazard.STAIN: here.stain >= 1.0}
    against = {hazard for hazard, often in over.items() if often.mean() > 1.0 - SURE_ENOUGH}
    here_alone = {cell.site: yard.sites[cell.site]}
    found = remedies(yard.setups[cell.site], here_alone, frozenset(), against, stacking=True)
    return [remedy for remedy in found if len(remedy.measures) <= 1]


def _month(
    ask: _Ask, cell: Cell, seen: _Seen, advised: "tuple[Remedy | None, _Seen | None]"
) -> PlaceMonth:
    """Return what is to be told of a wood in a month; advice that does not pay is left out."""
    remedy, other = advised
    usual, plain = seen.hazards.fare(), _middle(seen.to_20)
    worth = score(usual, None, _or_never(plain))
    helped = other.hazards.fare() if other else None
    if other is not None and helped is not None and worth is not None:
        with_help = score(helped, remedy, _or_never(_middle(other.to_20)))
        if with_help is None or with_help <= worth:
            remedy = other = helped = None
        else:
            worth = with_help
    shown, wood = other or seen, ask.woods[cell.wood]
    to_25 = _middle(shown.to_25)
    start = ask.starts(cell.month)[0]
    return PlaceMonth(
        species=wood.species,
        thickness=wood.thickness.label,
        site=cell.site,
        month=ask.yard.kinds[cell.month],
        starts=len(seen.days_over),
        score=worth,
        verdict=verdict(usual, helped),
        usual=usual,
        helped=helped,
        remedy=remedy,
        days_over=float(np.median(seen.days_over)),
        days_over_helped=float(np.median(other.days_over)) if other else None,
        days_to_25=to_25,
        days_to_20=_middle(shown.to_20),
        slowest_to_20=_middle(shown.to_20, 0.9),
        kiln_ready=None if to_25 is None else date.fromordinal(start.toordinal() + round(to_25)),
    )


def _or_never(days: float | None) -> float:
    return float(np.inf) if days is None else days


def _middle(days: Array, share: float = 0.5) -> float | None:
    """Return the median of days, or another quantile; None where it never comes."""
    ordered = np.sort(np.where(np.isnan(days), np.inf, days))
    value = float(ordered[min(int(share * len(ordered)), len(ordered) - 1)])
    return value if np.isfinite(value) else None
