"""A site logger's file: comma-separated temperature and humidity, whatever its columns are called.

How it is laid out is told by its content: where the header is, what parts the cells, whether date
and time share a column, and by the words and units of the header which column is which. What that
does not tell has to be said once, by the names of the columns.
"""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from drywind.errors import UsageError
from drywind.units import MPH_MS
from drywind.weather.table import BOUNDS

LEAST_ROWS = 3
"""A header has at least so many rows of as many cells below it."""

HEADER_WITHIN = 40
"""Lines of preamble a file may have."""

WORDS: Mapping[str, str] = {
    "time": r"\b(date|time|timestamp|datum|zeit)\b|date.?time",
    "temp": r"\btemp|^t$|°|\bdeg(rees)?\b|celsius|fahrenheit",
    "rh": r"\brh\b|humid|%",
    "wind": r"\bwind",
}
SHUNNED = r"dew|wet.?bulb|heat.?index|alarm|battery|chill|gust|direction"
MOST_IMPOSSIBLE = 0.2
"""The share of a column that may be impossible; more is a wrong column or unit (assumption)."""


@dataclass(frozen=True)
class Columns:
    """Which column is which, by name; `date` is empty where the time holds both."""

    time: str
    temp: str
    rh: str
    date: str = ""
    wind: str = ""
    temp_unit: str = ""


@dataclass(frozen=True)
class LoggerFile:
    """What was read: hourly means, indexed by `time_utc`, and how the columns were taken."""

    hours: pd.DataFrame
    columns: Columns
    header: str


def read_logger_file(path: Path, zone: ZoneInfo, told: Mapping[str, str]) -> LoggerFile:
    """Read a file whose clock is that of `zone` where its times name no offset.

    Parameters
    ----------
    told
        Fields of `Columns` that a person named.

    Raises
    ------
    UsageError
        If it has no table, or which column is which cannot be told.
    """
    lines = _lines(path)
    at, separator = _header(path, lines)
    frame = pd.read_csv(
        io.StringIO("\n".join(lines[at:])),
        sep=separator,
        dtype=str,
        index_col=False,
        skipinitialspace=True,
        on_bad_lines="skip",
    )
    frame.columns = [str(name).strip().strip('"') for name in frame.columns]
    columns = _columns(path, frame, told)
    decimal_comma = separator != ","
    values = {"temp_c": _temperature(path, frame, columns, decimal_comma)}
    values["rh"] = _numbers(frame[columns.rh], decimal_comma) / 100.0
    if columns.wind:
        factor = MPH_MS if re.search(r"mph", columns.wind, re.IGNORECASE) else 1.0
        values["wind_ms"] = _numbers(frame[columns.wind], decimal_comma) * factor
    table = pd.DataFrame(values)
    table.index = pd.DatetimeIndex(_times(path, frame, columns, zone))
    return LoggerFile(_hourly(path, table), columns, lines[at])


def _lines(path: Path) -> list[str]:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise UsageError(f"{path} cannot be read: {error.strerror}") from error
    encoding = "utf-16" if raw[:2] in {b"\xff\xfe", b"\xfe\xff"} else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return [line for line in text.splitlines() if line.strip()]


def _header(path: Path, lines: Sequence[str]) -> tuple[int, str]:
    """Return the line of the header and what parts its cells: the first with rows like it below."""
    for at in range(min(HEADER_WITHIN, len(lines) - LEAST_ROWS)):
        for separator in (",", ";", "\t"):
            rows = list(csv.reader(lines[at : at + 1 + LEAST_ROWS], delimiter=separator))
            counts = {len(row) for row in rows}
            wordy = not any(re.fullmatch(r"[-+0-9.,:/ ]+", cell) for cell in rows[0] if cell)
            if len(counts) == 1 and len(rows[0]) >= LEAST_ROWS and wordy:
                return at, separator
    raise UsageError(f"{path} has no header with rows of time, temperature and humidity below it")


