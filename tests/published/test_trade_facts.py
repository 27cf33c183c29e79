"""What saw yards hold for true of days and places, on the Greensboro year and elsewhere.

Common practice, no source: rules of thumb, held as orders and never as figures. What is found of
them stands in the table of checks like any other comparison.
"""

import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import pvlib
import pytest
from tests.published import years
from tests.published.conftest import Against
from tests.published.lumber import Array
from tests.published.saw_yards import (
    COOL,
    FRONT,
    HOT_DRY,
    MILD,
    WARM_DAMP,
    column,
    made_week,
    months_of,
    parcel,
    saw_yard,
)

from drywind.judge.places import PlaceMonth
from drywind.judge.plan import Item, assign
from drywind.judge.sawdays import saw_days
from drywind.judge.sawing import Parcel, SawDay, Verdict
from drywind.weather.files import read_weather_file
from drywind.weather.usual import Origin, Usual, shipped, years_of

PRACTICE = "common practice, no source"
SEASONS = (1, 4, 7, 10)
SLOW, OAK = ("white_oak", "8/4"), ("red_oak", "4/4")
MAPLE, POPLAR = ("hard_maple", "4/4"), ("yellow_poplar", "4/4")
WOODS = (SLOW, OAK, MAPLE, POPLAR)


def shipped_of(name: str) -> Usual:
    found = tuple(year for year in shipped() if year.name.startswith(name))
    return Usual(found, Origin.SHIPPED, 0.0, found[0].lon)


def sand_point() -> Usual:
    file = read_weather_file(Path(pvlib.__file__).parent / "data" / "703165TY.csv")
    made = years_of(file.table, "Sand Point", (file.lat, file.lon), is_typical=True)
    return Usual(tuple(made), Origin.SHIPPED, 0.0, file.lon)


def newark() -> Usual:
    made = years_of(years.new_york("EWR"), "Newark", (40.69, -74.17), is_typical=False)
    return Usual(tuple(made), Origin.YARD, 0.0, -74.17)


@cache
def greensboro() -> tuple[PlaceMonth, ...]:
    return tuple(months_of(WOODS, SEASONS, shipped_of("Greensboro")))


def best_days(days: list[SawDay]) -> dict[int, SawDay]:
    """Return the best site of each day, by how many days ahead it is."""
    first = min(day.day for day in days)
    found: dict[int, SawDay] = {}
    for day in days:  # the best first
        found.setdefault((day.day - first).days, day)
    return found


def scores(one: Parcel, week: Sequence[tuple[float, ...]]) -> Array:
    """Return the score of the best site on each day of the forecast but its last."""
    found = best_days(saw_days([one], saw_yard(made_week(week))))
    return np.array([found[i].score for i in range(len(week) - 1)], dtype=float)


def test_a_month_for_thick_white_oak_is_a_winter_one(against: Against) -> None:
    winter = column(greensboro(), "score", species="white_oak", month=1)
    summer = column(greensboro(), "score", species="white_oak", month=7)

    worst = float(winter.min() - summer.max())
    against.between("8/4 white oak: January above July, score", PRACTICE, worst, 5, 100)


def test_thick_white_oak_is_not_put_outside_in_summer(against: Against) -> None:
    outside = column(greensboro(), "days_over", species="white_oak", month=7, site="lot")
    roofed = column(greensboro(), "days_over", species="white_oak", month=7, site="shed")
    (told,) = [
        p.verdict for p in greensboro() if (p.species, p.month, p.site) == ("white_oak", 7, "lot")
    ]

    more = float(outside[0] - roofed[0])
    against.between("8/4 white oak in July: days over outside, more", PRACTICE, more, 1, 60)
    assert told is Verdict.NO


@pytest.mark.parametrize("wood", ["hard_maple", "yellow_poplar"])
def test_woods_that_stain_wait_for_the_cold(against: Against, wood: str) -> None:
    winter = column(greensboro(), "stain_index", species=wood, month=1)
    summer = column(greensboro(), "stain_index", species=wood, month=7)

    share = float((winter / summer).max())
    against.between(f"{wood}: stain in January to July, share", PRACTICE, share, 0, 0.5)


def test_in_summer_a_wood_that_may_dry_fast_goes_out_and_oak_under_a_roof(
    against: Against,
) -> None:
    def score(wood: str, site: str) -> float:
        return float(column(greensboro(), "score", species=wood, month=7, site=site)[0])

    poplar = score("yellow_poplar", "lot") - score("yellow_poplar", "shed")
    oak = score("red_oak", "shed") - score("red_oak", "lot")

    against.between("yellow-poplar in July: outside above shed, score", PRACTICE, poplar, 1, 100)
    against.between("red oak in July: shed above outside, score", PRACTICE, oak, 1, 100)


