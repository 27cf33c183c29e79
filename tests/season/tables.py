"""Scores as rows: one for each hazard, wood, way to stand and year, and the sums of them."""

import csv
from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import product
from pathlib import Path
from typing import Any

from tests.season.seasons import Result

from drywind.season.score import RATIOS, Score, expenses

Row = dict[str, Any]

SHOWN = (
    "place",
    "hazard",
    "wood",
    "standing",
    "events",
    "hits",
    "firm events",
    "firm hits",
    "warnings",
    "false alarms",
    "texts",
    "texts a week",
    "lead h",
    "advised",
    "kept",
    "value at 0.1",
    "value at 0.3",
)
"""The columns of the Markdown table."""


def rows_of(results: Sequence[Result]) -> list[Row]:
    """Return a row for each year, hazard, wood and way to stand, and the sums of them."""
    sums: dict[tuple[str, str, str, str], Score] = defaultdict(Score)
    for (kind, hazard), one in (pair for result in results for pair in result.scores.items()):
        for of in product(
            ("all", kind.place), (hazard,), ("all", kind.wood), ("all", kind.standing)
        ):
            sums[of] += one
    return [row(of, total) for of, total in sorted(sums.items())]


def row(of: tuple[str, str, str, str], score: Score) -> Row:
    """Return a score as a row."""
    values = {f"value at {e.ratio:g}": e.value for e in expenses(score)}
    return {
        **dict(zip(SHOWN, of, strict=False)),
        "events": score.events,
        "hits": score.hits,
        "firm events": score.events - score.borderline,
        "firm hits": score.hits - score.borderline_hits,
        "warnings": score.warnings,
        "false alarms": score.false_alarms,
        "texts": score.texts,
        "texts a week": score.texts_per_week,
        "lead h": score.lead_h,
        "advised": score.advised,
        "kept": score.kept,
        "weeks": score.weeks,
        "days kept": score.days_kept,
        "days idle": score.days_idle,
        "days struck": score.days_struck,
        "days calm": score.days_calm,
        **dict.fromkeys(f"value at {ratio:g}" for ratio in RATIOS),
        **values,
    }


def write(file: Path, rows: Sequence[Row]) -> None:
    """Write all columns as CSV, and those to read as Markdown beside it."""
    with file.open("w", newline="") as out:
        writer = csv.DictWriter(out, list(rows[0]))
        writer.writeheader()
        writer.writerows({k: _cell(v) for k, v in row.items()} for row in rows)
    file.with_suffix(".md").write_text(markdown(rows) + "\n")


def markdown(rows: Iterable[Row]) -> str:
    """Return a table of the columns to read."""
    lines = [_line(SHOWN), _line(["---"] * len(SHOWN))]
    return "\n".join([*lines, *(_line(_cell(row[name]) for name in SHOWN) for row in rows)])


def _line(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _cell(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.2f}" if isinstance(value, float) else str(value)
