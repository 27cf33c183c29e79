"""How waiting lots keep, as plain dictionaries for `--json` and as lines for the terminal.

Keys are a contract: units stand in them, what is unknown is None.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from textwrap import wrap

import numpy as np
import pandas as pd

from drywind.alerts.wording import Reader
from drywind.cli.records import Json, lot_json
from drywind.cli.told import COLUMNS
from drywind.clock import floor_hour, iso
from drywind.config import Config
from drywind.cycle import HORIZON_HOURS, make_grounds
from drywind.errors import UsageError
from drywind.judge.findings import Sign
from drywind.judge.waiting import (
    courses,
    hour_of,
    insect_hours,
    is_done,
    known_until,
    saw_by,
    temperatures,
)
from drywind.store import Store
from drywind.wood.species import find_species
from drywind.yard import LogLot, Storage

LYING = {
    Storage.OPEN: "in the open",
    Storage.SHADE: "in the shade",
    Storage.SPRINKLED: "under sprinklers",
}


def keeping(config: Config, store: Store, now: datetime) -> list[Json]:
    """Return each lot that waits at `now`, with how it keeps by the weather in the store."""
    lots = [lot for lot in store.lots(include_ended=True) if lot.waits_at(now)]
    start = floor_hour(min((lot.felled_at for lot in lots), default=now))
    end = floor_hour(now) + timedelta(hours=HORIZON_HOURS)
    tables = make_grounds(config, store, start, end, now).tables if lots else {}
    return [lot_json(lot, now) | _judged(lot, tables.get(lot.site), now) for lot in lots]


def _judged(lot: LogLot, table: pd.DataFrame | None, now: datetime) -> Json:
    if table is None:
        return {"error": f"no site named {lot.site!r} in the configuration"}
    try:
        until, by = known_until(table, now), saw_by(lot, table, now)
        so_far = courses(lot, table, now)
    except UsageError as error:
        return {"error": str(error)}
    hour, beetles = hour_of(lot, now), insect_hours(lot, table, now)
    return {
        "stains": {
            course.sign: {
                "dose_days": round(float(course.dose_days[hour]), 2),
                "bears_days": course.bears_days,
                "share": round(float(course.share[hour]), 3),
                "likely_already": course.is_done(hour),
            }
            for course in so_far
        },
        "not_counted": _not_counted(lot, now),
        "stained": is_done(lot, table, now),
        "saw_by": iso(by) if by else None,
        "forecast_until": iso(until) if until > now else None,
        "unknown_hours": int(np.isnan(temperatures(lot, table, until)).sum()),
        "ambrosia_hours": beetles,
    }


def _not_counted(lot: LogLot, now: datetime) -> Json | None:
    """Return which stain is left out, and why."""
    if lot.is_sawn_at(now) or "blue" not in find_species(lot.species).stain:
        return None
    if lot.stored is Storage.SPRINKLED:
        return {"stain": Sign.BLUE_STAIN, "reason": "sprinkled"}
    return {"stain": Sign.BLUE_STAIN, "reason": "ends coated"} if lot.end_coated else None


def keeping_lines(row: Json, config: Config, now: datetime) -> str:
    """Return how a lot keeps, as lines of at most 80 columns."""
    wood = row["species"].replace("_", " ")
    lines = [f"{row['id']:<12} {wood}, {row['site']}: felled {row['age_days']:.1f} days ago"]
    lines.append(", ".join(_as_it_lies(row, now)))
    if "error" in row:
        lines += wrap(f"unknown: {row['error']}", COLUMNS - 4)
    else:
        lines += _stain_lines(row, Reader(config.units, config.zone, now))
    return "\n    ".join(lines)


def _as_it_lies(row: Json, now: datetime) -> Iterator[str]:
    if row["volume"]:
        yield row["volume"]
    if row["thicknesses"]:
        yield f"for {', '.join(row['thicknesses'])}"
    if row["waits_as"] == "boards":
        ago = now - datetime.fromisoformat(row["sawn_at"])
        yield f"sawn {ago / timedelta(days=1):.1f} days ago, not stacked"
        return
    yield LYING[row["stored"]]
    if row["end_coated"]:
        yield "ends coated"


def _stain_lines(row: Json, reader: Reader) -> Iterator[str]:
    left_out = row["not_counted"] or {"stain": None}
    stains = {s: told for s, told in row["stains"].items() if s != left_out["stain"]}
    shares = [f"{_words(s)} {int(100 * told['share'])} %" for s, told in stains.items()]
    if shares:
        least = "at least " if row["unknown_hours"] else ""
        yield f"{least}{', '.join(shares)} of what the wood bears"
    if left_out["stain"]:
        yield f"{_words(left_out['stain'])} not counted: {left_out['reason']}"
    yield _verdict(row, reader)
    if row["unknown_hours"] and row["saw_by"]:
        yield f"{row['unknown_hours']} h of weather missing: stain may come sooner"
    if row["ambrosia_hours"] is not None:
        least = "at least " if row["unknown_hours"] else ""
        yield f"insects: {least}{row['ambrosia_hours']} warm hours so far"


def _verdict(row: Json, reader: Reader) -> str:
    parts = [f"{_words(s)} likely already" for s, t in row["stains"].items() if t["likely_already"]]
    if row["saw_by"]:
        do = "sticker its boards" if row["waits_as"] == "boards" else "saw"
        parts.append(f"{do} {reader.deadline(datetime.fromisoformat(row['saw_by']))}")
    if parts:
        return "; ".join(parts)
    if not row["stains"]:
        return "nothing is known of its stains"
    if row["forecast_until"] is None:
        return "when to saw is unknown: no forecast"
    if row["unknown_hours"]:
        return f"when to saw is unknown: {row['unknown_hours']} h of weather missing"
    until = reader.when(datetime.fromisoformat(row["forecast_until"]))
    return f"no stain expected within the forecast, to {until}"


def _words(name: str) -> str:
    return name.replace("_", " ")
