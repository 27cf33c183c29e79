"""What must hold of the air at the boards of a stack whatever the weather, the site and the setup.

A board's drying potential is what pulls at it: the coefficients of vapor and heat, and the sun.
"""

from collections.abc import Mapping
from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, boards_of, stack_air
from drywind.units import FOOT_M, INCH_M
from drywind.weather.sun import clear_sky_ghi, ghi_from_cloud, sun_position
from drywind.yard import DIRECTIONS, Exposure, Measure, Setup, Site

Array = NDArray[np.float64]

PULLS = ("vapor_ms", "heat_wm2k", "sun_wm2")
INSIDE, EDGE, TOP = range(len(Board))
SIDE_COVERS = (Measure.SHADE_CLOTH, Measure.BURLAP, Measure.PACKS_CLOSED)
NOON = pd.Timestamp("2026-06-15T17:00Z")


def make_weather(hours: int = 1, **columns: object) -> pd.DataFrame:
    start = pd.date_range(NOON, periods=hours, freq="h", name="time_utc")
    usual = {"temp_c": 25.0, "rh": 0.5, "wind_ms": 3.0, "wind_dir_deg": 270.0, "ghi_wm2": 600.0}
    return pd.DataFrame(usual | {"cloud": 0.2, "rain_mm": 0.0} | columns, index=start).astype(float)


def yard(exposure: Exposure = Exposure.OPEN, shelter: Mapping[str, float] | None = None) -> Site:
    return Site("yard", 36.1, -79.95, 273.0, exposure, shelter=shelter or {})


def equal(left: Drivers, right: Drivers) -> bool:
    return all(
        np.array_equal(getattr(left, f.name), getattr(right, f.name), equal_nan=True)
        for f in fields(Drivers)
    )


any_weather = st.builds(
    make_weather,
    temp_c=st.floats(-20.0, 45.0),
    rh=st.floats(0.05, 1.0),
    wind_ms=st.floats(0.0, 20.0),
    wind_dir_deg=st.floats(0.0, 360.0),
    ghi_wm2=st.floats(0.0, 1100.0),
)
any_shelter = st.dictionaries(st.sampled_from(DIRECTIONS), st.floats(0.0, 1.0))
any_site = st.builds(yard, st.sampled_from(Exposure), any_shelter)
any_setup = st.builds(
    Setup,
    site=st.just("yard"),
    sticker_m=st.floats(0.4, 2.0).map(lambda inches: inches * INCH_M),
    pack_width_m=st.floats(2.0, 8.0).map(lambda feet: feet * FOOT_M),
    measures=st.frozensets(st.sampled_from(Measure)),
)


@given(any_weather, any_site, any_setup, st.sampled_from(SIDE_COVERS))
def test_no_cover_on_the_sides_raises_the_pull_on_any_board(
    weather: pd.DataFrame, site: Site, setup: Setup, cover: Measure
) -> None:
    bare = stack_air(weather, site, setup)
    covered = stack_air(weather, site, setup.with_measure(cover))

    for name in PULLS:
        assert (getattr(covered, name) <= getattr(bare, name) * (1 + 1e-12)).all()
    assert np.array_equal(covered.air_temp_c, bare.air_temp_c)
    assert np.array_equal(covered.vapor_pressure_pa, bare.vapor_pressure_pa)


@pytest.mark.parametrize("cover", SIDE_COVERS)
def test_every_cover_on_the_sides_lowers_the_pull_inside_and_at_the_edge(cover: Measure) -> None:
    bare = stack_air(make_weather(), yard(), Setup("yard"))
    covered = stack_air(make_weather(), yard(), Setup("yard").with_measure(cover))

    assert (covered.vapor_ms[0, :TOP] < 0.95 * bare.vapor_ms[0, :TOP]).all()


@given(any_weather, any_site, any_setup)
def test_a_roof_takes_sun_and_sky_from_the_top_course_and_nothing_from_the_others(
    weather: pd.DataFrame, site: Site, setup: Setup
) -> None:
    setup = replace(setup, measures=setup.measures - {Measure.PILE_ROOF, Measure.TARP})
    bare = stack_air(weather, site, setup)

    for roofed_site, roofed_setup in (
        (site, setup.with_measure(Measure.PILE_ROOF)),
        (replace(site, roof=True), setup),
    ):
        roofed = stack_air(weather, roofed_site, roofed_setup)
        assert roofed.sun_wm2[0, TOP] == roofed.sky_wm2[0, TOP] == roofed.sky_view[0, TOP] == 0.0
        assert roofed.vapor_ms[0, TOP] == roofed.vapor_ms[0, INSIDE]
        assert equal(roofed.boards(slice(TOP)), bare.boards(slice(TOP)))
        assert boards_of(roofed_site, roofed_setup) == (Board.TYPICAL, Board.EDGE)
    assert bare.sky_view[0, TOP] > 0.0
    assert boards_of(site, setup) == tuple(Board)


@given(any_weather, any_site, any_setup, st.floats(0.0, 1.0))
def test_less_wind_never_pulls_harder(
    weather: pd.DataFrame, site: Site, setup: Setup, share: float
) -> None:
    windy = stack_air(weather, site, setup)
    calmer = stack_air(weather.assign(wind_ms=share * weather["wind_ms"]), site, setup)

    assert (calmer.vapor_ms <= windy.vapor_ms * (1 + 1e-12)).all()
    assert (calmer.heat_wm2k <= windy.heat_wm2k * (1 + 1e-12)).all()


