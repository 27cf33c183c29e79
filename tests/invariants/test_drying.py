"""What must hold of drying boards whatever the wood, the size, the setup and the weather."""

from collections.abc import Callable
from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from drywind.climate.stack_air import Board, Drivers, stack_air
from drywind.units import INCH_M, SAWING_ALLOWANCE_M
from drywind.weather.air import saturation_pressure_pa
from drywind.wood import emc
from drywind.wood.diffusion import FIBER_SATURATION, transverse_diffusivity
from drywind.wood.drying import Boards, Course, State, simulate
from drywind.wood.solver import VAPOR_GAS_CONSTANT
from drywind.wood.species import load_species
from drywind.yard import Exposure, Measure, Setup, Site

Array = NDArray[np.float64]

HOURS = 48
STACKS = 3
SPECIES = list(load_species().values())

few = settings(
    deadline=None,
    max_examples=15,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # to shrink a failure takes minutes
)


def make_weather(
    temp_c: Array, rh: Array, wind_ms: Array, ghi_wm2: Array, rain_mm: Array | float = 0.0
) -> pd.DataFrame:
    hours = pd.date_range("2026-04-15T05:00Z", periods=len(temp_c), freq="h", name="time_utc")
    values = {"temp_c": temp_c, "rh": rh, "wind_ms": wind_ms, "ghi_wm2": ghi_wm2}
    usual = {"wind_dir_deg": 270.0, "cloud": 0.3, "rain_mm": rain_mm}
    return pd.DataFrame(values | usual, index=hours)


def hourly(low: float, high: float) -> st.SearchStrategy[Array]:
    """Return steady values with a few jumps, or a jump every hour."""
    noise = st.integers(0, 2**32 - 1).map(
        lambda seed: np.random.default_rng(seed).uniform(low, high, HOURS)
    )
    return noise | arrays(np.float64, HOURS, elements=st.floats(low, high))


wild_weather = st.builds(
    make_weather,
    hourly(-20.0, 45.0),
    hourly(0.05, 1.0),
    hourly(0.0, 20.0),
    hourly(0.0, 1000.0),
    hourly(-60.0, 60.0).map(lambda mm: np.maximum(mm, 0.0)),
)
"""Every hour knows nothing of the one before."""


@st.composite
def plausible_weather(draw: st.DrawFn, coldest_c: float = -12.0) -> pd.DataFrame:
    """Days with their warm and dry afternoons, from frost to heat and from fog to desert."""
    cycle = np.cos(2 * np.pi * (np.arange(HOURS) - draw(st.integers(0, 23))) / 24)
    swing = draw(st.floats(0.0, 8.0))
    temp = draw(st.floats(coldest_c, 37.0)) + swing * cycle
    rh = draw(st.floats(0.15, 0.95)) - draw(st.floats(0.0, 0.3)) * cycle
    wind = draw(st.floats(0.0, 12.0)) * (0.8 + 0.2 * cycle)
    sun = draw(st.floats(0.0, 1000.0)) * np.maximum(cycle, 0.0)
    return make_weather(temp, np.clip(rh, 0.05, 1.0), wind, sun)


any_setup = st.builds(
    Setup,
    site=st.just("yard"),
    sticker_m=st.sampled_from([0.5, 0.75, 1.0, 1.5]).map(lambda inches: inches * INCH_M),
    pack_width_m=st.floats(0.6, 2.4),
    measures=st.frozensets(st.sampled_from(Measure)),
)
any_site = st.builds(
    Site,
    name=st.just("yard"),
    lat=st.just(36.1),
    lon=st.just(-79.95),
    altitude_m=st.floats(0.0, 3000.0),
    exposure=st.sampled_from(Exposure),
)


def make_boards(kinds: list[int], quarters: list[float]) -> Boards:
    """Return the three boards of each stack."""
    gravity = np.repeat([SPECIES[k].basic_specific_gravity for k in kinds], len(Board))
    slower = np.repeat([SPECIES[k].diffusion_multiplier for k in kinds], len(Board))
    half = 0.5 * (np.repeat(quarters, len(Board)) * INCH_M / 4.0 + SAWING_ALLOWANCE_M)
    return Boards(half, 1000.0 * gravity, slower * [transverse_diffusivity(g) for g in gravity])