def _columns(path: Path, frame: pd.DataFrame, told: Mapping[str, str]) -> Columns:
    """Return which column is which, as told or by the words of their names."""
    names = [name for name in frame.columns if not re.search(SHUNNED, name, re.IGNORECASE)]
    for name in told.values():
        if name and name not in frame.columns and name not in {"C", "F"}:
            raise UsageError(f"{path} has no column {name!r}; it has: {', '.join(frame.columns)}")
    found = {
        what: [name for name in names if re.search(pattern, name, re.IGNORECASE)]
        for what, pattern in WORDS.items()
    }
    found["temp"] = [name for name in found["temp"] if name not in found["rh"]]
    found["rh"] = [name for name in found["rh"] if name not in found["time"]]
    chosen: dict[str, str] = {}
    times = found["time"]
    if len(times) > 1 and "time" not in told:  # date and time side by side
        chosen["date"], chosen["time"] = times[:2]
    for what in ("time", "temp", "rh"):
        name = told.get(what) or chosen.get(what) or next(iter(found[what]), "")
        if not name:
            raise UsageError(
                f"{path}: which column holds the {what}? Say it with --{what} NAME; it has:"
                f" {', '.join(frame.columns)}"
            )
        chosen[what] = name
    chosen["wind"] = told.get("wind") or next(iter(found["wind"]), "")
    return Columns(**chosen, temp_unit=told.get("temp_unit") or _unit(chosen["temp"]))


def _unit(name: str) -> str:
    found = re.search(
        r"(?:°|º|deg\.? ?|[(\[_, ])\s*([CF])\b|(celsius|fahrenheit)", name, re.IGNORECASE
    )
    if found is None:
        return ""
    return (found[1] or found[2][0]).upper()


def _temperature(
    path: Path, frame: pd.DataFrame, columns: Columns, decimal_comma: bool
) -> pd.Series:
    values = _numbers(frame[columns.temp], decimal_comma)
    if not columns.temp_unit:
        raise UsageError(f"{path}: is {columns.temp!r} in C or F? Say it with --temp-unit")
    return values if columns.temp_unit == "C" else (values - 32.0) / 1.8


def _numbers(cells: pd.Series, decimal_comma: bool) -> pd.Series:
    text = cells.str.replace(r"[^-+0-9.,eE]", "", regex=True)
    if decimal_comma:
        text = text.str.replace(",", ".")
    return pd.to_numeric(text, errors="coerce")


def _times(path: Path, frame: pd.DataFrame, columns: Columns, zone: ZoneInfo) -> pd.Series:
    """Return instants in UTC; of two ways to read a date the one in which time runs on is right."""
    text = frame[columns.time].str.strip()
    if columns.date:
        text = frame[columns.date].str.strip() + " " + text
    best = None
    for day_first in (False, True):
        told = pd.to_datetime(text, errors="coerce", dayfirst=day_first, format="mixed", utc=False)
        if told.dtype == object:  # offsets that change
            told = pd.to_datetime(
                text, errors="coerce", dayfirst=day_first, format="mixed", utc=True
            )
        backward = (told.diff().dt.total_seconds() < 0).sum() + told.isna().sum()
        jumps = (told.diff().dt.total_seconds().abs() > 20 * 86400).sum()
        if best is None or (backward + jumps) < best[0]:
            best = (backward + jumps, told)
    assert best is not None
    told = best[1]
    if told.isna().mean() > MOST_IMPOSSIBLE:
        raise UsageError(f"{path}: {columns.time!r} does not hold times that can be read")
    if told.dt.tz is None:
        told = told.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    return told.dt.tz_convert("UTC")


def _hourly(path: Path, table: pd.DataFrame) -> pd.DataFrame:
    """Return means by the hour, of what can be; refuse a column that mostly cannot."""
    for name in table.columns:
        low, high = BOUNDS[name]
        slack = 0.05 if name == "rh" else 0.0
        wrong = (table[name] < low) | (table[name] > high + slack)
        if wrong.mean() > MOST_IMPOSSIBLE:
            raise UsageError(
                f"{path}: most of {name} is not from {low:g} to {high:g}; is it another unit?"
            )
        table[name] = table[name].mask(wrong).clip(upper=high)
    table = table[table.index.notna()]
    hours = table.groupby(pd.DatetimeIndex(table.index).floor("h")).mean()
    hours.index.name = "time_utc"
    if hours[["temp_c", "rh"]].dropna().empty:
        raise UsageError(f"{path} holds no hour with temperature and humidity")
    return hours
