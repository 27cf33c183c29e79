"""One sober look for all plots, on a white ground, for paper and for mail.

The colors are those of Okabe and Ito 2008 (Color Universal Design), which the color-blind tell
apart; lines differ in dash or mark as well.
"""

from typing import Any

BLUE, RED, GREEN, PINK, ORANGE, SKY = (
    *("#0072b2", "#d55e00", "#009e73"),
    *("#cc79a7", "#e69f00", "#56b4e9"),
)
COLORS = (BLUE, RED, GREEN, PINK)
DASHES = ("-", "--", "-.", ":")
INK, PALE, GROUND = "#222222", "#8c8c8c", "#f1ece0"

STYLE: dict[Any, Any] = {
    "axes.edgecolor": PALE,
    "axes.grid": True,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlelocation": "left",
    "axes.titlesize": 9.5,
    "figure.facecolor": "white",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 9,
    "grid.color": "#ececec",
    "legend.fontsize": 8,
    "legend.frameon": False,
    "lines.linewidth": 1.5,
    "lines.markersize": 4,
    "svg.fonttype": "none",
    "svg.hashsalt": "drywind",
    "xtick.color": "#444444",
    "ytick.color": "#444444",
}