any_boards = st.builds(
    make_boards,
    st.lists(st.integers(0, len(SPECIES) - 1), min_size=STACKS, max_size=STACKS),
    st.lists(st.floats(3.0, 16.0), min_size=STACKS, max_size=STACKS),
)
any_start = arrays(np.float64, STACKS * len(Board), elements=st.floats(0.06, 1.40))


def at_boards(weather: pd.DataFrame, site: Site, setup: Setup) -> Drivers:
    return Drivers.beside([stack_air(weather, site, setup)] * STACKS)


def changed(drivers: Drivers, change: Callable[[Array], Array]) -> Drivers:
    return Drivers(**{f.name: change(getattr(drivers, f.name)) for f in fields(drivers)})


def dry(boards: Boards, drivers: Drivers, start_mc: Array) -> Course:
    temp_c = np.nan_to_num(drivers.air_temp_c[0], nan=15.0)
    return simulate(boards, drivers, State.green(start_mc, temp_c))


def some(boards: Boards, columns: list[int]) -> Boards:
    return Boards(*(array[columns] for array in vars(boards).values()))


@given(any_boards, any_start, wild_weather, any_site, any_setup)
@settings(few, max_examples=40)
def test_no_weather_however_wild_stops_the_model_or_makes_it_lose_its_mind(
    boards: Boards, start: Array, weather: pd.DataFrame, site: Site, setup: Setup
) -> None:
    course = dry(boards, at_boards(weather, site, setup), start)

    assert course.known.all()
    for values in (course.mc, course.shell_mc, course.end.mc, course.end.temp_c):
        assert np.isfinite(values).all()
    assert course.end.mc.min() > 0.0
    assert course.end.temp_c.min() > -60.0
    assert course.end.temp_c.max() < 100.0


@pytest.mark.parametrize("hours", [1, 2])
def test_from_dew_to_desert_and_back_no_wood_stops_the_model(hours: int) -> None:
    """At each turn the second stage of a step sets out from less than no water at the face."""
    damp = np.arange(HOURS) // hours % 2 == 0
    weather = make_weather(
        np.where(damp, 45.0, 20.0), np.where(damp, 1.0, 0.05), np.full(HOURS, 2.0), np.zeros(HOURS)
    )
    air = stack_air(weather, Site("yard", 36.1, -79.95, 0.0), Setup("yard"))
    kinds = list(range(len(SPECIES)))
    boards = make_boards(kinds, [4.0] * len(kinds))

    course = dry(boards, Drivers.beside([air] * len(kinds)), np.full(3 * len(kinds), 0.2))

    assert np.isfinite(course.mc).all()
    assert course.end.mc.min() > 0.0


@given(any_boards, any_start, wild_weather, any_site, any_setup)
@few
def test_no_board_takes_up_more_water_than_the_air_can_bring(
    boards: Boards, start: Array, weather: pd.DataFrame, site: Site, setup: Setup
) -> None:
    """Within 10 g/m2 an hour, or 0.1 point: Newton's tolerance where pores are just full."""
    drivers = at_boards(weather, site, setup)
    kelvin = drivers.air_temp_c + 273.15
    brought = drivers.vapor_ms * drivers.vapor_pressure_pa / (VAPOR_GAS_CONSTANT * kelvin) * 3600.0

    course = dry(boards, drivers, start)

    gained = np.diff(course.mc, axis=0) * boards.density_kgm3 * boards.half_thickness_m
    assert (gained <= brought + drivers.rain_mm + 0.01).all()


@given(any_boards, any_start, plausible_weather(), any_site, any_setup)
@few
def test_in_steady_air_a_board_stays_between_equilibrium_and_where_it_started(
    boards: Boards, start: Array, weather: pd.DataFrame, site: Site, setup: Setup
) -> None:
    """Of every cell. Sun warms a board above the air, and so lowers its equilibrium."""
    hour = at_boards(weather, site, setup.with_measure(Measure.PILE_ROOF)).hours(slice(12, 13))
    drivers = changed(hour, lambda array: np.tile(array, (HOURS, 1)))
    warmest = (hour.air_temp_c + hour.sun_wm2 / hour.heat_wm2k)[0]
    least, _ = emc.emc_fraction_and_slope(
        warmest, hour.vapor_pressure_pa[0] / saturation_pressure_pa(warmest)
    )

    course = dry(boards, drivers, start)

    assert (course.end.mc >= np.minimum(least, start) - 1e-6).all()
    assert (course.end.mc <= np.maximum(start, FIBER_SATURATION) + 1e-6).all()
    wet = start > FIBER_SATURATION
    assert (np.diff(course.mc, axis=0)[:, wet] <= 1e-9).all()
    assert (course.shell_mc <= course.mc + 1e-9)[:, wet].all()


