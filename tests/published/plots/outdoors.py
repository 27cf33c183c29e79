"""Pictures of rain, frost and a whole year."""

from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pandas as pd
from tests.published import years
from tests.published.lumber import ROOFED, boards_of, column, steady_air
from tests.published.plots.look import (
    OURS,
    PALE,
    RANGE,
    SECOND,
    THEIRS,
    THIRD,
    UNCHECKED,
    Drawn,
    Row,
    judged,
    key,
    label,
    line,
    sheet,
    span,
)

from drywind.climate.stack_air import Board, Drivers, stack_air
from drywind.wood import solver
from drywind.wood.drying import State, simulate
from drywind.wood.emc import emc_pct
from drywind.wood.species import find_species

RAINED_ON = ("yellow_poplar", "hard_maple", "red_oak")
UPTAKE = (
    "not found: Niemz and others 2012, Bauphysik 34:101, measured oak, ash and beech (abstract"
    " seen, its values not)"
)
STACKED, WEEKS = "2015-12-01", 44
FREE_AIR = (15.0, 0.013)
"""Coefficients of heat [W/(m2 K)] and vapor [m/s] at a board in free air of about 2 m/s."""


def _air(hours: int, temp_c: float, rh: float, rain_mm: float) -> Drivers:
    """Return steady air, and rain by the hour, at boards of the woods rained on."""
    heat, vapor = (np.full(len(RAINED_ON), value) for value in FREE_AIR)
    air = steady_air(hours, temp_c, rh, heat, vapor)
    return replace(air, rain_mm=np.full_like(air.rain_mm, rain_mm))


def rain_and_frost() -> Drawn:
    """Half-dry boards in 12 h of rain, and how much water a wet face takes up."""
    figure, (wetted, uptake) = sheet(2, 3.3)
    boards, _ = boards_of([(wood, "4/4") for wood in RAINED_ON])
    half_dry = State.green(np.full(len(RAINED_ON), 0.25), np.full(len(RAINED_ON), 15.0))
    spells = Drivers.after([_air(12, 15.0, 0.98, 2.0), _air(84, 20.0, 0.60, 0.0)])
    course = simulate(boards, spells, half_dry)
    snowed = simulate(boards, _air(96, -5.0, 0.90, 2.0), half_dry)
    hours = np.arange(97)
    wetted.axvspan(0, 12, color=RANGE, alpha=0.6, linewidth=0)
    wetted.annotate("rain", (1.5, 45), color=THEIRS, fontsize=8)
    names = [find_species(wood).name for wood in RAINED_ON]
    for i, name in enumerate(names):
        wetted.plot(hours, 100 * course.mc[:, i], **line(i, name))
    wetted.plot(hours, 100 * snowed.mc[:, -1], ":", color=PALE, label=f"{names[-1]}, snow at -5 °C")
    label(wetted, "4/4 at 25 % MC, rained on for 12 h", "hours", "mean MC, %")
    wetted.set_ylim(20, 47)
    key(wetted, loc="upper right")

    thick, _ = boards_of([(wood, "16/4") for wood in RAINED_ON])
    dry = State.green(np.full(len(RAINED_ON), 0.12), np.full(len(RAINED_ON), 20.0))
    soaked = simulate(thick, _air(48, 20.0, 1.0, 50.0), dry)
    taken = (soaked.mc - 0.12) * thick.density_kgm3 * thick.half_thickness_m
    root_h = np.sqrt(np.arange(49))
    for i, name in enumerate(names):
        uptake.plot(root_h, taken[:, i], **line(i, name))
    label(uptake, "taken up by a face kept wet, from 12 % MC", "square root of hours", "kg/m²")
    coefficients = taken[-1] / np.sqrt(48 * 3600.0)

    snow = 100 * (snowed.mc[-1, -1] - 0.25)
    gained = 100 * (course.mc[12] - 0.25)
    rows = [
        Row(
            f"points of MC a 4/4 board gains in 12 h of rain: {', '.join(names)}",
            "no number found",
            ", ".join(f"{points:.0f}" for points in gained),
            UNCHECKED,
            "none found",
        ),
        Row(
            "water uptake across the grain, kg/(m² s^0.5)",
            "not found",
            span(coefficients, ".4f"),
            UNCHECKED,
            UPTAKE,
        ),
        Row(
            "points of MC 4/4 red oak gains in 4 days of snow at -5 °C",
            "none: ice does not soak in",
            f"{snow:.1f}",
            judged(snow <= 0.0),
            "common practice, no source",
        ),
    ]
    return Drawn(figure, rows)


def a_year_at_ohare() -> Drawn:
    """Draw one stack of red oak through a real winter and summer, its frozen weeks marked."""
    figure, (axes,) = sheet(1, 3.6)
    weather = pd.concat([years.ohare(2015), years.ohare(2016)]).loc[STACKED:][: 24 * 7 * WEEKS]
    drivers = column(stack_air(weather, years.OHARE, ROOFED), Board.TYPICAL)
    boards, green = boards_of([("red_oak", "4/4")])
    start = State.green(green, np.array([5.0]))
    course = simulate(boards, drivers, start)
    with patch.object(solver, "FREEZING_C", -99.0):
        never_ice = simulate(boards, drivers, start)

    days = np.arange(7 * WEEKS + 1)
    axes.plot(days, 100 * course.mc[::24, 0], color=OURS, label="mean of the board")
    axes.plot(days, 100 * never_ice.mc[::24, 0], ":", color=OURS, label="the same without ice")
    skin = 100 * course.shell_mc[1:, 0].reshape(-1, 24).mean(axis=1)
    axes.plot(days[:-1] + 0.5, skin, color=THIRD, linewidth=0.8, label="outer millimeter, daily")
    emc = emc_pct(weather["temp_c"], weather["rh"])
    midweek, by_week = days[:-1:7] + 3.5, (WEEKS, 24 * 7)
    weekly = np.nanmean(emc.reshape(by_week), axis=1)
    axes.plot(midweek, weekly, "--", color=SECOND, label="EMC of the air, weekly")
    cold = np.nanmean(weather["temp_c"].to_numpy().reshape(by_week), axis=1) < solver.FREEZING_C
    for day in midweek[cold]:
        axes.axvspan(day - 3.5, day + 3.5, color=RANGE, linewidth=0, zorder=0)
    axes.axvspan(0, 0, color=RANGE, label=f"weeks below {solver.FREEZING_C:g} °C in the mean")
    axes.axhline(20, color=THEIRS, linewidth=0.8)
    months = pd.date_range(STACKED, periods=WEEKS // 4, freq="MS", tz="UTC")
    axes.set_xticks((months - months[0]).days.to_numpy(), months.strftime("%b").to_list())
    axes.set_xlim(0, 7 * WEEKS)
    axes.set_ylim(0, 85)
    label(axes, "4/4 red oak stacked at O'Hare on 1 December 2015, under a roof", "", "MC, %")
    key(axes, loc="upper right")
    ice = 100 * np.abs(course.mc - never_ice.mc).max()
    dry = int(np.argmax(course.mc[:, 0] < 0.20) / 24)
    what = f"red oak stacked at O'Hare in December, {dry} days to 20 % MC: what ice changes"
    found = f"up to {ice:.0f} points of MC"
    row = Row(what, "no measurement found", found, UNCHECKED, "none found")
    return Drawn(figure, [row])
