"""Which of several services' words about an hour is believed.

The hours ahead come from one service at a time, so that no spell is patched together from two
forecasts; hours that are past may come from several, each the best word there is of it.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import isnan, nan

from drywind.clock import floor_hour
from drywind.weather.hour import NEEDED, VALUES, WeatherHour

OBSERVED = "nws_obs"
"""The source of observed hours; no other word of a past hour is better."""

FRESH = timedelta(hours=12)
"""A service is not passed over for another while its forecast is younger: services differ, and to
change between them would make warnings come and go (assumption)."""

REACH = timedelta(hours=24)
"""A forecast that does not reach so far ahead is passed over for one that does (assumption)."""

BESIDES = tuple(name for name in VALUES if name not in NEEDED)
"""What may come from another service than temperature, humidity and wind of the hour do."""

STALE_AFTER = timedelta(hours=48)
"""Hours ahead are not believed from a forecast older than this."""


def leading(newest: dict[str, datetime], now: datetime, order: Sequence[str]) -> str | None:
    """Return the service whose forecast is believed: the first in order that is fresh.

    Where none is, the newest that is not stale; else None.

    Parameters
    ----------
    newest
        When the newest forecast of each service was issued.
    order
        Services, the preferred first; others are not believed.
    """
    ages = {name: now - newest[name] for name in order if name in newest}
    fresh = [name for name, age in ages.items() if age <= FRESH]
    usable = [name for name, age in ages.items() if age <= STALE_AFTER]
    return fresh[0] if fresh else min(usable, key=ages.__getitem__, default=None)


def reaching(last: datetime, now: datetime) -> bool:
    """Return whether a forecast that ends with an hour is long enough to be one."""
    return last >= now + REACH


def best_hours(
    hours: Sequence[WeatherHour], now: datetime, order: Sequence[str]
) -> list[WeatherHour]:
    """Return each hour once, by the word that is believed of it.

    Of an hour ahead that is the leading service's, if not stale. Of a past one it is, of those
    that know temperature, humidity and wind, what was observed, else what was told last; of two
    told at once the first in order. What it does not know besides, as rain, the next best tells.
    """
    present = floor_hour(now)
    leader = leading(_newest(hours, present, now), now, order)
    rank = {name: -i for i, name in enumerate(order)}
    told: dict[datetime, list[WeatherHour]] = {}
    for hour in hours:
        if hour.time_utc < present or (
            hour.source == leader and hour.issued_at >= now - STALE_AFTER
        ):
            told.setdefault(hour.time_utc, []).append(hour)
    return [
        _completed(sorted(words, key=lambda hour: _word(hour, rank), reverse=True))
        for _, words in sorted(told.items())
    ]


def _newest(hours: Sequence[WeatherHour], present: datetime, now: datetime) -> dict[str, datetime]:
    """Return when each service last foretold hours ahead; short ones only where none is long."""
    newest: dict[str, datetime] = {}
    last: dict[str, datetime] = {}
    for hour in hours:
        if hour.time_utc >= present:
            newest[hour.source] = max(newest.get(hour.source, hour.issued_at), hour.issued_at)
            last[hour.source] = max(last.get(hour.source, hour.time_utc), hour.time_utc)
    long = {name: at for name, at in newest.items() if reaching(last[name], now)}
    return long or newest


def _word(hour: WeatherHour, rank: dict[str, int]) -> tuple[bool, bool, datetime, int]:
    """Return how good a service's word about a past hour is; more is better."""
    known = not any(isnan(getattr(hour, name)) for name in NEEDED)
    return known, hour.source == OBSERVED, hour.issued_at, rank.get(hour.source, -len(rank))


def _completed(words: Sequence[WeatherHour]) -> WeatherHour:
    """Return the best word about an hour, and of the next best what it does not know besides."""
    best, *others = words
    for name in BESIDES:
        if isnan(getattr(best, name)):
            known = (v for w in others if not isnan(v := getattr(w, name)))
            best = best._replace(**{name: next(known, nan)})  # type: ignore[arg-type]
    return best
