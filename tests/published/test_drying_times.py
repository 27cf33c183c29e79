"""The drying model against published air-drying times, on weather of four places.

Only they say anything about wood. The one number a species has, its diffusion multiplier, was
fitted to the middle of its published range at Greensboro: elsewhere nothing is fitted.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from tests.published import years
from tests.published.conftest import Against
from tests.published.lumber import ROOFED, Array, boards_of, column

from drywind.climate.stack_air import Board, Drivers, stack_air
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.species import find_species, load_species
from drywind.yard import Site

WOODS = tuple(load_species())
PLACES = ("Greensboro", "O'Hare", "Dulles", "Tampa")
STARTS = {place: 24 if place == "O'Hare" else 12 for place in PLACES}
"""The first of each month of a typical year; at O'Hare of 2015 and of 2016, as observed."""

BLOCK_DAYS, LONGEST_DAYS = 10, 400
"""Boards that are dry drop out after each block."""

RIETZ = "Rietz and Page 1971, Air Drying of Lumber, Agriculture Handbook 402 (from memory)"
PECK = "Peck 1957, FPL Report 2086, summary (seen)"
FOR128 = "FOR-128, Hardwood Dry Kiln Operation, p. 82 (seen)"
FORUM = "a Forest Products Laboratory report, by way of a forum post that names no place (seen)"


def weather_of(place: str) -> tuple[pd.DataFrame, Site]:
    if place == "O'Hare":
        return pd.concat([years.ohare(year) for year in (2015, 2016, 2017)]), years.OHARE
    if place == "Greensboro":
        return years.greensboro(), years.GREENSBORO
    return years.epw(place), {"Dulles": years.DULLES, "Tampa": years.TAMPA}[place]


@dataclass(frozen=True)
class Start:
    """Air inside a roofed stack on open ground from an hour on; a typical year comes round."""

    air: Drivers
    first: int

    def hours(self, since: int, count: int) -> Drivers:
        """Return `count` hours that start so long since the stack was set up."""
        length = len(self.air.air_temp_c)
        wanted = np.arange(self.first + since, self.first + since + count) % length
        return Drivers(**{name: values[wanted] for name, values in vars(self.air).items()})


def starts_of(place: str) -> list[Start]:
    weather, site = weather_of(place)
    air = column(stack_air(weather, site, ROOFED), Board.TYPICAL)
    firsts = pd.date_range(f"{weather.index[0].year}-01-01", freq="MS", periods=STARTS[place])
    return [Start(air, 24 * (first - firsts[0]).days) for first in firsts]


Columns = TypeVar("Columns", Boards, State, Drivers)


def pick(of: Columns, boards: NDArray[np.intp]) -> Columns:
    """Return the boards of these numbers, or several times over."""
    return type(of)(**{name: values[..., boards] for name, values in vars(of).items()})


@dataclass(frozen=True)
class Dried:
    """Daily moisture content in percent, shape (days, woods, starts); NaN once below 20 %."""

    mc: Array
    place: list[str]

    def days(self, place: str, wood: str, mc_pct: float = 20.0) -> Array:
        """Return days from each start until a 4/4 board is at `mc_pct`."""
        starts = [at == place for at in self.place]
        below = self.mc[:, WOODS.index(wood), starts] <= mc_pct
        assert below.any(0).all(), f"{wood} at {place} does not dry in {LONGEST_DAYS} days"
        days: Array = below.argmax(0).astype(float)
        return days


@pytest.fixture(scope="module")
def dried() -> Dried:
    """Dry 4/4 boards of every wood, from every start at every place, in one batch."""
    starts = [start for place in PLACES for start in starts_of(place)]
    boards, green = boards_of([(wood, "4/4") for wood in WOODS for _ in starts])
    state = State.green(green, np.full_like(green, 15.0))
    daily, left = [100.0 * green], np.arange(len(green))
    for day in range(0, LONGEST_DAYS, BLOCK_DAYS):
        air = Drivers.beside([start.hours(24 * day, 24 * BLOCK_DAYS) for start in starts])
        course = simulate(pick(boards, left), pick(air, left % len(starts)), state)
        for mc in 100.0 * course.mc[24::24]:
            daily.append(np.full_like(green, np.nan))
            daily[-1][left] = mc
        wet = np.flatnonzero(course.mc[-1] > 0.20)
        state, left = pick(course.end, wet), left[wet]
        if not len(left):
            break
    mc = np.reshape(daily, (len(daily), len(WOODS), len(starts)))
    return Dried(mc, [place for place in PLACES for _ in range(STARTS[place])])


def published() -> tuple[Array, Array]:
    """Return the least and the most published days of every wood."""
    least, most = np.array([find_species(wood).air_drying_days for wood in WOODS], dtype=float).T
    return least, most


NARROW = pytest.mark.xfail(
    reason="80 to 180 days is a narrower range than the seasons of Greensboro make: 81 to 187",
    raises=AssertionError,
)


@pytest.mark.parametrize(
    "wood", [pytest.param(w, marks=NARROW) if w == "rock_elm" else w for w in WOODS]
)
def test_where_it_was_fitted_every_wood_air_dries_within_its_published_range(
    against: Against, dried: Dried, wood: str
) -> None:
    """1-inch lumber to 20 %, from the first of any month, at Greensboro, NC.

    Weak evidence: the multiplier was fitted to the middle of these ranges on this very weather.
    Only that climate alone makes their width, a factor of two to four, was not fitted.
    """
    least, most = find_species(wood).air_drying_days

    days = dried.days("Greensboro", wood)

    assert days.max() / days.min() > 1.8
    against.between(f"days at Greensboro, {wood}, 12 starts", RIETZ, days, least, most)


