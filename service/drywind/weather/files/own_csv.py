"""The canonical hourly table as comma-separated values, which people make from any source.

The header names columns of the table, in any order; `time_utc`, `temp_c`, `rh` and `wind_ms` are
needed. A time is ISO 8601, UTC where it names no offset. An empty cell is unknown.
"""

import csv
from datetime import UTC, datetime
from typing import Any

import pandas as pd

from drywind.weather import table
from drywind.weather.files.parsed import Parsed
from drywind.weather.files.text import Text
from drywind.weather.hour import NEEDED, VALUES, WeatherHour

KIND = "CSV"

_NEEDED = ("time_utc", *NEEDED)
_MOST = 0.5
"""The share of a column that may be impossible; more is a wrong unit (assumption, 0.1-0.9: of real
stations' hours far under 0.01 are, of a humidity in percent nearly all)."""


def matches(text: Text) -> bool:
    """Say whether the first line is a header that names the time."""
    return "time_utc" in _header(text)


def parse(text: Text) -> Parsed:
    """Read a file whose first line `matches`.

    Raises
    ------
    UsageError
        At a column the table does not have, lacks, or has twice; at a cell that is no number or no
        time; at an hour that stands twice; at a column that looks to be in another unit.
    """
    header = _header(text)
    _check_header(text, header)
    cells = text.cells(1, len(header), {name: at for at, name in enumerate(header)}, _split)
    values = text.to_numbers(cells[[name for name in VALUES if name in header]])
    _check_units(text, values)
    hours = values.set_axis(text.hours(_instants(text, cells["time_utc"])))
    if "source" in header:
        hours["source"] = cells["source"].replace("", KIND).set_axis(hours.index)
    if "issued_at" in header:
        issued = cells["issued_at"].mask(cells["issued_at"] == "", cells["time_utc"])
        hours["issued_at"] = _instants(text, issued).set_axis(hours.index)
    return Parsed(hours)


def _header(text: Text) -> list[str]:
    return [name.strip() for name in _split(text.lines[0])]


def _split(line: str) -> list[str]:
    try:
        return next(csv.reader([line], strict=True), [])
    except csv.Error:
        return [line]


def _check_header(text: Text, header: list[str]) -> None:
    for name in header:
        if name not in WeatherHour._fields:
            allowed = ", ".join(WeatherHour._fields)
            raise text.fault(1, f"{name[:30]!r} is not a column of the table: {allowed}")
        if header.count(name) > 1:
            raise text.fault(1, f"the column {name} stands twice")
    missing = [name for name in _NEEDED if name not in header]
    if missing:
        raise text.fault(
            1, f"the table needs {', '.join(_NEEDED)}; {', '.join(missing)} is missing"
        )


def _check_units(text: Text, values: pd.DataFrame) -> None:
    """Refuse a column most of whose values cannot be."""
    possible, impossible = table.within_bounds(values.reindex(columns=list(VALUES)))
    for name, count in impossible.items():
        if count > _MOST * values[name].count():
            beyond = values.loc[possible[name].isna(), name].dropna()
            low, high = table.BOUNDS[name]
            why = (
                f"{name}: most of the column is not from {low:g} to {high:g}, as {beyond.iloc[0]:g}"
            )
            raise text.fault(beyond.index[0], f"{why}; is it in another unit?")


def _instants(text: Text, cells: pd.Series) -> pd.Series:
    """Read times; a fault names the line and the cell's column."""

    def read(line: Any, cell: str) -> datetime:
        try:
            instant = datetime.fromisoformat(cell.strip())
            return instant.astimezone(UTC) if instant.tzinfo else instant.replace(tzinfo=UTC)
        except (ValueError, OverflowError):
            why = f"{cells.name}: {cell[:40]!r} is not a time; write it like 2026-06-13T05:00Z"
            raise text.fault(line, why) from None

    instants = [read(line, cell) for line, cell in cells.items()]
    return pd.Series(pd.DatetimeIndex(instants, dtype="datetime64[us, UTC]"), cells.index)
