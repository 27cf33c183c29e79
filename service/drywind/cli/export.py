"""`drywind export`: everything people entered and everything decided, as CSV or JSON."""

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import IO, Any

import click

from drywind.cli.common import config_option, load_config, open_to_read
from drywind.cli.entry import COLUMNS, FORMULA
from drywind.clock import iso
from drywind.db.database import plain_errors
from drywind.db.schema import instant, instant_or_none, read_hour
from drywind.errors import UsageError
from drywind.files import whole_file
from drywind.samples import Entry
from drywind.store import Store
from drywind.weather.hour import WeatherHour
from drywind.yard import Event, EventKind, LogLot, Stack

Cells = tuple[str | float | None, ...]
Table = tuple[tuple[str, ...], Callable[[Store], Iterator[Cells]]]

_MEASURED = {EventKind.WEIGHED, EventKind.METERED}


@click.command()
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--format", "how", type=click.Choice(["csv", "json"]), default="csv")
@click.option("--redact", is_flag=True, help="Without the names of contacts.")
@config_option
def export(target: Path, how: str, redact: bool, config_path: str | None) -> None:
    """Write all that was entered, stored and decided: CSV files into a new folder, or a JSON file.

    stacks.csv is what `drywind stack import` takes. In CSV a text that a spreadsheet would take
    for a formula has a ' in front.
    """
    config = load_config(config_path)
    if target.exists():
        raise UsageError(f"{target} is there already; drywind does not write over it")
    with open_to_read(config) as store:
        names = sorted({*config.contacts, *store.told()}) if redact else []
        write = _write_csv if how == "csv" else _write_json
        with plain_errors(target):
            counts = write(target, store, _redactor(names))
    told = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in counts.items())
    click.echo(f"Wrote {target}: {told}.")


def _redactor(names: list[str]) -> Callable[[Cells], Cells]:
    """Return what puts "contact 1" and so on in place of these names, wherever they stand."""
    if not names:
        return lambda cells: cells
    aliases = {name: f"contact {number}" for number, name in enumerate(names, start=1)}
    longest_first = sorted(map(re.escape, names), key=len, reverse=True)
    pattern = re.compile("|".join(longest_first))

    def hide(cells: Cells) -> Cells:
        return tuple(
            pattern.sub(lambda found: aliases[found[0]], c) if isinstance(c, str) else c
            for c in cells
        )

    return hide


def _write_csv(folder: Path, store: Store, hide: Callable[[Cells], Cells]) -> dict[str, int]:
    folder.mkdir(mode=0o700)
    counts = {}
    for name, (columns, rows) in TABLES.items():
        with whole_file(folder / f"{name}.csv") as file:
            text = io.TextIOWrapper(file, encoding="utf-8", newline="", write_through=True)
            writer = csv.writer(text)
            writer.writerow(columns)
            counts[name] = _count(
                writer.writerow([safe_cell(cell) for cell in hide(cells)]) for cells in rows(store)
            )
            text.detach()
    return counts


def _write_json(target: Path, store: Store, hide: Callable[[Cells], Cells]) -> dict[str, int]:
    """Write one object with a list for each table, row by row: a year's weather is long."""
    counts = {}
    with whole_file(target) as file:
        for number, (name, (columns, rows)) in enumerate(TABLES.items()):
            file.write(f'{"," if number else "{"}\n"{name}": ['.encode())
            counts[name] = _json_rows(file, columns, map(hide, rows(store)))
            file.write(b"]")
        file.write(b"\n}\n")
    return counts


def _json_rows(file: IO[bytes], columns: tuple[str, ...], rows: Iterable[Cells]) -> int:
    count = 0
    for count, cells in enumerate(rows, start=1):
        row: dict[str, Any] = dict(zip(columns, cells, strict=True))
        comma = "," if count > 1 else ""
        file.write(f"{comma}\n  {json.dumps(row, ensure_ascii=False, allow_nan=False)}".encode())
    return count


def _count(done: Iterable[object]) -> int:
    return sum(1 for _ in done)


