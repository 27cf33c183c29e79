"""One sober look for all pictures: black is what others publish, color is what drywind computes.

The look is that of the program's own plots. The ground is white, for dark pages too.
"""

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from drywind.report import look
from drywind.report.look import COLORS, DASHES, INK, STYLE

THEIRS, RANGE, PALE = INK, "#d4d4d4", look.PALE
OURS, SECOND, THIRD, FOURTH = COLORS

WIDTH_IN = 7.2
UNCHECKED = "shown only"
"""Of what nothing published was found to be held against, or outside the range of what was."""


class Row(NamedTuple):
    """One line of the page's table: what is held against what, and how far apart they are.

    `verdict` is what the check of the same numbers says of them.
    """

    check: str
    theirs: str
    ours: str
    verdict: str
    source: str


class Drawn(NamedTuple):
    """A picture, and the rows whose numbers it shows."""

    figure: Figure
    rows: list[Row]


def sheet(columns: int, height_in: float, **options: Any) -> tuple[Figure, list[Axes]]:
    """Return a figure of panels side by side."""
    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    return figure, list(figure.subplots(1, columns, squeeze=False, **options)[0])


def line(at: int, name: str) -> dict[str, Any]:
    """Return the look of a panel's first, second, third or fourth line."""
    return {"color": COLORS[at], "linestyle": DASHES[at], "label": name}


def label(axes: Axes, title: str, x: str, y: str) -> None:
    """Name a panel and its axes; units belong into the names."""
    axes.set_title(title)
    axes.set_xlabel(x)
    axes.set_ylabel(y)


def key(axes: Axes | Figure, **where: Any) -> None:
    """Tell what the lines are."""
    axes.legend(**({"loc": "best"} | where))


def span(values: Iterable[float], form: str = ".0f") -> str:
    """Return the least and the most of some values in words."""
    ordered = sorted(values)
    return f"{ordered[0]:{form}} to {ordered[-1]:{form}}"


def at_most(value: float, digits: int = 2) -> str:
    """Return a bound in words, never rounded below the value."""
    return f"{math.ceil(value * 10**digits) / 10**digits:.{digits}f}"


def judged(held: bool | np.bool) -> str:
    """Return the verdict of a check."""
    return "holds" if held else "**fails**"


def save(figure: Figure, path: Path) -> None:
    """Write a picture; the format is the path's, and SVG comes out the same each time."""
    metadata = {"Date": None, "Creator": None} if path.suffix == ".svg" else None
    with rc_context(STYLE):
        figure.savefig(path, metadata=metadata, dpi=110)