@pytest.mark.parametrize(("place", "short"), [("O'Hare", 20.0), ("Dulles", 10.0), ("Tampa", 10.0)])
def test_elsewhere_nearly_all_starts_dry_within_the_published_ranges(
    against: Against, dried: Dried, place: str, short: float
) -> None:
    """Not fitted, but no strong evidence either: the ranges are wide.

    Not all: the ranges are round numbers for the whole country, and O'Hare's two years stand at
    its cold end, where lumber stacked in August to October waits for spring. `short` is what we
    ask for, in percent of all woods and starts, below all of them.
    """
    least, most = published()
    days = np.array([dried.days(place, wood) for wood in WOODS])

    inside = (days >= least[:, None]) & (days <= most[:, None])

    what = f"percent of {days.size} starts within the range, {place}"
    against.value(what, RIETZ, 100.0 * inside.mean(), 100.0, short)


@pytest.mark.parametrize("place", ["O'Hare", "Dulles", "Tampa"])
def test_elsewhere_no_start_of_any_wood_strays_far_from_the_published_ranges(
    against: Against, dried: Dried, place: str
) -> None:
    """15 % below, 30 % above: the ranges are round numbers, and two years are no climate."""
    least, most = published()
    days = np.array([dried.days(place, wood) for wood in WOODS])

    shortest, longest = days.min(1) / least, days.max(1) / most

    against.between(
        f"shortest days over the least, {place}, 33 woods", RIETZ, shortest, 0.85, np.inf
    )
    against.between(f"longest days over the most, {place}, 33 woods", RIETZ, longest, 0.0, 1.3)


def test_the_published_extremes_are_spring_in_the_south_and_fall_in_the_north(
    against: Against, dried: Dried
) -> None:
    """So says the table itself of its least and most days. Not fitted; the middle of 33 woods.

    Within 15 %: the days are printed in tens, and the table names neither places nor years.
    """
    least, most = published()
    tampa = np.array([dried.days("Tampa", wood) for wood in WOODS])
    ohare = np.array([dried.days("O'Hare", wood) for wood in WOODS])

    shortest, longest = np.median(tampa.min(1) / least), np.median(ohare.max(1) / most)

    against.value("shortest days at Tampa over the least, middle wood", RIETZ, shortest, 1.0, 0.15)
    against.value("longest days at O'Hare over the most, middle wood", RIETZ, longest, 1.0, 0.15)
    assert {1 + int(month) for month in tampa.argmin(1)} <= {3, 4, 5, 6, 7}
    assert {1 + int(month) % 12 for month in ohare.argmax(1)} <= {8, 9, 10, 11, 12}


def red_oak_days(dried: Dried, place: str, month: int, mc_pct: float) -> float:
    """Return the mean days of 4/4 red oak stacked on the first of a month."""
    return float(dried.days(place, "red_oak", mc_pct)[month - 1 :: 12].mean())


SLOW_WINTER = pytest.mark.xfail(
    reason="the model takes about 146 days: a northern winter slows it too much",
    raises=AssertionError,
)


@pytest.mark.parametrize("place", ["Greensboro", "O'Hare"])
@pytest.mark.parametrize(("month", "days"), [(1, 150), (6, 61)])
def test_red_oak_takes_5_months_from_january_and_2_from_june(
    against: Against, dried: Dried, place: str, month: int, days: int
) -> None:
    """4/4 oak to 20 %: almost 5 months from early January, 2 from 1 June. Not fitted.

    Within a third: it is printed in whole months, of a place and years nobody names.
    """
    ours = red_oak_days(dried, place, month, 20.0)

    what = f"days of red oak to 20 %, month {month}, {place}"
    against.value(what, FORUM, ours, days, days / 3.0)


@pytest.mark.parametrize(
    ("place", "month", "days"),
    [
        ("Greensboro", 1, 100),
        ("Greensboro", 5, 50),
        pytest.param("O'Hare", 1, 100, marks=SLOW_WINTER),
        ("O'Hare", 5, 50),
    ],
)
def test_red_oak_reaches_25_percent_in_100_days_from_january_and_50_from_may(
    against: Against, dried: Dried, place: str, month: int, days: int
) -> None:
    """4/4 red oak at Madison, WI. Not fitted. O'Hare is the nearest climate, 190 km southeast.

    Within 30 %: the figures are round, neither their years nor the green moisture are told, and
    Greensboro is warmer and damper.
    """
    ours = red_oak_days(dried, place, month, 25.0)

    what = f"days of red oak to 25 %, month {month}, {place}"
    against.value(what, FOR128, ours, days, 0.3 * days)


def test_sugar_maple_takes_40_to_205_days_as_in_upper_michigan(
    against: Against, dried: Dried
) -> None:
    """4/4 flooring stock to 20 %, in packages stacked through the year; O'Hare is 500 km south."""
    days = dried.days("O'Hare", "hard_maple")

    against.between("days of sugar maple to 20 %, O'Hare, 24 starts", PECK, days, 40, 205)


@pytest.mark.xfail(
    reason="the model's mean of two years of O'Hare is 124: too slow, if he stacked all year alike",
    raises=AssertionError,
)
def test_sugar_maple_takes_90_days_in_the_mean_as_in_upper_michigan(
    against: Against, dried: Dried
) -> None:
    """Within 30 %: how many packages were stacked in which months is not known."""
    mean = dried.days("O'Hare", "hard_maple").mean()

    against.value("days of sugar maple to 20 %, O'Hare, mean", PECK, mean, 90.0, 27.0)
