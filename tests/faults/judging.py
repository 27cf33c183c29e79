"""A yard in a few lines: weather hour by hour, and stacks judged in it by the real drying model."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from math import nan

from drywind.judge.assess import assess
from drywind.judge.cases import Case, Grounds, make_case
from drywind.judge.hazards import Pace
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.weather.table import from_hours, hourly
from drywind.wood.limits import Basis, Limit
from drywind.yard import Event, EventKind, Exposure, Measure, Setup, Site, Stack

STACKED = datetime(2026, 6, 10, 17, 0, tzinfo=UTC)
AHEAD = 24
HORIZON = 48
LIMIT = Limit(3.8, Basis.PUBLISHED)
R7 = Stack("R7", "red_oak", Thickness.parse("4/4"), STACKED, Setup("gravel"))

Air = tuple[float, float, float] | None
"""Temperature in °C, relative humidity and wind in m/s of an hour; None where nobody knows."""
HOT: Air = (33.0, 0.2, 6.0)
WARM: Air = (24.0, 0.45, 6.0)
MILD: Air = (15.0, 0.85, 1.0)
UNKNOWN: Air = None

SITES = {
    site.name: site
    for site in (
        Site("gravel", 41.98, -87.9, 205.0),
        Site("shed", 41.98, -87.9, 205.0, Exposure.SHED, roof=True),
        Site("barn", 41.98, -87.9, 205.0, Exposure.BARN, roof=True),
    )
}


def at(hour: float) -> datetime:
    """Return an instant counted from when R7 was stacked."""
    return STACKED + timedelta(hours=hour)


def weather_hours(hours: Sequence[Air], issued_at: datetime = STACKED) -> list[WeatherHour]:
    """Return the known ones of these hours, which count from `STACKED` on."""
    return [
        WeatherHour(at(i), *air, 270.0, nan, nan, 0.0, 0.0, "nws", issued_at)
        for i, air in enumerate(hours)
        if air is not None
    ]


def grounds(weather: Mapping[str, Sequence[Air]]) -> Grounds:
    """Return the sites named, with the weather of each from `STACKED` on."""
    tables = {
        name: hourly(from_hours(weather_hours(hours)), STACKED, at(len(hours)))
        for name, hours in weather.items()
    }
    return Grounds({name: SITES[name] for name in weather}, tables)


def move(hour: float, site: str, stack: str = "R7") -> Event:
    """Return a move."""
    return Event(stack, at(hour), EventKind.MOVED, site)


def cover(hour: float, measure: Measure) -> Event:
    """Return a cover put on."""
    return Event("R7", at(hour), EventKind.COVERED, measure)


def metered(hour: float, mc_pct: float) -> Event:
    """Return a reading of the moisture content."""
    return Event("R7", at(hour), EventKind.METERED, f"{mc_pct:.1f}")


def case(ground: Grounds, now: float = 0, stack: Stack = R7) -> Case:
    """Return a stack's case to the horizon."""
    return make_case(stack, ground, at(now + HORIZON), at(now))


def judge(ground: Grounds, now: float, *runs: Run) -> list[Outlook]:
    """Judge runs at `now` hours after R7 was stacked."""
    limits = {run.case.stack.id: LIMIT for run in runs}
    return assess(runs, limits, ground, at(now), AHEAD)


def look(ground: Grounds, now: float, stack: Stack = R7) -> Outlook:
    """Judge one stack, dried from the start."""
    (seen,) = judge(ground, now, Run.fresh(case(ground, now, stack)))
    return seen


def figures(judged: Pace) -> list[float]:
    """Return all the numbers of a pace."""
    windows = [*judged.by_board.values(), *filter(None, [judged.onset])]
    return [
        float(number)
        for w in windows
        for number in (w.start, w.hours, w.loss_pct_per_day, w.safe_pct_per_day, w.severity)
    ]
