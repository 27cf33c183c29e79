"""A replayed season on one sheet: moisture, loss against the limit, and when a text went out."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

from drywind.plots.paper import sheet
from drywind.report.look import BLUE, GREEN, ORANGE, PALE, RED

Json = dict[str, Any]


def draw(told: Json, title: str, path: Path) -> None:
    """Draw what `replay --json` tells.

    Raises
    ------
    UsageError
        As of `drywind.plots.paper.sheet`.
    """
    days = [date.fromisoformat(day["date"]) for day in told["daily"]]
    with sheet(path) as figure:
        figure.suptitle(title, fontsize=16, fontweight="bold", x=0.01, ha="left")
        figure.text(0.01, 0.005, _note(told), fontsize=8, color="#444444", va="bottom")
        moisture, loss = figure.subplots(2, 1, sharex=True, height_ratios=[3, 2])
        _moisture(moisture, days, told["daily"])
        _loss(loss, days, told["daily"])
        for at in (date.fromisoformat(text["at"][:10]) for text in told["messages"]):
            loss.axvline(at, color=RED, linestyle=":", linewidth=1.2)
        if told["messages"]:
            loss.plot([], [], color=RED, linestyle=":", label="a text went out")
        loss.legend(frameon=False, ncols=4, fontsize=9, loc="upper right")
        locator = AutoDateLocator()  # type: ignore[no-untyped-call]
        loss.xaxis.set_major_locator(locator)
        formatter = ConciseDateFormatter(locator)  # type: ignore[no-untyped-call]
        loss.xaxis.set_major_formatter(formatter)


def _moisture(axes: Axes, days: Sequence[date], daily: Sequence[Json]) -> None:
    curves = (
        ("typical board", "mc_pct", BLUE, "-"),
        ("edge board", "edge_mc_pct", ORANGE, "--"),
        ("outer millimeter", "shell_mc_pct", GREEN, "-."),
        ("EMC of the air", "emc_pct", PALE, ":"),
    )
    for label, key, color, dash in curves:
        axes.plot(days, _column(daily, key), color=color, linestyle=dash, label=label)  # type: ignore[arg-type]
    axes.axhline(20.0, color="#BBBBBB", linewidth=0.8)
    axes.annotate("20 %", (0.0, 20.0), xycoords=("axes fraction", "data"), fontsize=8, color=PALE)
    axes.set_ylim(bottom=0)
    axes.set_ylabel("moisture content, %")
    axes.grid(axis="y", color="#EEEEEE")
    axes.legend(frameon=False, ncols=4, fontsize=9, loc="upper right")


def _loss(axes: Axes, days: Sequence[date], daily: Sequence[Json]) -> None:
    for label, key, color, dash in (
        ("typical", "loss_pct", BLUE, "-"),
        ("edge", "edge_loss_pct", ORANGE, "--"),
    ):
        values = np.clip(_column(daily, key), 0.0, None)
        axes.step(days, values, color=color, linestyle=dash, where="mid", label=label)  # type: ignore[arg-type]
    limit = _column(daily, "limit_pct")
    axes.plot(days, limit, color="black", linewidth=1.5, label="safe while wet")  # type: ignore[arg-type]
    axes.set_ylim(0, max(2.5 * float(limit[0]), 0.1))
    axes.set_ylabel("loss, points a day")
    axes.grid(axis="y", color="#EEEEEE")


def _column(daily: Sequence[Json], key: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([day.get(key) for day in daily], dtype=float)


def _note(told: Json) -> str:
    texts, days = len(told["messages"]), told["days_to_20_pct"]
    dry = "not at 20 % when the weather ends" if days is None else f"at 20 % after {days:.0f} days"
    some = "1 text went out" if texts == 1 else f"{texts} texts went out"
    return f"{dry}; {some}. The first day of any stack loses fast: it is judged by its first two."
