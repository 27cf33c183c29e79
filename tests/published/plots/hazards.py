"""Pictures of what harms boards: safe losses, stain, mold, checks."""

from inspect import unwrap
from unittest.mock import patch

import numpy as np
from tests.published import test_limits as limits
from tests.published import test_mold as molds
from tests.published import test_stain as stains
from tests.published import test_stress as checks
from tests.published.cases import COLD, DAMP, HOT, MILD, Afternoon
from tests.published.plots.look import (
    OURS,
    PALE,
    RANGE,
    SECOND,
    THEIRS,
    Drawn,
    Row,
    judged,
    key,
    label,
    line,
    sheet,
    span,
)

from drywind.climate.stack_air import Board
from drywind.units import Thickness
from drywind.wood import stress
from drywind.wood.limits import safe_loss_pct_per_day
from drywind.wood.mold import critical_rh_pct, mold, weeks_to_start
from drywind.wood.species import find_species
from drywind.wood.stain import blue_dose, enzymatic_dose, stain_index

WEATHERS = {"hot dry wind": HOT, "mild": MILD, "damp": DAMP, "cold dry wind": COLD}
CREEPS = ((20.0, 15.0), (60.0, 15.0), (35.0, 5.0), (35.0, 60.0))
"""The ends of what is believed of creep: by change of moisture, and days by time."""


def safe_losses() -> Drawn:
    """Safe loss by thickness: the published columns, and what fills the sizes between."""
    figure, (axes,) = sheet(1, 3.4)
    quarters = np.arange(3, 16.1, 0.25)
    for at, wood in enumerate(("yellow_poplar", "hard_maple", "red_oak", "white_oak")):
        species = find_species(wood)
        ours = [
            safe_loss_pct_per_day(species, Thickness(f"{q:g}/4", q, 0.0)).value for q in quarters
        ]
        axes.loglog(quarters, ours, **line(at, species.name))
        axes.loglog([4, 8], limits.TABLE_9[wood], "o", color=THEIRS, zorder=3)
    axes.loglog([], [], "o", color=THEIRS, label="published")
    axes.axvspan(8.1, 16, color=RANGE, alpha=0.5, linewidth=0)
    axes.annotate("extrapolated", (8.4, 12), color=THEIRS, fontsize=8)
    sizes = [3, 4, 5, 6, 8, 10, 12, 16]
    axes.set_xticks(sizes, [f"{size}/4" for size in sizes])
    axes.set_yticks([0.5, 1, 2, 5, 10], ["0.5", "1", "2", "5", "10"])
    axes.minorticks_off()
    label(axes, "Safe loss of wet wood", "thickness", "points of MC a day")
    key(axes, loc="lower left")
    six = np.array([limits.safe(w, "6/4") / limits.safe(w, "4/4") for w in limits.TABLE_9])
    columns = [(limits.safe(w, "4/4"), limits.safe(w, "8/4")) for w in limits.TABLE_9]
    off = float(np.abs(np.array(columns) - list(limits.TABLE_9.values())).max())
    rows = [
        Row(
            f"safe loss of {len(limits.TABLE_9)} woods, 4/4 and 8/4",
            "a table",
            f"off by {off:g}",
            judged(off == 0.0),
            limits.FOR_128,
        ),
        Row(
            "safe loss of 6/4 over that of 4/4",
            "0.6",
            span(six, ".2f"),
            judged(np.abs(six - 0.6).max() <= 0.05),
            limits.GTR_118,
        ),
    ]
    return Drawn(figure, rows)


def stain_clocks() -> Drawn:
    """Stain clocks of boards stacked in January and in July, inside and at the windward edge."""
    figure, panels = sheet(2, 3.2, sharey=True)
    stacked, rows = unwrap(stains.stackings)(), []
    woods = {
        "hard_maple": ("enzymatic", "prone", enzymatic_dose),
        "yellow_poplar": ("blue", "some", blue_dose),
    }
    for axes, (wood, (stain, bears, dose)) in zip(panels, woods.items(), strict=True):
        name = find_species(wood).name
        ends = {}
        for month, color in ((7, SECOND), (1, OURS)):
            boards = stacked[wood, month]
            index = stain_index(stain, bears, dose(boards.temp_c, boards.shell_mc).known)[::6]
            when = "July" if month == 7 else "January"
            for board, dash, where in ((0, "-", "inside"), (1, "--", "windward edge")):
                days = np.arange(len(index)) / 4
                (curve,) = axes.plot(days, index[:, board], dash, color=color)
                curve.set_label(f"{when}, {where}")
                ends[month, board] = index[-1, board]
        axes.axhline(1.0, color=THEIRS, linewidth=1)
        axes.set_xlim(0, 30)
        label(axes, f"{name}, {stain} stain", "days from felling", "")
        found = (
            f"July {ends[7, 0]:.1f} inside, {ends[7, 1]:.1f} at the edge; January {ends[1, 0]:.1f}"
        )
        what = f"{stain} stain index of {name}, stacked at Greensboro"
        theirs = "bright in winter, stained in July unless dried at once"
        verdict = judged(ends[1, 0] <= 0.5 and ends[7, 1] <= 0.7 and ends[7, 0] >= 1.0)
        rows.append(Row(what, theirs, found, verdict, stains.PRACTICE))
    panels[0].set_ylabel("index (1: stain is expected)")
    panels[0].set_ylim(0, 1.7)
    key(figure, handles=panels[0].lines[:4], loc="outside lower center", ncols=4)
    july, january = (
        [
            stains.days_to_stain(stains.log_index(stains.ohare_from(year, m)))
            for year in (2015, 2016)
        ]
        for m in (7, 1)
    )
    found = f"{max(july):.0f} days at most in July, {min(january):.0f} at least from January"
    what = "how long maple logs keep, O'Hare 2015 and 2016"
    verdict = judged(max(july) <= 7 and min(january) >= 60)
    rows.append(Row(what, "less than a week; months", found, verdict, stains.LOGS))
    return Drawn(figure, rows)