def test_short_of_room_the_plan_gives_the_roof_to_oak_and_the_wind_to_poplar() -> None:
    items = [
        Item(
            wood,
            wood,
            "4/4",
            None,
            {
                site: 100.0
                / float(column(greensboro(), "score", species=wood, month=7, site=site)[0])
                for site in ("lot", "shed")
            },
        )
        for wood in ("yellow_poplar", "red_oak")
    ]

    plan = assign(items, {"lot": 1, "shed": 1})

    assert {p.item.name: p.to for p in plan.placings} == {"yellow_poplar": "lot", "red_oak": "shed"}


def test_slow_woods_would_tie_up_a_kiln_and_so_are_air_dried_first(against: Against) -> None:
    slow = column(greensboro(), "days_to_25", species="white_oak", month=4)
    fast = column(greensboro(), "days_to_25", species="yellow_poplar", month=4)

    times = float(np.nan_to_num(slow, nan=365.0).min() / fast.max())
    against.between("8/4 white oak to 25 %, times as long as poplar", PRACTICE, times, 3, 20)


@pytest.mark.parametrize("wood", ["hard_maple", "yellow_poplar"])
def test_a_cold_front_is_the_day_for_trees_that_stain(against: Against, wood: str) -> None:
    week = [WARM_DAMP, WARM_DAMP, WARM_DAMP, FRONT, FRONT, COOL, WARM_DAMP]

    found = scores(parcel(wood), week)

    against.between(f"{wood}: best day, front on days 3 and 4", PRACTICE, found.argmax(), 3, 4)


def test_a_front_that_comes_tomorrow_is_worth_a_day_for_logs_just_felled(
    against: Against,
) -> None:
    week = [WARM_DAMP, FRONT, FRONT, COOL, WARM_DAMP, WARM_DAMP, WARM_DAMP]

    found = scores(parcel("hard_maple", felled_days_ago=0.1), week)

    against.between("hard maple logs: best day, front tomorrow", PRACTICE, found.argmax(), 1, 2)


def test_logs_already_felled_do_not_wait_four_warm_days_for_a_front() -> None:
    """Where practice and the log's clock part: what is felled stains in the log as on stickers."""
    week = [WARM_DAMP, WARM_DAMP, WARM_DAMP, WARM_DAMP, FRONT, FRONT, COOL]
    days = saw_days([parcel("hard_maple", felled_days_ago=1.0)], saw_yard(made_week(week)))

    found = best_days(days)

    assert found[0].score is not None
    assert found[4].score is not None
    assert found[0].score > found[4].score
    assert found[4].stain_waiting > 1.0


@pytest.mark.parametrize("wood", ["red_oak", "white_oak"])
def test_after_a_hot_dry_spell_comes_the_day_for_oak(against: Against, wood: str) -> None:
    week = [HOT_DRY, HOT_DRY, HOT_DRY, COOL, MILD, MILD, MILD]

    found = scores(parcel(wood), week)

    against.between(f"{wood}: best day, heat on days 0 to 2", PRACTICE, found.argmax(), 3, 3)
    assert (found[:3] < found[3]).all()


@pytest.mark.parametrize(
    ("place", "usual"),
    [
        ("Miami", lambda: shipped_of("Miami")),
        ("Chicago", lambda: shipped_of("Chicago")),
        ("Golden", lambda: shipped_of("Golden")),
        ("Sand Point", sand_point),
        ("Newark", newark),
    ],
)
def test_other_places_have_other_years(against: Against, place: str, usual: object) -> None:
    assert callable(usual)
    found = months_of((OAK, MAPLE), (1, 7), usual())

    stain = float(column(found, "stain_index", species="hard_maple", month=7).max())
    ratio = float(column(found, "worst_ratio", species="red_oak", month=7, site="lot")[0])
    winter = float(column(found, "stain_index", species="hard_maple", month=1).max())
    to_20 = column(found, "days_to_20", species="red_oak", month=7, site="lot")[0]
    # Damp and warm, cold and damp, dry: stain, neither, checks.
    expected = {
        "Miami": (stain > 2.0, winter > 0.5, ratio < 2.0),
        "Chicago": (stain > 1.0, winter < 0.2, ratio > 1.0),
        "Golden": (stain < 1.5, winter < 0.2, ratio > 1.5),
        "Sand Point": (stain < 1.0, winter < 0.2, ratio < 1.3, not to_20 < 180),
        "Newark": (stain > 1.0, winter < 0.3, ratio > 1.0),
    }[place]
    what = f"{place}: red oak outside in July, worst day over the safe one"
    against.between(what, PRACTICE, ratio, 0.1, 4.0)
    assert all(expected), (stain, winter, ratio, to_20)
    assert not math.isnan(stain)
