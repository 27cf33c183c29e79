"""What all pictures share: paper, letters, colors that differ in print and to every eye."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from drywind.errors import UsageError

KINDS = (".svg", ".png", ".pdf")
LETTER_IN = (11.0, 8.5)
"""US letter, across; A4 takes it at 97 %."""

FOOT = 0.06
"""The share of the height kept free at the foot of the sheet, for notes."""

STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 10.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "svg.fonttype": "none",
    "svg.hashsalt": "drywind",
}

# Okabe and Ito, Color Universal Design, 2008 (from memory): told apart by color-blind eyes.
BLUE, ORANGE, GREEN, RED, SKY, GRAY = (
    "#0072B2",
    "#E69F00",
    "#009E73",
    "#D55E00",
    "#56B4E9",
    "#666666",
)
SERIES = (BLUE, ORANGE, GREEN, RED, SKY, "#CC79A7", "#000000")
MARKS = ("o", "s", "^", "D", "v", "P", "X")


def check_kind(path: Path) -> None:
    """Check that a picture can be written to a file of such a name.

    Raises
    ------
    UsageError
        If not.
    """
    if path.suffix.lower() not in KINDS:
        raise UsageError(f"{path}: a picture's name ends in {', '.join(KINDS)}")
    if not path.parent.is_dir():
        raise UsageError(f"{path} cannot be written: there is no folder {path.parent}")


@contextmanager
def sheet(path: Path, size_in: tuple[float, float] = LETTER_IN) -> Iterator[Figure]:
    """Give a figure to draw on, and write it when that is done; the same picture, the same bytes.

    Raises
    ------
    UsageError
        If the file is of no kind that can be written, or cannot be.
    """
    check_kind(path)
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=size_in)
        figure.set_layout_engine(ConstrainedLayoutEngine(rect=(0.0, FOOT, 1.0, 1.0 - FOOT)))
        FigureCanvasAgg(figure)
        yield figure
        stamp = {"Date": None} if path.suffix.lower() == ".svg" else None
        try:
            figure.savefig(path, dpi=150, metadata=stamp)
        except OSError as error:
            raise UsageError(f"{path} cannot be written: {error.strerror}") from None
