"""Sheets of paper to hang in the shop, in the look of all pictures."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib as mpl
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from drywind.errors import UsageError
from drywind.report import look

KINDS = (".svg", ".png", ".pdf")
LETTER_IN = (11.0, 8.5)
"""US letter, across; A4 takes it at 97 %."""

FOOT = 0.06
"""The share of the height kept free at the foot of the sheet, for notes."""

STYLE = {**look.STYLE, "font.size": 10.0, "axes.grid": False}
"""Read from farther off than a picture in a mail; a grid would cross out the maps."""

SERIES = (look.BLUE, look.ORANGE, look.GREEN, look.RED, look.SKY, look.PINK, look.INK)
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