def mold_index() -> Drawn:
    """Mold on sawn pine in steady air, and the humidity below which none grows."""
    figure, (course, least) = sheet(2, 3.0)
    hours = 60 * 24
    for at, (temp_c, rh) in enumerate(((20.0, 0.97), (20.0, 0.90), (10.0, 0.95), (5.0, 0.95))):
        index = mold(np.full(hours, temp_c), np.full(hours, rh)).index[::12]
        look = line(at, f"{temp_c:g} °C, {100 * rh:g} %")
        course.plot(np.arange(len(index)) / 2, index, **look)
    published = {0.97: 10.4, 0.90: 29.4}
    course.plot(list(published.values()), [1.0, 1.0], "o", color=THEIRS, label="by hand", zorder=3)
    label(course, "steady air, sawn pine", "days", "mold index (3: seen)")
    key(course)
    warmth = np.linspace(0.0, 30.0, 61)
    least.plot(warmth, critical_rh_pct(warmth), color=OURS, label="drywind")
    least.plot([5, 10, 20, 25], [88.02, 82.03, 80.04, 80.0], "o", color=THEIRS, label="by hand")
    label(least, "humidity below which none grows", "°C", "relative humidity, %")
    least.set_yticks(range(80, 101, 5))
    key(least)
    ours = [7 * float(weeks_to_start(20.0, 100 * rh)) for rh in published]
    off = np.abs(np.array(ours) - list(published.values())).max()
    found = ", ".join(f"{days:.1f}" for days in ours)
    theirs = ", ".join(f"{days:g}" for days in published.values())
    what = "days to mold index 1 at 20 °C, 97 and 90 % humidity"
    return Drawn(figure, [Row(what, theirs, found, judged(off <= 0.05), molds.HUKKA)])


def _over_kiln(species: str, size: str, after: Afternoon) -> float:
    """Return a weather's greatest check ratio over that in the kiln schedule that oak stands."""
    mark = checks.in_kiln(species, size).check_when_green()
    return checks.in_weather(species, size, after).check_when_green() / mark


def check_signal() -> Drawn:
    """Draw the check signal by weather, and how far belief about creep moves it."""
    figure, (course, worst) = sheet(2, 3.3)
    mark = checks.in_kiln("red_oak", "4/4").check_when_green()
    for at, (name, after) in enumerate(WEATHERS.items()):
        board = checks.in_weather("red_oak", "4/4", after)
        of_day = board.strained().check[1:, 0].reshape(-1, 24).max(1) / mark
        days = np.arange(1, 1 + len(of_day))
        course.plot(days, of_day, marker=".", **line(at, name))
    course.axhline(1.0, color=THEIRS, linewidth=1)
    label(
        course, "4/4 red oak, windward edge, each day's worst", "day", "check ratio over the kiln's"
    )
    key(course, loc="lower right")
    course.set_ylim(0, 1.5)
    course.set_xticks(range(0, 17, 4))

    oaks = (("red_oak", "4/4", "o"), ("white_oak", "8/4", "s"))
    rows, places = [], np.arange(len(WEATHERS))
    for shift, (species, size, mark_as) in zip((-0.12, 0.12), oaks, strict=True):
        usual = np.array([_over_kiln(species, size, after) for after in WEATHERS.values()])
        believed = [usual]
        for creep, steady_d in CREEPS:
            with patch.multiple(stress, SORPTIVE_CREEP=creep, RELAXATION_DAYS=steady_d):
                believed.append(
                    np.array([_over_kiln(species, size, after) for after in WEATHERS.values()])
                )
        low, high = np.min(believed, axis=0), np.max(believed, axis=0)
        name = f"{size} {find_species(species).name}"
        here = places + shift
        worst.vlines(here, low, high, color=PALE, linewidth=4)
        worst.plot(here, usual, mark_as, color=OURS if mark_as == "o" else SECOND, label=name)
        hot, *others = usual
        rows.append(
            Row(
                f"check ratio of {name} over that in its kiln schedule, windward edge",
                "hot dry wind checks oak, cold wind does not (an order, no number)",
                f"hot dry wind {hot:.2f}; mild, damp and cold {span(others, '.2f')}",
                judged(hot >= 1.0 >= max(others)),
                checks.SCHEDULES,
            )
        )
    worst.axhline(1.0, color=THEIRS, linewidth=1)
    worst.plot([], [], color=PALE, linewidth=4, label="within what is believed of creep")
    worst.set_xticks(places, [name.replace(" ", "\n", 1) for name in WEATHERS])
    worst.set_ylim(0, 1.5)
    label(worst, "greatest while above 50 % MC", "", "check ratio over the kiln's")
    key(worst, loc="lower left")
    inside = checks.in_weather("red_oak", "4/4", DAMP, Board.TYPICAL).check_when_green() / mark
    what = "the same inside the stack, damp, 4/4 northern red oak"
    found, verdict = f"{inside:.2f}", judged(inside <= 0.3)
    rows.append(Row(what, "no danger", found, verdict, checks.SCHEDULES))
    return Drawn(figure, rows)
