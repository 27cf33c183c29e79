"""What the page says beyond the forecast: ready dates, saw days, places by month.

It takes minutes on a small computer and changes from day to day, so it is made twice a day and kept
in a file beside the page; a page shows what was kept last.
"""

import logging
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from drywind.alerts.saw_words import parcel_words, why
from drywind.alerts.wording import Reader, doing
from drywind.config import Config
from drywind.errors import UsageError, WeatherError
from drywind.files import whole_file
from drywind.judge.places import PlaceMonth as Place
from drywind.judge.places import places
from drywind.judge.sawing import LotDays, Verdict
from drywind.judge.sawing import SawDay as Day
from drywind.learn.ready import Reached
from drywind.planning import Asked, places_yard, saw_board
from drywind.readiness import yard_readiness
from drywind.report.record import PlaceMonth, Plans, Ready, SawDay, State
from drywind.store import Store
from drywind.wood.species import find_species
from drywind.yard import Stack

FILE_NAME = "plans.json"
FRESH = timedelta(hours=36)
"""What is older is not shown: saw days are days (assumption)."""

MONTHS_AHEAD = 3
MOST_WOODS = 3
"""Places are shown for so many woods of the yard, and for the coming months (assumptions)."""

WORDS = {
    Verdict.GOOD: "good",
    Verdict.WITH_MEASURE: "good with a measure",
    Verdict.CHANCY: "chancy",
    Verdict.NO: "not this day",
    Verdict.UNKNOWN: "unknown",
}
STATES = {Verdict.NO: State.OVER, Verdict.CHANCY: State.OVER, Verdict.UNKNOWN: State.UNKNOWN}

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class _Kept:
    made_at: datetime
    plans: Plans


_FORM = TypeAdapter(_Kept)


def make_plans(config: Config, store: Store, now: datetime) -> Plans:
    """Return all that can be said of the weeks ahead; what lacks its weather is left out."""
    return Plans(
        ready=dict(_ready(config, store, now)),
        saw_days=tuple(_saw_days(config, store, now)),
        months=tuple(_months(config, store, now)),
    )


def keep_plans(config: Config, store: Store, now: datetime) -> None:
    """Make the plans and keep them in the data folder."""
    plans = make_plans(config, store, now)
    kept = _Kept(now, replace(plans, ready=dict(plans.ready)))
    with whole_file(config.data_dir / FILE_NAME) as file:
        file.write(_FORM.dump_json(kept))


def kept_plans(config: Config, now: datetime) -> Plans | None:
    """Return the plans kept last, if they are not too old."""
    try:
        kept = _FORM.validate_json((config.data_dir / FILE_NAME).read_bytes())
    except (OSError, ValidationError) as error:
        if not isinstance(error, FileNotFoundError):
            _log.warning("the plans kept for the page cannot be read: %s", type(error).__name__)
        return None
    return kept.plans if timedelta() <= now - kept.made_at < FRESH else None


def _ready(config: Config, store: Store, now: datetime) -> Iterator[tuple[str, tuple[Ready, ...]]]:
    def day(reached: Reached) -> Ready:
        early, likely, late = (
            at.astimezone(config.zone).date() if at else None
            for at in (reached.low, reached.middle, reached.high)
        )
        return Ready(reached.mc_pct, early, likely, late)

    for found in yard_readiness(config, store, now):
        yield found.case.stack.id, tuple(day(g) for g in found.goals if not g.is_reached)


def _saw_days(config: Config, store: Store, now: datetime) -> Iterator[SawDay]:
    waiting = [lot for lot in store.lots() if lot.site in config.sites]
    if not waiting:
        return
    try:
        board = saw_board(config, store, now, Asked(waiting))
    except (UsageError, WeatherError) as error:  # no room, or no forecast
        _log.info("no saw days: %s", error)
        return
    reader = Reader(config.units, config.zone, now)
    for lot in board.lots:
        yield from (_saw_day(lot, day, reader) for day in _best_of_each(lot.days))


def _best_of_each(days: Sequence[Day]) -> list[Day]:
    """Return the best site of each day, by day; `days` come the best first."""
    best: dict[object, Day] = {}
    for day in days:
        best.setdefault(day.day, day)
    return sorted(best.values(), key=lambda day: day.day)


def _saw_day(lot: LotDays, day: Day, reader: Reader) -> SawDay:
    others = [other for other in lot.days if other.site == day.site]
    _, _, wood = parcel_words(lot).partition(" ")
    return SawDay(
        date=day.day,
        lot=lot.parcel.lot.id,
        wood=wood,
        site=day.site,
        state=STATES.get(day.verdict, State.WELL),
        verdict=WORDS[day.verdict],
        why=why(day, others, reader),
    )


def _months(config: Config, store: Store, now: datetime) -> Iterator[PlaceMonth]:
    standing = [s for s in store.stacks(include_ended=True) if s.stands_at(now)]
    woods: dict[tuple[str, str], Stack] = {}
    for stack in sorted(standing, key=lambda s: s.stacked_at, reverse=True):
        woods.setdefault((find_species(stack.species).key, stack.thickness.label), stack)
    if not woods:
        return
    first = now.astimezone(config.zone).month
    months = [(first - 1 + i) % 12 + 1 for i in range(MONTHS_AHEAD)]
    found = []
    for site in config.sites:  # one at a time: a site's air in many years is tens of MB
        yard, words = places_yard(config, store, now, [site], months)
        made = places(list(woods.values())[:MOST_WOODS], yard)
        found += [(place, words) for place in made]
    for place, words in sorted(
        found, key=lambda p: (p[0].species, p[0].thickness, months.index(p[0].month))
    ):
        yield _month(place, words)


def _month(place: Place, words: str) -> PlaceMonth:
    note = doing(place.remedy) if place.remedy is not None else ""
    return PlaceMonth(
        site=place.site,
        wood=f"{place.species.replace('_', ' ')} {place.thickness}",
        month=place.month,
        days_to_20_pct=place.days_to_20,
        days_over=place.days_over,
        note="; ".join(filter(None, [note, words])),
    )
