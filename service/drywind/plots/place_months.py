"""Where a wood dries best, on one sheet: months across, sites (or woods) down."""

from calendar import month_abbr
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes

from drywind.judge.places import PlaceMonth
from drywind.plots.paper import LETTER_IN, MARKS, SERIES, sheet
from drywind.plots.saw_days import COLORS, SIGNS, frame, letters

LONGEST_DAYS = 365.0
"""What takes longer is drawn at the top edge."""


def draw(found: Sequence[PlaceMonth], years: str, path: Path) -> None:
    """Draw scores by month as a table, and below it the days to kiln-ready.

    Raises
    ------
    UsageError
        As of `drywind.plots.paper.sheet`.
    """
    by_wood = len({one.species for one in found}) > 1
    names = list(dict.fromkeys(_name(one, by_wood) for one in found))
    months = sorted({one.month for one in found})
    at = {(_name(one, by_wood), one.month): one for one in found}
    if by_wood:
        best = {name: max(at[name, m].score or 0.0 for m in months) for name in names}
        names.sort(key=lambda name: -best[name])
    tall = 3.4 + 0.44 * len(names) + (0.0 if by_wood else 3.0)
    with sheet(path, (LETTER_IN[0], max(4.5, tall))) as figure:
        first = found[0]
        what = (
            f"Which woods suit {first.site}, {first.thickness}"
            if by_wood
            else f"Where {first.species.replace('_', ' ')} {first.thickness} dries best"
        )
        figure.suptitle(what, fontsize=16, fontweight="bold", x=0.01, ha="left")
        note = (
            "Figures: 0 to 100, at a limit of drying too fast or of stain 50 or less; blue is"
            " better, framed is the month's best.\n"
            f"Stacked in that month, medians of {min(one.starts for one in found)} stacks or more,"
            f" in the weather of {years}."
        )
        figure.text(0.01, 0.005, note, fontsize=7.5, color="#444444", va="bottom")
        if by_wood:
            _table(figure.subplots(), names, months, at)
        else:
            heights = [0.5 + 0.44 * len(names), 2.6]
            table, lines = figure.subplots(2, 1, height_ratios=heights)
            _table(table, names, months, at)
            _lines(lines, names, months, at)


def _name(one: PlaceMonth, by_wood: bool) -> str:
    return one.species.replace("_", " ") if by_wood else one.site


Cells = dict[tuple[str, int], PlaceMonth]


def _table(axes: Axes, names: Sequence[str], months: Sequence[int], at: Cells) -> None:
    values = np.array([[at[name, m].score for m in months] for name in names], dtype=float)
    axes.imshow(values, cmap=COLORS, vmin=0, vmax=100, aspect="auto")
    axes.set_xticks(range(len(months)), [month_abbr[m] for m in months])
    axes.set_yticks(range(len(names)), names)
    axes.tick_params(length=0)
    axes.spines[:].set_visible(False)
    for y, name in enumerate(names):
        for x, month in enumerate(months):
            one, column = at[name, month], values[:, x]
            best = len(names) > 1 and np.nanmax(column) == values[y, x]
            words = "?" if one.score is None else f"{one.score:.0f}\n{SIGNS[one.verdict]}"
            letters(axes, (x, y), words, one.score, is_bold=bool(best))
            frame(axes, (x, y), is_best=bool(best))


def _lines(axes: Axes, names: Sequence[str], months: Sequence[int], at: Cells) -> None:
    for i, name in enumerate(names):
        days = [at[name, m].days_to_25 for m in months]
        shown = [LONGEST_DAYS if d is None else d for d in days]
        color, mark = SERIES[i % len(SERIES)], MARKS[i % len(MARKS)]
        axes.plot(range(len(months)), shown, color=color, marker=mark, label=name)
    axes.set_xticks(range(len(months)), [month_abbr[m] for m in months])
    axes.set_xlim(-0.5, len(months) - 0.5)
    axes.set_ylim(0, LONGEST_DAYS * 1.03)
    axes.set_ylabel("days to 25 % MC")
    axes.set_title(
        "Days until it is ready for the kiln, by the month it is stacked in (365: a year or more)",
        loc="left",
        fontsize=11,
        fontweight="bold",
    )
    axes.grid(axis="y", color="#DDDDDD")
    axes.legend(ncols=min(len(names), 5), frameon=False, loc="lower left", fontsize=9)
