"""The saw days of each lot on one sheet: days across, sites down, how good each is."""

from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from drywind.alerts.saw_words import lot_words, parcel_words
from drywind.alerts.wording import Reader
from drywind.judge.sawing import LotDays, SawBoard, SawDay, Verdict
from drywind.plots.paper import sheet

MOST_LOTS = 6
"""On one sheet; the first ones (more would be too small to read on a wall)."""

SIGNS = {
    Verdict.GOOD: "good",
    Verdict.WITH_MEASURE: "measure",
    Verdict.CHANCY: "chancy",
    Verdict.NO: "no",
    Verdict.UNKNOWN: "?",
}
COLORS = LinearSegmentedColormap.from_list("days", ["#D55E00", "#F7F3E8", "#0072B2"]).with_extremes(
    bad="#DDDDDD"
)
"""From bad to good; also told apart by lightness with the words in each cell."""

DARK_FROM, DARK_TO = 0.12, 0.85
"""Cells beyond these shares of the scale are dark, and take white letters."""


def draw(board: SawBoard, path: Path, reader: Reader) -> None:
    """Draw the board to a file.

    Raises
    ------
    UsageError
        As of `drywind.plots.paper.sheet`.
    """
    lots = board.lots[:MOST_LOTS]
    height = 1.6 + sum(_height(lot) for lot in lots) if lots else 2.0
    with sheet(path, (11.0, max(4.0, height))) as figure:
        local = reader.now.astimezone(reader.zone)
        figure.suptitle(
            f"Which day to saw   -   {local:%a %b} {local.day}, {local.year}",
            fontsize=16,
            fontweight="bold",
            x=0.01,
            ha="left",
        )
        if lots:
            _lots(figure, lots, reader)
        figure.text(0.01, 0.005, _foot(board), fontsize=7.5, color="#444444", va="bottom")


def _height(lot: LotDays) -> float:
    return 0.95 + 0.36 * len({day.site for day in lot.days})


def _foot(board: SawBoard) -> str:
    more = len(board.lots) - MOST_LOTS
    left_out = f"  {more} more lots are not shown." if more > 0 else ""
    return (
        "Figures: 0 to 100, at a limit of drying too fast or of stain 50 or less; blue is better,"
        f" framed is best.{left_out}\n"
        f"Hatched days lie beyond the forecast: there the weather is that of {board.past_years}."
    )


def _lots(figure: Figure, lots: tuple[LotDays, ...], reader: Reader) -> None:
    panels = figure.subplots(len(lots), 1, height_ratios=[_height(lot) for lot in lots])
    for axes, lot in zip(np.atleast_1d(panels), lots, strict=True):
        _lot(axes, lot, reader)


def _lot(axes: Axes, lot: LotDays, reader: Reader) -> None:
    sites = sorted({day.site for day in lot.days})
    dates = sorted({day.day for day in lot.days})
    at = {(day.site, day.day): day for day in lot.days}
    scores = [[at[site, date].score for date in dates] for site in sites]
    values = np.array(scores, dtype=float)
    axes.imshow(values, cmap=COLORS, vmin=0, vmax=100, aspect="auto")
    axes.set_xticks(range(len(dates)), [f"{date:%a}\n{date:%b} {date.day}" for date in dates])
    axes.set_yticks(range(len(sites)), sites)
    axes.tick_params(length=0)
    axes.spines[:].set_visible(False)
    for y, site in enumerate(sites):
        for x, date in enumerate(dates):
            _cell(axes, (x, y), at[site, date], is_best=at[site, date] is lot.best)
    words = lot_words(lot, reader).removeprefix(f"{parcel_words(lot)}: ")
    axes.set_title(f"{parcel_words(lot)}: {words}", loc="left", fontsize=11, fontweight="bold")


def _cell(axes: Axes, at: tuple[int, int], day: SawDay, *, is_best: bool) -> None:
    sign, score = SIGNS[day.verdict], day.score
    words = sign if score is None else f"{score:.0f} {sign}"
    letters(axes, at, words, score, is_bold=is_best)
    if not day.air.foretold:
        box = _box(at, fill=False, hatch="///", edgecolor="#00000022", linewidth=0)
        axes.add_patch(box)
    frame(axes, at, is_best=is_best)


def letters(
    axes: Axes, at: tuple[int, int], words: str, score: float | None, *, is_bold: bool
) -> None:
    """Write into a cell, so that it is read on its color."""
    dark = score is not None and not DARK_FROM < score / 100 < DARK_TO
    axes.text(
        *(*at, words),
        ha="center",
        va="center",
        fontsize=9,
        color="white" if dark else "black",
        fontweight="bold" if is_bold else "normal",
    )


def frame(axes: Axes, at: tuple[int, int], *, is_best: bool) -> None:
    """Draw a cell's frame, a thick one around the best."""
    edge, width = ("black", 2.5) if is_best else ("#00000055", 0.6)
    axes.add_patch(_box(at, fill=False, edgecolor=edge, linewidth=width))


def _box(at: tuple[int, int], **look: Any) -> Rectangle:
    return Rectangle((at[0] - 0.48, at[1] - 0.46), 0.96, 0.92, **look)
