"""How long saw days and places take at full size: `.venv/bin/python -m tests.bench.saw_speed`.

CPU seconds of one core, of this machine and of whatever else it does; about a minute and a half.
"""

import sys
from datetime import UTC, datetime
from time import process_time

import pandas as pd
from tests.published.saw_yards import NOW, parcel, saw_yard, sites
from tests.published.years import greensboro

from drywind.judge.fresh import Weathers
from drywind.judge.places import PlacesYard, places
from drywind.judge.sawdays import saw_days
from drywind.judge.sawing import SawYard
from drywind.units import Thickness
from drywind.weather.usual import DRAWS, laid_over, nearest
from drywind.yard import Exposure, Ground, Setup, Site, Stack

WOODS = (
    ("hard_maple", "4/4"),
    ("white_oak", "8/4"),
    ("red_oak", "4/4"),
    ("yellow_poplar", "4/4"),
    ("black_walnut", "4/4"),
    ("black_cherry", "4/4"),
    ("white_ash", "8/4"),
    ("soft_maple", "8/4"),
    ("beech", "4/4"),
    ("hickory", "4/4"),
    ("red_oak", "8/4"),
    ("sweetgum", "4/4"),
)
MEMBERS = 31


def five_sites() -> dict[str, Site]:
    """Return five sites, no two of them alike."""
    there = sites()
    first = there["lot"]
    place = (first.lat, first.lon, first.altitude_m)
    there["lee"] = Site("lee", *place, shelter=there["shed"].shelter)
    there["grass"] = Site("grass", *place, Exposure.OPEN, ground=Ground.GRASS)
    return there


def busy_yard(members: int = MEMBERS, table: pd.DataFrame | None = None) -> SawYard:
    """Return the yard all lots are tried in."""
    known = greensboro() if table is None else table
    told = known.assign(issued_at=pd.Timestamp(NOW))
    return saw_yard(told, count=members, within=five_sites())


def ten_years() -> PlacesYard:
    """Return five sites in ten years of weather: the typical one, laid earlier and later."""
    there = five_sites()
    starts = [datetime(2001, month, 15, 17, tzinfo=UTC) for month in range(1, 13)]
    span = pd.date_range(starts[0], starts[-1] + pd.Timedelta(days=366), freq="h", name="time_utc")
    usual = nearest(36.10, -79.95)
    tables = [laid_over(usual, draw, span) for draw in usual.draws]
    weathers: Weathers = [dict.fromkeys(there, table) for table in [*tables, *tables]]
    assert len(weathers) == 2 * DRAWS
    setups = {name: Setup(name) for name in there}
    return PlacesYard(there, setups, weathers, starts, list(range(1, 13)), {})


def main() -> None:
    """Print how long each takes."""
    yard = busy_yard()
    begun = process_time()
    saw_days([parcel(*wood, felled_days_ago=2.0) for wood in WOODS], yard)
    _say("saw days, 12 lots x 5 sites x 10 days x 31 weathers", process_time() - begun)
    for wood in WOODS[1:3]:
        stack = Stack("S1", wood[0], Thickness.parse(wood[1]), NOW, Setup("lot"))
        begun = process_time()
        places([stack], ten_years())
        what = f"places, {' '.join(wood)}, 10 years x 12 starts x 5 sites"
        _say(what, process_time() - begun)


def _say(what: str, seconds: float) -> None:
    sys.stdout.write(f"{what:<60} {seconds:6.1f} s\n")


if __name__ == "__main__":
    main()
