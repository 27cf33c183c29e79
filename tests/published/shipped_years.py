"""The years that come with the program, made of the public files in `data`.

`.venv/bin/python -m tests.published.shipped_years` writes them anew.
"""

import csv
from pathlib import Path
from typing import NamedTuple

import drywind
from drywind.weather.files import Place, read_weather_file
from drywind.weather.usual import PastYear, packed, years_of

DATA = Path(__file__).parent / "data"
FOLDER = Path(drywind.__file__).parent / "weather" / "years"
OHARE = Place(41.98, -87.92, 201.0)


class Shipped(NamedTuple):
    """A year to ship: the name of its file, of its place, and the file it is made of."""

    file: str
    name: str
    source: str
    is_typical: bool = True


SHIPPED = (
    Shipped("greensboro", "Greensboro NC", "723170_greensboro.tmy3.csv.gz"),
    Shipped(
        "dulles",
        "Washington Dulles VA",
        "USA_VA_Sterling-Washington.Dulles.Intl.AP.724030_TMY3.epw.gz",
    ),
    Shipped("tampa", "Tampa FL", "USA_FL_Tampa.Intl.AP.722110_TMY3.epw.gz"),
    Shipped("miami", "Miami FL", "12839_miami.tm2.gz"),
    Shipped("golden", "Golden CO", "USA_CO_Golden-NREL.724666_TMY3.epw.gz"),
    *(
        Shipped(f"ohare_{year}", "Chicago O'Hare IL", f"725300_ohare_{year}.isd-lite.gz", False)
        for year in (2011, 2012, 2013)
    ),
)


def made(one: Shipped) -> PastYear:
    """Return a year as its file has it."""
    file = read_weather_file(DATA / one.source, None if one.is_typical else OHARE)
    place = (file.lat, file.lon)
    (year,) = years_of(file.table, one.name, place, is_typical=one.is_typical)
    return year


def write() -> None:
    """Write all of them, and the index."""
    FOLDER.mkdir(exist_ok=True)
    with (FOLDER / "index.csv").open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["file", "name", "lat", "lon", "year", "is_typical"])
        for one in SHIPPED:
            year = made(one)
            (FOLDER / f"{one.file}.npz").write_bytes(packed(year))
            rows.writerow(
                [one.file, year.name, year.lat, year.lon, year.year, int(year.is_typical)]
            )


if __name__ == "__main__":
    write()
