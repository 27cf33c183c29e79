"""Real weather years as canonical hourly tables, every hour of them.

Where each file is from and on what terms stands beside it in `data`.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from drywind.units import MPH_MS
from drywind.weather import table
from drywind.weather.files import Place, read_weather_file
from drywind.weather.hour import VALUES
from drywind.weather.sun import with_sun
from drywind.yard import Site

DATA = Path(__file__).parent / "data"

GREENSBORO = Site("yard", 36.10, -79.95, 273.0)
OHARE = Site("yard", 41.98, -87.92, 201.0)
DULLES = Site("yard", 38.98, -77.47, 82.0)
TAMPA = Site("yard", 27.97, -82.53, 6.0)

EPW = {
    "Dulles": "USA_VA_Sterling-Washington.Dulles.Intl.AP.724030_TMY3",
    "Golden": "USA_CO_Golden-NREL.724666_TMY3",
    "Tampa": "USA_FL_Tampa.Intl.AP.722110_TMY3",
}


@cache
def greensboro() -> pd.DataFrame:
    """Return the typical year of Greensboro, NC, put on the calendar of 2001."""
    return _every_hour(read_weather_file(DATA / "723170_greensboro.tmy3.csv.gz").table)


@cache
def epw(place: str) -> pd.DataFrame:
    """Return the typical year of a place of `EPW`, put on the calendar of 2001."""
    return _every_hour(read_weather_file(DATA / f"{EPW[place]}.epw.gz").table)


@cache
def ohare(year: int) -> pd.DataFrame:
    """Return a year observed at Chicago O'Hare, its sun estimated from the cloud.

    Of some years half the cloud is missing: there the sun stays unknown.
    """
    place = Place(OHARE.lat, OHARE.lon, OHARE.altitude_m)
    file = read_weather_file(DATA / f"725300_ohare_{year}.isd-lite.gz", place)
    return with_sun(_every_hour(file.table), OHARE.lat, OHARE.lon)


@cache
def new_york(airport: str) -> pd.DataFrame:
    """Return the year 2013 observed at EWR (Newark) or JFK; cloud and sun are unknown."""
    both = pd.read_csv(DATA / "nyc_ewr_jfk_2013.csv.gz")
    raw = both[both["origin"] == airport]
    values = pd.DataFrame(
        {
            "temp_c": (raw["temp"] - 32.0) / 1.8,
            "rh": raw["humid"] / 100.0,
            "wind_ms": raw["wind_speed"] * MPH_MS,
            "wind_dir_deg": raw["wind_dir"],
        }
    )
    hours = values.set_index(pd.to_datetime(raw["time_hour"])).rename_axis("time_utc")
    kept, _ = table.within_bounds(hours.reindex(columns=list(VALUES)).astype(np.float64))
    return _every_hour(kept.assign(source="ASOS", issued_at=kept.index))


def _every_hour(hours: pd.DataFrame) -> pd.DataFrame:
    """Return every hour from the first to the last, gaps of 3 bridged."""
    end = hours.index[-1] + pd.Timedelta(hours=1)
    return table.hourly(hours, hours.index[0].to_pydatetime(), end.to_pydatetime())
