"""Equilibrium moisture content (EMC) outdoors, month by month, against the Forest Service's table.

The table gives EMC at a month's mean temperature and mean humidity over thirty years; so do we
where we compare. The mean of hourly EMC, which a stack feels, lies one to two points above it.

No row of the table was seen: each is from memory, and most likely right to 0.1. A station's one
year is no climate either, and three airports of New York differ by 1.25 points within one year.
Hence 1.0 for the mean of twelve months and 2.5 for any one of them: a wrong unit, a humidity over
ice or one hour in the wrong month would show all the same.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from tests.published import years
from tests.published.conftest import Against

from drywind.wood.emc import emc_pct

Months = NDArray[np.float64]

SOURCE = "Simpson 1998, FPL-RN-0268, as in Wood Handbook FPL-GTR-190 Table 13-1 (from memory)"
OURS = "worked once apart from the program on the same file"
CHICAGO = "14.2 13.7 13.4 12.5 12.2 12.4 12.8 13.3 13.3 12.9 14.0 14.9"
DENVER = "10.7 10.5 10.2 9.6 10.2 9.6 9.4 9.6 9.5 9.5 11.0 11.0"
NEW_YORK = "12.2 11.9 11.5 11.0 11.5 11.8 11.8 12.4 12.6 12.3 12.5 12.3"
RALEIGH = "12.8 12.1 12.2 11.7 13.1 13.4 13.8 14.5 14.5 13.7 12.9 12.8"


def ohare() -> pd.DataFrame:
    return pd.concat([years.ohare(year) for year in (2012, 2015, 2016, 2017)])


# How many hours a place's standard time is behind UTC, and its weather.
PLACES: dict[str, tuple[int, Callable[[], pd.DataFrame]]] = {
    "Greensboro": (5, years.greensboro),
    "O'Hare": (6, ohare),
    "Newark": (5, lambda: years.new_york("EWR")),
    "JFK": (5, lambda: years.new_york("JFK")),
    "Golden": (7, lambda: years.epw("Golden")),
    "Dulles": (5, lambda: years.epw("Dulles")),
    "Tampa": (5, lambda: years.epw("Tampa")),
}


def monthly_emc(place: str) -> tuple[Months, Months]:
    """Return EMC at the monthly means, and the monthly means of hourly EMC, in percent."""
    behind, year = PLACES[place]
    hours = year()[["temp_c", "rh"]]
    hours = hours.assign(emc=emc_pct(hours["temp_c"], hours["rh"]))
    local = pd.DatetimeIndex(hours.index).tz_convert(f"Etc/GMT+{behind}")
    means = hours.groupby(local.month).mean()
    return emc_pct(means["temp_c"], means["rh"]), means["emc"].to_numpy()


@pytest.mark.parametrize(
    ("place", "city", "row"),
    [
        ("Greensboro", "Raleigh, 110 km east", RALEIGH),
        ("O'Hare", "Chicago", CHICAGO),
        ("Newark", "New York, 15 km east", NEW_YORK),
        ("JFK", "New York, 20 km northwest", NEW_YORK),
        ("Golden", "Denver, 20 km east and 200 m lower", DENVER),
    ],
)
def test_over_the_year_emc_is_that_of_the_nearest_city_of_the_table(
    against: Against, place: str, city: str, row: str
) -> None:
    theirs = np.array(row.split(), dtype=float)

    ours, _ = monthly_emc(place)

    assert ours.shape == theirs.shape == (12,)
    against.value(f"{place}, yearly EMC, {city}", SOURCE, ours.mean(), theirs.mean(), 1.0)


@pytest.mark.parametrize(
    ("place", "city", "row"),
    [
        ("Greensboro", "Raleigh, 110 km east", RALEIGH),
        ("O'Hare", "Chicago", CHICAGO),
        ("Newark", "New York, 15 km east", NEW_YORK),
        ("JFK", "New York, 20 km northwest", NEW_YORK),
    ],
)
def test_month_by_month_emc_is_near_that_of_the_nearest_city_of_the_table(
    against: Against, place: str, city: str, row: str
) -> None:
    """Golden is left out: it lies at the foot of the mountains, Denver's airport on the plain."""
    theirs = np.array(row.split(), dtype=float)

    ours, _ = monthly_emc(place)

    against.value(f"{place}, monthly EMC, {city}", SOURCE, ours, theirs, 2.5)


@pytest.mark.parametrize(
    ("place", "gap"),
    [("Greensboro", 1.74), ("Dulles", 1.79), ("Tampa", 1.53), ("Newark", 1.19), ("O'Hare", 1.02)],
)
def test_the_mean_of_hourly_emc_lies_above_emc_at_the_monthly_means(
    against: Against, place: str, gap: float
) -> None:
    """By 1 to 2 points: whoever holds a table beside drywind's hours has to know.

    Within the printed digits and the few hours by which months in UTC differ from local ones. At
    O'Hare the other number is of eight years, four of which are not here: hence 0.1.
    """
    at_means, hourly = monthly_emc(place)

    against.value(
        f"{place}, hourly EMC above EMC at monthly means",
        OURS,
        (hourly - at_means).mean(),
        gap,
        0.1 if place == "O'Hare" else 0.02,
    )
