"""What people write about stacks and lots, read and checked; a fault is a plain `UsageError`."""

import csv
import io
import re
from datetime import datetime, timedelta
from pathlib import Path

from drywind.clock import parse_instant
from drywind.config import Config
from drywind.errors import UsageError
from drywind.outcomes import Result
from drywind.samples import METER_LIMIT_PCT, Entry
from drywind.units import Thickness, parse_length_m
from drywind.wood.species import find_species
from drywind.yard import Event, EventKind, LogLot, Measure, Setup, Stack, Storage, Trait, check_id

NEEDED = ("id", "species", "thickness", "site")
COLUMNS = (
    *NEEDED,
    *("stacked", "green_mc", "sticker", "pack_width", "measures", "traits", "events"),
)
EXTRA = "more cells"
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so is a formula to a spreadsheet, unless a ' stands in front."""
SIZES_M = {"sticker": (0.006, 0.08), "pack_width": (0.3, 4.0)}
FIRST_YEAR, LONGEST_PLAN = 2000, timedelta(days=366)
MC_RANGE_PCT = (4.0, 250.0)
LONGEST_VOLUME = 24


def make_stack(config: Config, given: dict[str, str], now: datetime) -> Stack:
    """Make a stack of what a person wrote, by the names of `COLUMNS`; empty is not given."""
    stacked = read_when(config, given["stacked"], now) if given.get("stacked") else now
    setup = Setup(
        site=config.site(given["site"]).name,
        measures=frozenset(map(_measure, _words(given.get("measures", "")))),
        **{f"{name}_m": _size(given[name], *SIZES_M[name]) for name in SIZES_M if given.get(name)},
    )
    return Stack(
        id=check_id(given["id"]),
        species=find_species(given["species"]).key,
        thickness=Thickness.parse(given["thickness"]),
        stacked_at=stacked,
        setup=setup,
        green_mc_pct=read_mc(given["green_mc"]) if given.get("green_mc") else None,
        traits=_traits(given.get("traits", "")),
        events=_events(config, check_id(given["id"]), given.get("events", ""), now),
    )


def make_lot(config: Config, given: dict[str, str], now: datetime) -> LogLot:
    """Make a lot that waits of what a person wrote: its fields by name."""
    volume = given["volume"].strip()
    if len(volume) > LONGEST_VOLUME or not volume.isprintable():
        raise UsageError(
            f'--volume {volume!r}: use up to {LONGEST_VOLUME} letters, like "1,200 bf"'
        )
    return LogLot(
        id=check_id(given["id"]),
        species=find_species(given["species"]).key,
        felled_at=read_past(config, given["felled"], now),
        site=config.site(given["site"]).name,
        volume=volume,
        end_coated=bool(given["end_coated"]),
        stored=Storage(given["stored"]),
        thicknesses=read_thicknesses(given["thickness"]),
    )


def read_thicknesses(text: str) -> tuple[Thickness, ...]:
    """Read what is to be sawn, like ``4/4,8/4``; each once."""
    return tuple(dict.fromkeys(Thickness.parse(word) for word in _words(text)))


def read_stacks(config: Config, file: Path, now: datetime) -> list[Stack]:
    """Read stacks from a CSV file with the columns of `COLUMNS`.

    Raises
    ------
    UsageError
        With one line for each row that has a fault.
    """
    made, faults = [], []
    try:
        text = file.read_text(encoding="utf-8-sig")
        table = csv.DictReader(io.StringIO(text, newline=""), restkey=EXTRA, restval="")
        rows = list(table)
    except (OSError, UnicodeDecodeError, csv.Error):
        raise UsageError(f"{file} cannot be read; allowed: a CSV file in UTF-8") from None
    named = set(table.fieldnames or [])
    unknown, missing = named - set(COLUMNS), set(NEEDED) - named
    if unknown or missing:
        raise UsageError(
            f"{file}: columns unknown: {', '.join(sorted(unknown)) or 'none'}; missing: "
            f"{', '.join(sorted(missing)) or 'none'}; allowed: {', '.join(COLUMNS)}"
        )
    for number, row in enumerate(rows, start=2):
        if EXTRA in row:
            faults.append(f"{file}, line {number}: more cells than columns")
            continue
        try:
            made.append(make_stack(config, {k: _unquoted(v) for k, v in row.items()}, now))
        except UsageError as error:
            faults.append(f"{file}, line {number}: {error}")
    if faults:
        raise UsageError("\n".join(faults))
    return made


def _unquoted(cell: str) -> str:
    """Return a cell without the ' that keeps it from being a formula."""
    cell = cell.strip()
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA) else cell