@given(any_boards, any_start, plausible_weather(), st.sets(st.integers(0, HOURS - 1), min_size=1))
@few
def test_an_hour_nobody_knows_leaves_every_board_as_it_was(
    boards: Boards, start: Array, weather: pd.DataFrame, unknown: set[int]
) -> None:
    hours = sorted(unknown)
    weather = weather.assign(temp_c=weather["temp_c"].mask(np.isin(np.arange(HOURS), hours)))

    course = dry(boards, at_boards(weather, Site("yard", 36.1, -79.95, 0.0), Setup("yard")), start)

    assert not course.known[hours].any()
    assert course.known.sum() == (HOURS - len(hours)) * len(start)
    assert np.array_equal(course.mc[1:][hours], course.mc[:-1][hours])
    assert np.array_equal(course.shell_mc[1:][hours], course.shell_mc[:-1][hours])


@given(any_boards, st.data())
@few
def test_a_sealed_board_keeps_its_water_while_it_evens_out(
    boards: Boards, data: st.DataObject
) -> None:
    cells, count = boards.cells_m.shape
    uneven = data.draw(arrays(np.float64, (cells, count), elements=st.floats(0.05, 1.2)))
    dark = np.zeros((240, count))
    temp = np.full(count, 40.0)
    sealed = Drivers(dark + 40.0, dark + 1000.0, dark + 10.0, dark + 1e-12, *[dark] * 4)

    course = simulate(boards, sealed, State(uneven, temp, np.full(count, 0.5)))

    np.testing.assert_allclose(course.mc, np.tile(course.mc[0], (241, 1)), atol=1e-7)
    assert (np.ptp(course.end.mc, axis=0) <= np.ptp(uneven, axis=0) + 1e-6).all()


@given(any_boards, any_start, plausible_weather(20.0), any_site, any_setup, st.floats(0.3, 0.98))
@few
def test_drier_air_never_leaves_a_board_wetter(
    boards: Boards,
    start: Array,
    weather: pd.DataFrame,
    site: Site,
    setup: Setup,
    share: float,
) -> None:
    """Under the same sky: a drier one glows less, and may keep an open top course cooler.

    Where nothing freezes: drier air cools a wet board, and ice holds its water. Within 0.1 point,
    the error we allow the solver.
    """
    air = at_boards(weather, site, setup)
    drier_air = replace(air, vapor_pressure_pa=share * air.vapor_pressure_pa)

    usual, drier = (dry(boards, drivers, start) for drivers in (air, drier_air))

    assert (drier.mc - usual.mc).max() <= 1e-3
    assert drier.mc[-1].mean() < usual.mc[-1].mean()


@given(any_boards, any_start, plausible_weather(), any_site, any_setup)
@few
def test_a_board_dries_alone_as_it_dries_in_company(
    boards: Boards, start: Array, weather: pd.DataFrame, site: Site, setup: Setup
) -> None:
    """But for rounding: each board takes the steps it needs."""
    drivers = at_boards(weather, site, setup)

    company = dry(boards, drivers, start)

    for board in (0, 4, 8):
        alone = dry(
            some(boards, [board]),
            changed(drivers, lambda array, at=board: array[:, [at]]),  # type: ignore[misc]
            start[[board]],
        )
        np.testing.assert_allclose(alone.mc[:, 0], company.mc[:, board], atol=1e-7, rtol=0)


@given(any_boards, any_start, wild_weather, any_site, any_setup, st.integers(1, HOURS - 1))
@few
def test_a_run_taken_up_where_it_was_left_ends_the_same(
    boards: Boards,
    start: Array,
    weather: pd.DataFrame,
    site: Site,
    setup: Setup,
    hour: int,
) -> None:
    drivers = at_boards(weather, site, setup)

    whole = dry(boards, drivers, start)
    first = dry(boards, drivers.hours(slice(0, hour)), start)
    second = simulate(boards, drivers.hours(slice(hour, HOURS)), first.end)

    assert np.array_equal(np.concatenate([first.mc, second.mc[1:]]), whole.mc)
    assert np.array_equal(second.end.mc, whole.end.mc)
    assert np.array_equal(second.end.temp_c, whole.end.temp_c)