@given(any_weather, any_setup)
def test_a_shed_is_never_harder_on_a_board_than_the_open_nor_a_barn_than_a_shed(
    weather: pd.DataFrame, setup: Setup
) -> None:
    """But for 1 %, by which the air over a yard in the sun is lighter."""
    places = [stack_air(weather, yard(exposure), setup) for exposure in Exposure]

    for harder, easier in pairwise(places):
        for name in PULLS:
            assert (getattr(easier, name) <= 1.01 * getattr(harder, name)).all()


@given(any_weather, any_site, any_setup)
def test_the_windward_edge_is_pulled_at_no_less_than_the_inside(
    weather: pd.DataFrame, site: Site, setup: Setup
) -> None:
    air = stack_air(weather, site, setup)

    for name in PULLS:
        assert getattr(air, name)[0, EDGE] >= getattr(air, name)[0, INSIDE]


@pytest.mark.parametrize("off", [-22.4, 0.0, 22.4])
@pytest.mark.parametrize("origin", DIRECTIONS)
def test_shelter_counts_for_the_wind_it_is_given_for(origin: str, off: float) -> None:
    """To half a sector each way; north is on both sides of 0°."""
    shelter = {name: 0.1 * (i + 1) for i, name in enumerate(DIRECTIONS) if name != "SE"}
    degrees = (45.0 * DIRECTIONS.index(origin) + off) % 360.0

    sheltered = stack_air(make_weather(wind_dir_deg=degrees), yard(shelter=shelter), Setup("yard"))

    weaker = make_weather(wind_ms=3.0 * shelter.get(origin, 1.0))
    in_the_open = stack_air(weaker, yard(), Setup("yard"))
    for f in fields(Drivers):
        np.testing.assert_allclose(getattr(sheltered, f.name), getattr(in_the_open, f.name))


@given(any_weather, any_setup, any_shelter)
def test_where_the_direction_is_unknown_no_shelter_is_counted_on(
    weather: pd.DataFrame, setup: Setup, shelter: dict[str, float]
) -> None:
    site = yard(shelter=shelter)
    unknown = stack_air(weather.assign(wind_dir_deg=np.nan), site, setup)

    known = [
        stack_air(weather.assign(wind_dir_deg=45.0 * i), site, setup)
        for i in range(len(DIRECTIONS))
    ]

    assert np.isfinite(unknown.vapor_ms).all()
    assert np.array_equal(unknown.vapor_ms, np.max([k.vapor_ms for k in known], axis=0))


@given(any_weather, any_site, any_setup, st.sampled_from(["temp_c", "rh", "wind_ms"]))
def test_what_is_unknown_outdoors_is_unknown_at_every_board(
    weather: pd.DataFrame, site: Site, setup: Setup, column: str
) -> None:
    three = pd.concat([weather, weather.assign(**{column: np.nan}), weather])
    three.index = make_weather(hours=3).index

    air = stack_air(three, site, setup)

    known = np.isfinite(air.air_temp_c + air.vapor_pressure_pa + air.vapor_ms)
    assert known.tolist() == [[True] * 3, [False] * 3, [True] * 3]


@given(any_weather, any_site, any_setup, st.floats(0.0, 1.0))
def test_unknown_sun_is_that_of_a_clear_sky_which_no_cloud_exceeds(
    weather: pd.DataFrame, site: Site, setup: Setup, cloud: float
) -> None:
    middle = NOON.tz_convert(None).to_datetime64() + np.timedelta64(30, "m")
    elevation, _ = sun_position(np.array([middle]), site.lat, site.lon)
    clear = clear_sky_ghi(elevation)

    unknown = stack_air(weather.assign(ghi_wm2=np.nan), site, setup)

    assert clear[0] > 800.0
    assert equal(unknown, stack_air(weather.assign(ghi_wm2=clear), site, setup))
    clouded = weather.assign(ghi_wm2=ghi_from_cloud(clear, np.array([cloud])))
    assert (stack_air(clouded, site, setup).sun_wm2 <= unknown.sun_wm2).all()


def test_unknown_cloud_is_a_clear_and_so_a_cold_sky() -> None:
    sky = [
        stack_air(make_weather(cloud=cloud), yard(), Setup("yard")).sky_wm2[0, TOP]
        for cloud in (np.nan, 0.0, 1.0)
    ]

    assert sky[0] == sky[1] < sky[2]


def test_stacks_beside_each_other_end_in_unknown_hours_where_one_is_shorter() -> None:
    short, long = (stack_air(make_weather(hours), yard(), Setup("yard")) for hours in (2, 5))

    beside = Drivers.beside([short, long])

    assert np.isfinite(beside.vapor_ms).sum(axis=0).tolist() == [2, 2, 2, 5, 5, 5]
    assert equal(beside.boards(slice(3, 6)), long)


def test_in_still_air_the_top_course_still_gives_its_heat_to_the_air() -> None:
    """A warm level plate: 1.52 dT^(1/3), 4 W/(m2 K) at 20 K. McAdams 1954 (from memory).

    Without it the noon sun heats the top course to 75 °C, and it dries faster in a calm than in
    a breeze.
    """
    calm = stack_air(make_weather(wind_ms=0.0), yard(), Setup("yard"))

    assert calm.heat_wm2k[0, TOP] >= 3.0
