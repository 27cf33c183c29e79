"""Pictures of drying times, in the weather of four places."""

from functools import cache
from inspect import unwrap
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from tests.published import test_drying_times as check
from tests.published.lumber import Array
from tests.published.plots.look import (
    OURS,
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
from tests.published.test_drying_times import PLACES, WOODS, Dried

from drywind.report.look import COLORS
from drywind.wood.species import find_species

MONTHS = np.arange(1, 13)
MONTH_NAMES = list("JFMAMJJASOND")
MONTH_LONG = {1: "January", 5: "May", 6: "June"}
ASKED = {"O'Hare": 0.8, "Dulles": 0.9, "Tampa": 0.9}
"""The share of starts inside their ranges that the checks ask for where nothing was fitted."""


@cache
def dried() -> Dried:
    """Return what the checks hold: every wood from every start at every place."""
    made: Dried = unwrap(check.dried)()
    return made


def by_month(place: str, wood: str, mc_pct: float) -> Array:
    """Return days by start month, the mean of the years there are."""
    days = dried().days(place, wood, mc_pct).reshape(-1, 12)
    mean: Array = days.mean(axis=0)
    return mean


class Inside(NamedTuple):
    """How many starts lie inside the published ranges, of how many, and which woods stray."""

    starts: int
    inside: int
    stray: list[str]


def _ladder(axes: Axes, place: str) -> Inside:
    """Draw every wood's shortest to longest days at a place over its published range."""
    least, most = check.published()
    days = np.array([dried().days(place, wood) for wood in WOODS])
    order = np.argsort(least + most + 1e-3 * least, kind="stable")[::-1]
    rungs = np.arange(len(WOODS))
    shortest, longest = days.min(1)[order], days.max(1)[order]
    gap = np.full(len(WOODS), np.nan)
    up = np.stack([rungs, rungs, gap], axis=1).ravel()
    for ends, name, color, width in (
        ([least[order], most[order]], "published", RANGE, 6),
        ([shortest, longest], "drywind", OURS, 2),
    ):
        across = np.stack([*ends, gap], axis=1).ravel()
        bars = axes.plot(across, up, color=color, linewidth=width, label=name)
        bars[0].set_solid_capstyle("butt")
    outside = (shortest < least[order]) | (longest > most[order])
    axes.plot(
        np.fmax(longest, most[order])[outside] + 14,
        rungs[outside],
        "x",
        color=SECOND,
        label="not all inside",
    )
    names = [find_species(WOODS[i]).name for i in order]
    axes.set_yticks(rungs, names, fontsize=7)
    axes.set_ylim(-0.8, len(WOODS) - 0.2)
    axes.grid(visible=False, axis="y")
    inside = (days >= least[:, None]) & (days <= most[:, None])
    stray = [name for name, out in zip(names, outside, strict=True) if out]
    return Inside(inside.size, int(inside.sum()), stray)


def days_where_fitted() -> Drawn:
    """Every wood's shortest and longest days at Greensboro over its published range."""
    figure, (axes,) = sheet(1, 5.4)
    starts, inside, stray = _ladder(axes, "Greensboro")
    label(axes, "4/4 from green to 20 % MC, started on the first of each month", "days", "")
    key(axes, loc="upper right")
    what = f"drying days, {len(WOODS)} woods, Greensboro (fitted there)"
    ours = f"{inside} of {starts} starts inside"
    verdict = f"**fails** for {', '.join(stray)}" if stray else "holds"
    return Drawn(figure, [Row(what, "a range for each", ours, verdict, check.RIETZ)])


def days_elsewhere() -> Drawn:
    """Draw the same at the three places where nothing was fitted."""
    figure, panels = sheet(3, 5.6, sharey=True, sharex=True)
    rows = []
    for axes, place in zip(panels, ASKED, strict=True):
        starts, inside, _ = _ladder(axes, place)
        label(axes, place, "", "")
        least, most = check.published()
        days = np.array([dried().days(place, wood) for wood in WOODS])
        short, long = (days.min(1) / least).min(), (days.max(1) / most).max()
        what = f"the same at {place} (nothing fitted)"
        ours = (
            f"{100 * inside / starts:.0f} % of {starts} starts inside; shortest {short:.2f} of"
            f" the least, longest {long:.2f} of the most"
        )
        verdict = judged(short >= 0.85 and long <= 1.3 and inside >= ASKED[place] * starts)
        rows.append(Row(what, "a range for each", ours, verdict, check.RIETZ))
    panels[1].set_xlabel("days from green to 20 % MC, 4/4")
    key(figure, handles=panels[0].lines, loc="outside lower center", ncols=3)
    return Drawn(figure, rows)


def red_oak_by_start_month() -> Drawn:
    """Days of red oak by the month it was stacked in, over what is published of some months."""
    figure, panels = sheet(2, 3.4, sharex=True, sharey=True)
    printed = {20.0: {1: 150, 6: 61}, 25.0: {1: 100, 5: 50}}
    least, most = find_species("red_oak").air_drying_days
    panels[0].axhspan(least, most, color=RANGE, alpha=0.6, linewidth=0)
    panels[0].annotate("published range, any start", (0.7, most + 3), color=THEIRS, fontsize=8)
    rows = []
    for axes, (mc_pct, days) in zip(panels, printed.items(), strict=True):
        for at, place in enumerate(PLACES):
            axes.plot(MONTHS, by_month(place, "red_oak", mc_pct), **line(at, f"drywind, {place}"))
        axes.plot(*zip(*days.items(), strict=True), "o", color=THEIRS, label="published")
        axes.set_xticks(MONTHS, MONTH_NAMES)
        label(axes, f"4/4 red oak to {mc_pct:.0f} % MC", "stacked on the first of", "days")
        source, share = (check.FORUM, 1 / 3) if mc_pct == 20.0 else (check.FOR128, 0.3)
        for month, theirs in days.items():
            for place in ("Greensboro", "O'Hare"):
                ours = by_month(place, "red_oak", mc_pct)[month - 1]
                when = f"stacked in {MONTH_LONG[month]}, {place}"
                what = f"days of red oak to {mc_pct:.0f} % MC, {when}"
                verdict = judged(abs(ours - theirs) <= share * theirs)
                rows.append(Row(what, f"{theirs}", f"{ours:.0f}", verdict, source))
    panels[1].set_ylabel("")
    key(panels[1], loc="upper left")
    panels[0].set_ylim(0, 245)
    return Drawn(figure, rows)


def sugar_maple() -> Drawn:
    """Days of sugar maple at O'Hare over the range and the mean of Upper Michigan."""
    figure, (axes,) = sheet(1, 2.9)
    days = dried().days("O'Hare", "hard_maple")
    axes.axhspan(40, 205, color=RANGE, alpha=0.6, linewidth=0, label="published range")
    axes.axhline(90, color=THEIRS, linewidth=1, label="published mean, about")
    for year, mark, color in zip((2015, 2016), "os", COLORS, strict=False):
        of_year = days.reshape(2, 12)[year - 2015]
        axes.plot(MONTHS, of_year, mark, color=color, label=f"drywind, O'Hare {year}")
    axes.axhline(days.mean(), color=OURS, linestyle="--", linewidth=1, label="drywind, mean")
    axes.set_xticks(MONTHS, MONTH_NAMES)
    axes.set_ylim(0, 225)
    label(axes, "4/4 sugar maple to 20 % MC", "stacked on the first of", "days")
    key(figure, loc="outside right center")
    inside = judged(days.min() >= 40 and days.max() <= 205)
    mean, near = f"{days.mean():.0f}", judged(abs(days.mean() - 90.0) <= 27.0)
    rows = [
        Row(
            "days of sugar maple at O'Hare, all starts", "40 to 205", span(days), inside, check.PECK
        ),
        Row("the same, their mean", "about 90", mean, near, check.PECK),
    ]
    return Drawn(figure, rows)
