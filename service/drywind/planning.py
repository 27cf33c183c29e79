"""What saw days and places are judged by: the yard as it stands, its weather and its past years."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd

from drywind.clock import floor_hour
from drywind.config import Config
from drywind.cycle import HORIZON_HOURS, make_grounds
from drywind.errors import UsageError, WeatherError
from drywind.gather import LONGEST_FILL
from drywind.judge.chance import MEMBERS
from drywind.judge.fresh import Weathers
from drywind.judge.places import PlacesYard
from drywind.judge.sawdays import saw_days
from drywind.judge.sawing import (
    LONG_DAYS,
    LONG_WEATHERS,
    SHORT_DAYS,
    STACKED_AT,
    LotDays,
    Parcel,
    SawBoard,
    SawDay,
    SawYard,
)
from drywind.judge.waiting import known_until, saw_by
from drywind.store import Store
from drywind.units import Thickness
from drywind.weather.choice import best_hours
from drywind.weather.files import WeatherFile
from drywind.weather.spread import members
from drywind.weather.sun import with_sun
from drywind.weather.table import from_hours, hourly
from drywind.weather.usual import (
    PastYear,
    Usual,
    continued,
    laid_over,
    nearest,
    of_place,
    unpacked,
    years_of,
)
from drywind.yard import LogLot, Setup, Site, Stack


@dataclass(frozen=True)
class YardWeather:
    """The weather of every site: known and foretold, what could come, and past years by place."""

    tables: Mapping[str, pd.DataFrame]
    foretold: Mapping[str, pd.DataFrame]
    members: Weathers
    usual: Mapping[str, Usual]


@dataclass(frozen=True)
class Asked:
    """What saw days are asked for.

    Attributes
    ----------
    sites
        Only these; empty is all.
    file
        Another weather than the store's.
    even_full
        Whether sites without room count, too.
    standing
        Whether the trees still stand, to be felled on the day they are sawn.
    """

    lots: Sequence[LogLot]
    sites: Sequence[str] = ()
    file: YardWeather | None = None
    even_full: bool = False
    standing: bool = False


USUAL_SIZE = Thickness.parse("4/4")
"""What a lot is sawn to where nobody said (assumption)."""

LEAST_STARTS = 10
START_DAYS = ((15,), (8, 23))
"""Stacks are put up in the middle of each month; twice where past years are few, so that there are
ten of a month at least."""

MOST_WEATHERS = 12
"""More past years would tell little more (assumption)."""

FOLLOWED_DAYS = 365
"""Stacks are followed for so long; what is wetter then is told as more than a year."""

LEAST_STORED = timedelta(days=300)
"""The store's own hours stand for other years once they reach back so far (assumption)."""


def parcels(lots: Sequence[LogLot], now: datetime) -> list[Parcel]:
    """Return what is to be sawn of the lots that lie as logs at `now`."""
    return [
        Parcel(lot, size)
        for lot in lots
        if lot.waits_at(now) and not lot.is_sawn_at(now)
        for size in lot.thicknesses or (USUAL_SIZE,)
    ]


def usual_setups(
    config: Config, stacks: Sequence[Stack], now: datetime, only: Sequence[str] = ()
) -> dict[str, Setup]:
    """Return how stacks usually stand at each site that has room: as the last one put up there.

    Raises
    ------
    UsageError
        If there is no such site, or none that has room.
    """
    for name in only:
        config.site(name)
    free = room(config, stacks, now)
    asked = {name: free[name] for name in only or config.sites}
    if all(left == 0 for left in asked.values()):
        full = ", ".join(f"{name} ({config.sites[name].room})" for name in asked)
        raise UsageError(
            f"no site has room for another stack: {full}; end a stack (`drywind stack end`) or"
            " raise a site's `room`"
        )
    return {name: usual_setup(name, stacks, now) for name, left in asked.items() if left != 0}


def usual_setup(site: str, stacks: Sequence[Stack], now: datetime) -> Setup:
    """Return how stacks usually stand at a site: as the last one put up there."""
    there = [s for s in stacks if s.setup.site == site and s.stacked_at <= now]
    last = max(there, key=lambda s: s.stacked_at, default=None)
    return last.setup if last else Setup(site)


def room(config: Config, stacks: Sequence[Stack], now: datetime) -> dict[str, int | None]:
    """Return how many more stacks fit at each site; None where nobody said."""
    taken = Counter(s.setup_at(now).site for s in stacks if s.stands_at(now))
    return {
        name: None if site.room is None else max(0, site.room - taken[name])
        for name, site in config.sites.items()
    }