def safe_cell(cell: str | float | None) -> str | float | None:
    """Return a cell no spreadsheet takes for a formula; a number is none."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(FORMULA) else cell


def _iso(at: datetime | None) -> str | None:
    return None if at is None else iso(at)


def _stacks(store: Store) -> Iterator[Cells]:
    return map(stack_cells, store.stacks(include_ended=True))


def stack_cells(stack: Stack) -> Cells:
    """Return a stack in the order of `COLUMNS`."""
    return (
        stack.id,
        stack.species,
        stack.thickness.label,
        stack.setup.site,
        iso(stack.stacked_at),
        None if stack.green_mc_pct is None else f"{stack.green_mc_pct:g}",
        f"{1000 * stack.setup.sticker_m:.6g} mm",
        f"{stack.setup.pack_width_m:.6g} m",
        " ".join(sorted(stack.setup.measures)),
        " ".join(sorted(stack.traits)),
        "; ".join(map(_event_words, stack.events)),
    )


def _event_words(event: Event) -> str:
    detail = event.detail
    if event.kind is EventKind.RESTICKERED:
        detail = f"{1000 * float(detail):.6g} mm"
    return f"{iso(event.time)} {event.kind} {detail}".strip()


def _events(store: Store) -> Iterator[Cells]:
    for stack in store.stacks(include_ended=True):
        yield from map(_event_cells, stack.events)


def _event_cells(event: Event) -> Cells:
    mc = Entry.read(event.detail).mc_pct if event.kind in _MEASURED else None
    size = 1000 * float(event.detail) if event.kind is EventKind.RESTICKERED else None
    what = event.detail if mc is size is None else ""
    return (event.stack, iso(event.time), event.kind, what, mc, size and round(size, 2))


def _lots(store: Store) -> Iterator[Cells]:
    return map(_lot_cells, store.lots(include_ended=True))


def _lot_cells(lot: LogLot) -> Cells:
    return (
        lot.id,
        lot.species,
        iso(lot.felled_at),
        lot.site,
        lot.volume,
        "yes" if lot.end_coated else "no",
        lot.stored,
        _iso(lot.sawn_at),
        _iso(lot.ended_at),
    )


def _weather(store: Store) -> Iterator[Cells]:
    for row in store.every("weather_hour"):
        time_utc, *values, source, issued_at = read_hour(row)
        known = (None if value != value else value for value in values)  # noqa: PLR0124 - nan
        yield (*map(float, row["place"].split(",")), iso(time_utc), *known, source, iso(issued_at))


def _decisions(store: Store) -> Iterator[Cells]:
    times = ("made_at", "onset", "useful_until")
    plain = ("id", "contact", "stack", "hazard", "reason", "severity")
    said = ("subject", "text", "state", "attempts")
    for row in store.every("decision"):
        written = [_iso(instant_or_none(row[name])) for name in times]
        yield (*(row[name] for name in plain), *written, *(row[name] for name in said))


def _outcomes(store: Store) -> Iterator[Cells]:
    for row in store.every("outcome"):
        yield (row["outbox"], iso(instant(row["at"])), row["outcome"], row["detail"])


_LOTS = "id species felled_utc site volume end_coated stored sawn_utc ended_utc"
_DECISIONS = (
    "id contact stack hazard reason severity_limits made_utc onset_utc useful_until_utc"
    " subject text state attempts"
)
_WEATHER = ("lat", "lon", *WeatherHour._fields[:-1], "issued_utc")

TABLES: dict[str, Table] = {
    "stacks": (COLUMNS, _stacks),
    "events": (("stack", "time_utc", "kind", "what", "mc_pct", "sticker_mm"), _events),
    "lots": (tuple(_LOTS.split()), _lots),
    "weather_hours": (_WEATHER, _weather),
    "decisions": (tuple(_DECISIONS.split()), _decisions),
    "outcomes": (("decision_id", "at_utc", "outcome", "detail"), _outcomes),
}
"""What is written, by name: the columns, a contract, and the rows in their order. A time is in UTC,
a severity in times the limit."""
