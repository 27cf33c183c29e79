"""The lines of a weather file, the numbers in them, and faults that name file and line."""

import gzip
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from drywind.errors import UsageError

MAX_BYTES = 60_000_000
"""The longest file read, counted after decompression: some thirty years of hours."""

MAX_LINES = 500_000
"""The most lines read: over fifty years of hours."""

_GZIP = b"\x1f\x8b"


class Column(NamedTuple):
    """Where a number stands in its row, and how it is written there.

    Attributes
    ----------
    at
        The cell, counted from 0, or the span of characters.
    per
        How many of the file's units make one of ours.
    missing
        The number that stands for none.
    """

    at: int | slice
    per: float = 1.0
    missing: float = np.nan


@dataclass(frozen=True)
class Text:
    """A file's name and its lines, without their ends; people count lines from 1."""

    name: str
    lines: list[str]

    def fault(self, number: int, why: str) -> UsageError:
        """Return the error that line `number` cannot be used."""
        return UsageError(f"{self.name}, line {number}: {why}")

    def cells(
        self,
        header: int,
        width: int,
        at: Mapping[str, int | slice],
        split: Callable[[str], Any] = str,
    ) -> pd.DataFrame:
        """Cut every line after the header into named cells.

        Parameters
        ----------
        header
            How many lines to pass over.
        width
            How long each row must be, in what `split` makes of a line: cells or characters.
        at
            Where each wanted cell stands in such a row.

        Returns
        -------
        pandas.DataFrame
            The cells as they are written, indexed by line number.

        Raises
        ------
        UsageError
            At a row of another length.
        """
        rows = []
        for number, line in enumerate(self.lines[header:], header + 1):
            row = split(line)
            if len(row) != width:
                what = "characters" if isinstance(row, str) else "values"
                raise self.fault(number, f"{len(row)} {what}, where each row has {width}")
            rows.append([row[place] for place in at.values()])
        lines = range(header + 1, header + 1 + len(rows))
        return pd.DataFrame(rows, index=lines, columns=list(at), dtype=str)

    def numbers(
        self,
        header: int,
        width: int,
        columns: Mapping[str, Column],
        split: Callable[[str], Any] = str,
    ) -> pd.DataFrame:
        """Read the numbers of every line after the header, in our units; NaN where none stands.

        Parameters and faults are those of `cells`, and of `to_numbers`.
        """
        cells = self.cells(header, width, {name: c.at for name, c in columns.items()}, split)
        values = self.to_numbers(cells)
        for name, column in columns.items():
            values[name] = values[name].mask(values[name] == column.missing) / column.per
        return values

    def hours(self, starts: pd.Series) -> pd.DatetimeIndex:
        """Return the starts of the lines' hours, checked, in their order.

        Raises
        ------
        UsageError
            At one that is no time, not on the whole hour, or stands a second time.
        """
        for why, wrong in (
            ("its time cannot be", starts.isna()),
            ("its time is not a whole hour", starts != starts.dt.floor("h")),
            ("its hour stands a second time", starts.duplicated()),
        ):
            if wrong.any():
                raise self.fault(wrong[wrong].index[0], why)
        return pd.DatetimeIndex(starts)

    def to_numbers(self, cells: pd.DataFrame) -> pd.DataFrame:
        """Return cells (see `cells`) as numbers, NaN where one is empty or says so.

        Raises
        ------
        UsageError
            At a cell that is anything else.
        """
        values = {name: pd.to_numeric(cells[name], errors="coerce") for name in cells}
        for name, column in values.items():
            unread = cells[name][column.isna()].str.strip()
            wrong = unread[~unread.str.lower().isin(["", "nan"])]
            if not wrong.empty:
                line, cell = wrong.index[0], wrong.iloc[0]
                raise self.fault(line, f"{name}: {cell[:30]!r} is neither a number nor empty")
        return pd.DataFrame(values, dtype=np.float64)


def read_text(path: Path) -> Text:
    """Read a text file, plain or compressed by gzip, as its first bytes tell.

    Raises
    ------
    UsageError
        If it cannot be read, is empty, longer than `MAX_BYTES` or `MAX_LINES`, cut short within its
        compressed data, or not UTF-8.
    """
    try:
        with path.open("rb") as file:
            packed = file.peek(len(_GZIP)).startswith(_GZIP)
            raw = (gzip.GzipFile(fileobj=file) if packed else file).read(MAX_BYTES + 1)
    except EOFError:
        raise UsageError(f"{path}: the compressed file is cut short") from None
    except (OSError, zlib.error) as fault:
        why = getattr(fault, "strerror", None) or fault
        raise UsageError(f"{path}: cannot be read: {why}") from None
    if len(raw) > MAX_BYTES or raw.count(b"\n") > MAX_LINES:
        most = f"{MAX_BYTES // 1_000_000} MB and {MAX_LINES} lines"
        raise UsageError(f"{path}: longer than {most}; split it by years")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        raise UsageError(
            f"{path}, line {line}: not UTF-8 text; if it is a text, save it as UTF-8"
        ) from None
    lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
    if lines == [""]:
        raise UsageError(f"{path}: is empty")
    return Text(str(path), lines)