def usual_of(
    config: Config,
    store: Store,
    site: Site,
    now: datetime,
    span: tuple[datetime, int] | None = None,
) -> Usual:
    """Return the past years that stand for a site: its own, else the nearest shipped ones.

    Parameters
    ----------
    span
        From when on, and for how many hours, one of its own must be known.
    """
    own = [
        PastYear(*kept[1:4], kept.year, kept.is_typical, unpacked(kept.hours))
        for kept in store.past_years(site.place)
    ]
    if not own:
        since = floor_hour(now) - 6 * timedelta(days=365)
        hours = store.hours(site.place, since, floor_hour(now))
        if hours and now - hours[0].time_utc >= LEAST_STORED:
            table = from_hours(best_hours(hours, now, ()))
            own = years_of(table, config.yard_name, (site.lat, site.lon), is_typical=False)
    if own:
        found = of_place(own, site.lat, site.lon)
        if span is None or found.known(*span):
            return found
    return nearest(site.lat, site.lon)


def saw_board(
    config: Config,
    store: Store,
    now: datetime,
    asked: Asked,
    progress: Callable[[int], None] = lambda _: None,
) -> SawBoard:
    """Return every coming day at every site with room, for each lot that waits for the saw.

    Parameters
    ----------
    progress
        Is told of every lot and thickness that is done.

    Raises
    ------
    UsageError
        If no site has room.
    WeatherError
        If there is no forecast.
    """
    wanted = [p._replace(standing=asked.standing) for p in parcels(asked.lots, now)]
    if not wanted:
        return SawBoard(now, (), "")
    stacks = store.stacks(include_ended=True)
    if asked.even_full:
        setups = {name: usual_setup(name, stacks, now) for name in config.sites}
    else:
        setups = usual_setups(config, stacks, now, asked.sites)
    weather = asked.file or _in_store(config, store, now, asked.lots)
    yard = SawYard(
        sites=config.sites,
        setups=setups,
        tables=weather.tables,
        weathers=carried_on(weather.members, config.sites, weather.usual, now),
        foretold_until=min(known_until(table, now) for table in weather.foretold.values()),
        own_limits=config.policy.safe_loss,
        now=now,
        zone=config.zone,
    )
    if yard.foretold_until <= now:
        raise WeatherError(
            "there is no forecast in the store: let `drywind watch` run, or fetch one with"
            " `drywind watch --once --dry-run`"
        )
    days = saw_days(wanted, yard, progress)
    told = dict.fromkeys(usual.words for usual in weather.usual.values())
    lots = tuple(_lot_days(parcel, days, yard) for parcel in wanted)
    return SawBoard(now, lots, "; ".join(told))


def _lot_days(parcel: Parcel, days: Sequence[SawDay], yard: SawYard) -> LotDays:
    """Return what was found of one parcel, and by when to saw its lot."""
    site = parcel.lot.site
    past = yard.tables[site].loc[: floor_hour(yard.now) - timedelta(hours=1)]
    known = pd.concat([past, yard.weathers[0][site]])
    by = None if parcel.standing else saw_by(parcel.lot, known, yard.now)
    mine = tuple(day for day in days if day.parcel == parcel)
    return LotDays(parcel, mine, by, by is not None and by <= yard.foretold_until)


def _in_store(config: Config, store: Store, now: datetime, lots: Sequence[LogLot]) -> YardWeather:
    """Return the weather of the yard as the store holds it, since the first felling."""
    first = min(lot.felled_at for lot in lots)
    start = floor_hour(max(first, now - LONGEST_FILL))
    end = floor_hour(now) + timedelta(hours=HORIZON_HOURS)
    grounds = make_grounds(config, store, start, end, now)
    span = (floor_hour(now), 24 * SHORT_DAYS)
    usual = {s.place: usual_of(config, store, s, now, span) for s in config.sites.values()}
    return YardWeather(grounds.tables, grounds.tables, grounds.could_come, usual)