def _events(config: Config, stack_id: str, text: str, now: datetime) -> tuple[Event, ...]:
    """Read what happened to a stack: "2026-06-13T17:00 covered burlap; 2026-06-14 ended"."""
    events = []
    for told in filter(None, (part.strip() for part in text.split(";"))):
        at, _, rest = told.partition(" ")
        kind, _, what = rest.strip().partition(" ")
        if kind not in set(EventKind):
            raise UsageError(
                f"{kind!r} does not happen to a stack; allowed: {', '.join(EventKind)}"
            )
        time, of = read_when(config, at, now), EventKind(kind)
        # A file may bring what an older drywind took: a reading of a meter in wet wood.
        given = EventKind.WEIGHED if of is EventKind.METERED else of
        what = what.strip()
        detail = _stored(of, what) if what.startswith("{") else read_detail(config, given, what)
        events.append(Event(stack_id, time, of, detail))
    return tuple(events)


def _stored(kind: EventKind, what: str) -> str:
    """Return what an exported event holds as it is stored, if that can be read."""
    read = Result.read if kind is EventKind.ENDED else Entry.read
    try:
        read(what)
    except (ValueError, TypeError, KeyError):
        raise UsageError(f"{kind} {what}: cannot be read; leave it as it was exported") from None
    return what


def read_detail(config: Config, kind: EventKind, what: str) -> str:
    """Read what an event of a kind needs: a cover, a site, a size, a moisture content."""
    match kind:
        case EventKind.COVERED | EventKind.UNCOVERED:
            return _measure(what)
        case EventKind.MOVED:
            return config.site(what).name
        case EventKind.RESTICKERED:
            return repr(_size(what, *SIZES_M["sticker"]))
        case EventKind.WEIGHED:
            return f"{read_mc(what):.1f}"
        case EventKind.METERED:
            found = read_mc(what)
            if found > METER_LIMIT_PCT:
                raise UsageError(
                    f"{what}: above {METER_LIMIT_PCT:.0f} % MC meters err widely; weigh a sample"
                    " board and enter it as weighed"
                )
            return f"{found:.1f}"
        case _ if what:
            raise UsageError(f"{kind} takes nothing more, not {what!r}")
        case _:
            return ""


def read_when(config: Config, text: str, now: datetime) -> datetime:
    """Read a time in the years stacks live in."""
    instant = parse_instant(text, config.zone)
    if instant.year < FIRST_YEAR or instant > now + LONGEST_PLAN:
        raise UsageError(
            f"{text!r} is too long ago or too far ahead; write it like 2026-06-13T07:30"
        )
    return instant


def read_past(config: Config, text: str, now: datetime) -> datetime:
    """Read a time in those years that is not ahead."""
    instant = read_when(config, text, now)
    if instant > now:
        raise UsageError(f"{text!r} lies ahead; tell it once it has happened")
    return instant


def _size(text: str, least_m: float, most_m: float) -> float:
    size_m = parse_length_m(text)
    if not least_m <= size_m <= most_m:
        raise UsageError(
            f"{text!r} cannot be: allowed are {1000 * least_m:.0f} to {1000 * most_m:.0f} mm"
        )
    return size_m


def _words(text: str) -> list[str]:
    return re.findall(r"[^\s;,]+", text)


def _traits(text: str) -> frozenset[Trait]:
    traits = frozenset(map(_trait, _words(text)))
    if {Trait.HEART, Trait.SAP} <= traits:
        raise UsageError(
            "heart is for boards all of heartwood, sap for boards all of sapwood: only one can be"
        )
    return traits


def _trait(text: str) -> Trait:
    try:
        return Trait(_key(text))
    except ValueError:
        raise UsageError(
            f"{text!r} cannot be told of lumber; allowed: {', '.join(Trait)}"
        ) from None


def _key(word: str) -> str:
    return word.strip().lower().replace("-", "_")


def _measure(text: str) -> Measure:
    try:
        return Measure(_key(text))
    except ValueError:
        raise UsageError(f"{text!r} is not a cover; allowed: {', '.join(Measure)}") from None


def read_mc(text: str) -> float:
    """Read a moisture content in percent."""
    try:
        value = float(text.rstrip(" %"))
    except ValueError:
        raise UsageError(f"{text!r} is not a moisture content in percent, like 78") from None
    if not MC_RANGE_PCT[0] <= value <= MC_RANGE_PCT[1]:
        raise UsageError(f"{text}: a moisture content lies between 4 and 250 percent")
    return value
