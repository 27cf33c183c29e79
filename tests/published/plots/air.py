"""Pictures of what the air asks of wood: equilibrium moisture content (EMC)."""

import numpy as np
from tests.published.plots.look import (
    OURS,
    SECOND,
    THEIRS,
    Drawn,
    Row,
    at_most,
    judged,
    key,
    label,
    line,
    sheet,
    span,
)
from tests.published.test_emc import HANDBOOK, TABLE_4_2, TABLE_RH_PCT
from tests.published.test_monthly_emc import CHICAGO, DENVER, NEW_YORK, RALEIGH, SOURCE, monthly_emc

from drywind.units import fahrenheit_to_c
from drywind.wood.emc import emc_pct

SHOWN_F = (30, 70, 110, 140)
CITIES = {
    "Greensboro": ("Raleigh", RALEIGH),
    "O'Hare": ("Chicago", CHICAGO),
    "JFK": ("New York", NEW_YORK),
    "Golden": ("Denver", DENVER),
}


def emc() -> Drawn:
    """EMC against the table, and how far each cell is off."""
    figure, (curves, off) = sheet(2, 3.3)
    humid = np.linspace(0.02, 0.97, 60)
    apart = {}
    for temp_f, row in TABLE_4_2.items():
        temp_c, printed = fahrenheit_to_c(temp_f), np.array(row.split(), dtype=float)
        apart[temp_f] = emc_pct(temp_c, TABLE_RH_PCT / 100) - printed
        off.plot(TABLE_RH_PCT, apart[temp_f], ".", color=OURS, markersize=3)
        if temp_f in SHOWN_F:
            at = line(SHOWN_F.index(temp_f), f"{temp_f} °F")
            curves.plot(100 * humid, emc_pct(temp_c, humid), **at)
            curves.plot(TABLE_RH_PCT, printed, "o", color=THEIRS, markersize=2.5, zorder=3)
    curves.plot([], [], "o", color=THEIRS, markersize=2.5, label="table")
    off.axhspan(-0.05, 0.05, color=THEIRS, alpha=0.12, linewidth=0)
    off.annotate("what the table rounds away", (4, 0.052), color=THEIRS, fontsize=8)
    off.set_ylim(-0.1, 0.1)
    off.set_yticks([-0.1, -0.05, 0.0, 0.05, 0.1])
    label(curves, "Wood Handbook, Table 4-2", "relative humidity, %", "EMC, % of oven-dry mass")
    label(off, "drywind less table, all cells", "relative humidity, %", "points of EMC")
    key(curves)
    worst = max(np.abs(cells).max() for cells in apart.values())
    count = sum(cells.size for cells in apart.values())
    what = f"EMC, {count} cells, {span(TABLE_4_2)} °F"
    found = f"within {at_most(worst)} point"
    return Drawn(figure, [Row(what, "printed to 0.1", found, judged(worst <= 0.06), HANDBOOK)])


def monthly_emc_of_four_places() -> Drawn:
    """EMC month by month, at monthly means as the table has it, and by the hour."""
    figure, panels = sheet(4, 2.9, sharey=True)
    months = np.arange(1, 13)
    yearly, gaps, monthly = [], [], {}
    for axes, (place, (city, row)) in zip(panels, CITIES.items(), strict=True):
        theirs = np.array(row.split(), dtype=float)
        at_means, hourly = monthly_emc(place)
        yearly.append((at_means - theirs).mean())
        gaps.append((hourly - at_means).mean())
        monthly[place] = np.abs(at_means - theirs).max()
        axes.plot(months, theirs, "o", color=THEIRS, label="table, 30-year means")
        axes.plot(months, at_means, color=OURS, label="drywind, at monthly means")
        axes.plot(months, hourly, "--", color=SECOND, label="drywind, mean of the hours")
        axes.set_xticks([1, 4, 7, 10], ["Jan", "Apr", "Jul", "Oct"])
        label(axes, f"{place}\n(table: {city})", "", "")
    panels[0].set_ylabel("EMC, %")
    key(figure, handles=panels[0].lines, loc="outside lower center", ncols=3)
    foothills = monthly.pop("Golden")
    worst = max(monthly.values())
    rows = [
        Row(
            "EMC outdoors over the year, four places, at monthly means",
            "12 months each",
            f"{min(yearly):+.1f} to {max(yearly):+.1f} point off",
            judged(np.abs(yearly).max() <= 1.0),
            SOURCE,
        ),
        Row(
            "the worst month, Golden apart",
            "36 months",
            f"{at_most(worst, 1)} points off (Golden, in the foothills: {at_most(foothills, 1)})",
            judged(worst <= 2.5),
            SOURCE,
        ),
        Row(
            "mean of hourly EMC above EMC at monthly means",
            "1.0 to 1.7 points",
            f"{span(gaps, '.1f')} points",
            judged(0.9 <= min(gaps) <= max(gaps) <= 1.84),
            "worked once apart from the program on the same files",
        ),
    ]
    return Drawn(figure, rows)