def in_file(config: Config, file: WeatherFile, name: str, now: datetime) -> YardWeather:
    """Return a yard in the weather of a file: foretold for a week, then as its own years had it.

    Raises
    ------
    UsageError
        If `now` does not lie in it, or less than a day follows.
    """
    first, last = (file.table.index[i].to_pydatetime() for i in (0, -1))
    present, end = floor_hour(now), last + timedelta(hours=1)
    if not first <= present <= end - timedelta(hours=24):
        raise UsageError(
            f"{name} runs from {first:%Y-%m-%d} to {last:%Y-%m-%d}; --now {now:%Y-%m-%d} must lie"
            " within, a day before its end"
        )
    until = min(end, present + timedelta(hours=HORIZON_HOURS))
    table = with_sun(hourly(file.table, first, until), file.lat, file.lon)
    ahead = table.assign(issued_at=pd.Timestamp(present)).loc[present:]
    place = (file.lat, file.lon)
    years = years_of(file.table, Path(name).name, place, is_typical=file.is_typical)
    usual = of_place(years, *place)
    made: Mapping[str, list[pd.DataFrame]] = {
        s.place: members(ahead, s, now, MEMBERS) for s in config.sites.values()
    }
    return YardWeather(
        dict.fromkeys(config.sites, table),
        dict.fromkeys(config.sites, ahead),
        [{n: made[s.place][i] for n, s in config.sites.items()} for i in range(MEMBERS)],
        {s.place: usual for s in config.sites.values()},
    )


def carried_on(
    members: Weathers, sites: Mapping[str, Site], usual: Mapping[str, Usual], now: datetime
) -> list[dict[str, pd.DataFrame]]:
    """Return weathers that go on after the forecast as past years did at that time of year."""
    found = []
    made: dict[tuple[int, str], pd.DataFrame] = {}
    present = floor_hour(now)
    for i, member in enumerate(members):
        end = present + timedelta(days=LONG_DAYS if i < LONG_WEATHERS else SHORT_DAYS)
        for name, site in sites.items():
            if (i, site.place) not in made:
                years = usual[site.place]
                draws = years.known(present, 24 * SHORT_DAYS) or years.draws
                ahead = member[name].loc[present:]
                made[i, site.place] = continued(ahead, years, draws[i % len(draws)], end)
        found.append({name: made[i, site.place] for name, site in sites.items()})
    return found


def places_yard(
    config: Config,
    store: Store,
    now: datetime,
    only: Sequence[str] = (),
    months: Sequence[int] = tuple(range(1, 13)),
) -> tuple[PlacesYard, str]:
    """Return where stacks could be put up in past years, and in words which years these are.

    Sites without room count, too: what stands there will go.
    """
    for name in only:
        config.site(name)
    stacks = store.stacks(include_ended=True)
    setups = {name: usual_setup(name, stacks, now) for name in only or config.sites}
    span = (datetime(now.year, 1, 1, tzinfo=UTC), 24 * FOLLOWED_DAYS)
    usual = {
        site.place: usual_of(config, store, site, now, span)
        for site in (config.sites[name] for name in setups)
    }
    return _places_yard(config, setups, usual, now, months)


def _places_yard(
    config: Config,
    setups: Mapping[str, Setup],
    usual: Mapping[str, Usual],
    now: datetime,
    months: Sequence[int],
) -> tuple[PlacesYard, str]:
    new_year = datetime(now.year, 1, 1, tzinfo=UTC)
    draws = {
        place: years.known(new_year, 24 * FOLLOWED_DAYS) or years.draws
        for place, years in usual.items()
    }
    count = min(MOST_WEATHERS, *(len(found) for found in draws.values()))
    on_days = START_DAYS[0] if count >= LEAST_STARTS else START_DAYS[1]
    year = now.astimezone(config.zone).year
    starts = [
        floor_hour(datetime(year, month, day, STACKED_AT.hour, tzinfo=config.zone).astimezone(UTC))
        for month in sorted(months)
        for day in on_days
    ]
    span = pd.date_range(
        starts[0], starts[-1] + timedelta(days=FOLLOWED_DAYS), freq="h", name="time_utc"
    )
    made = {
        place: [laid_over(years, draw, span) for draw in draws[place][:count]]
        for place, years in usual.items()
    }
    yard = PlacesYard(
        sites=config.sites,
        setups=setups,
        weathers=[
            {name: made[config.sites[name].place][i] for name in setups} for i in range(count)
        ],
        starts=starts,
        months=[start.astimezone(config.zone).month for start in starts],
        own_limits=config.policy.safe_loss,
    )
    return yard, "; ".join(dict.fromkeys(years.words for years in usual.values()))
