"""The database file: its tables, how it is opened, its errors in words, its rows as records."""

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from datetime import UTC, datetime
from errno import EDQUOT, EIO, ENOSPC, EROFS
from math import nan
from pathlib import Path

from drywind.alerts.records import Decision, Message, Reason
from drywind.errors import StoreError
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.weather.validators import Remembered, Validators
from drywind.yard import Event, EventKind, Measure, Setup, Stack, Trait

Value = str | int | float | None

BUSY_TIMEOUT_S = 10.0
"""How long a writer waits for another one (the command line beside the daemon)."""

# Times are unix seconds. Unknown weather is NULL. Decisions, events and outcomes are only added.
# outbox.next_try_at: 0 is at once, NULL is never again; so it alone says whether a row is open.
# outbox.in_doubt: the message may have arrived; maybe_repeat carries that over the next attempt.
_FIRST_TABLES = """
CREATE TABLE weather_hour (
  place TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  wind_dir_deg REAL,
  gust_ms REAL,
  ghi_wm2 REAL,
  cloud REAL,
  rain_mm REAL,
  source TEXT NOT NULL,
  issued_at INTEGER NOT NULL,
  PRIMARY KEY (place, time_utc)
) STRICT, WITHOUT ROWID;

CREATE TABLE cell (
  place TEXT PRIMARY KEY,
  url TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE stack (
  id TEXT PRIMARY KEY,
  species TEXT NOT NULL,
  thickness TEXT NOT NULL,
  stacked_at INTEGER NOT NULL,
  site TEXT NOT NULL,
  sticker_m REAL NOT NULL,
  pack_width_m REAL NOT NULL,
  measures TEXT NOT NULL,
  green_mc_pct REAL
) STRICT, WITHOUT ROWID;

CREATE TABLE event (
  id INTEGER PRIMARY KEY,
  stack TEXT NOT NULL REFERENCES stack (id),
  time INTEGER NOT NULL,
  kind TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;

CREATE TABLE checkpoint (
  stack TEXT PRIMARY KEY REFERENCES stack (id),
  at INTEGER NOT NULL,
  fingerprint TEXT NOT NULL,
  state BLOB NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE decision (
  id INTEGER PRIMARY KEY,
  key TEXT NOT NULL UNIQUE,
  contact TEXT NOT NULL,
  stack TEXT NOT NULL,
  hazard TEXT NOT NULL,
  reason TEXT NOT NULL,
  made_at INTEGER NOT NULL,
  severity REAL NOT NULL,
  onset INTEGER,
  useful_until INTEGER NOT NULL
) STRICT;
CREATE INDEX decision_subject ON decision (contact, stack, hazard);

CREATE TABLE outbox (
  id INTEGER PRIMARY KEY REFERENCES decision (id) ON DELETE CASCADE,
  subject TEXT NOT NULL,
  text TEXT NOT NULL,
  story TEXT NOT NULL,
  state TEXT NOT NULL DEFAULT 'pending',
  attempts INTEGER NOT NULL DEFAULT 0,
  tried_at INTEGER,
  next_try_at INTEGER DEFAULT 0,
  maybe_repeat INTEGER NOT NULL DEFAULT 0,
  in_doubt INTEGER NOT NULL AS (maybe_repeat OR state IN ('sending', 'unknown'))
) STRICT;
CREATE INDEX outbox_open ON outbox (next_try_at) WHERE next_try_at IS NOT NULL;

CREATE TABLE outcome (
  id INTEGER PRIMARY KEY,
  outbox INTEGER NOT NULL REFERENCES outbox (id) ON DELETE CASCADE,
  at INTEGER NOT NULL,
  outcome TEXT NOT NULL,
  detail TEXT NOT NULL
) STRICT;
CREATE INDEX outcome_outbox ON outcome (outbox);
"""

# An hour is kept as each service last told it. `service` remembers how each is to be asked, and
# `foretold` some hours of each issue, to hold forecasts against what came; `ensemble` is the newest
# one of a place.
_MANY_SERVICES = """
CREATE TABLE told_hour (
  place TEXT NOT NULL,
  source TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  wind_dir_deg REAL,
  gust_ms REAL,
  ghi_wm2 REAL,
  cloud REAL,
  rain_mm REAL,
  issued_at INTEGER NOT NULL,
  PRIMARY KEY (place, source, time_utc)
) STRICT, WITHOUT ROWID;
INSERT INTO told_hour SELECT place, source, time_utc, temp_c, rh, wind_ms, wind_dir_deg, gust_ms,
  ghi_wm2, cloud, rain_mm, issued_at FROM weather_hour;
DROP TABLE weather_hour;
ALTER TABLE told_hour RENAME TO weather_hour;

CREATE TABLE service (
  place TEXT NOT NULL,
  name TEXT NOT NULL,
  cell TEXT,
  etag TEXT,
  last_modified TEXT,
  expires_at INTEGER,
  first_asked_at INTEGER,
  asked_at INTEGER,
  answered_at INTEGER,
  refused_until INTEGER,
  error TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (place, name)
) STRICT, WITHOUT ROWID;
INSERT INTO service (place, name, cell) SELECT place, 'nws', url FROM cell;
DROP TABLE cell;

CREATE TABLE foretold (
  place TEXT NOT NULL,
  source TEXT NOT NULL,
  time_utc INTEGER NOT NULL,
  issued_at INTEGER NOT NULL,
  temp_c REAL,
  rh REAL,
  wind_ms REAL,
  cloud REAL,
  PRIMARY KEY (place, source, time_utc, issued_at)
) STRICT, WITHOUT ROWID;

CREATE TABLE ensemble (
  place TEXT PRIMARY KEY,
  issued_at INTEGER NOT NULL,
  members BLOB NOT NULL
) STRICT, WITHOUT ROWID
"""

# A lot's first columns are as it was registered; sawn_at and ended_at are set once.
_LOTS = """
CREATE TABLE lot (
  id TEXT PRIMARY KEY,
  species TEXT NOT NULL,
  felled_at INTEGER NOT NULL,
  site TEXT NOT NULL,
  volume TEXT NOT NULL,
  end_coated INTEGER NOT NULL,
  stored TEXT NOT NULL,
  sawn_at INTEGER,
  ended_at INTEGER
) STRICT, WITHOUT ROWID
"""

_HTML = "ALTER TABLE outbox ADD COLUMN html TEXT NOT NULL DEFAULT ''"

# A warning that never reached its contact while it was of use.
# `job` holds when each of the watch's own jobs was last done to its end.
_UNATTENDED = """
ALTER TABLE decision ADD COLUMN unheard INTEGER NOT NULL DEFAULT 0;
CREATE TABLE job (
  name TEXT PRIMARY KEY,
  done_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID
"""

_UPGRADES = (
    _FIRST_TABLES,
    "ALTER TABLE stack ADD COLUMN traits TEXT NOT NULL DEFAULT ''",
    _MANY_SERVICES,
    _LOTS,
    _HTML,
    _UNATTENDED,
)
"""What leads from each version of the file to the next, beginning with an empty one. Only ever
added to: each file has been through all of them. No statement holds a semicolon of its own."""

VERSION = len(_UPGRADES)
"""Version of the tables as they are now, kept in the file as ``PRAGMA user_version``."""

_UNWRITABLE = {
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
}
"""What a disk that is full, failing or to be read only comes to."""

_MEANINGS = {
    sqlite3.SQLITE_BUSY: f"another program has been writing to it for {BUSY_TIMEOUT_S:.0f} s",
    sqlite3.SQLITE_CANTOPEN: "the file cannot be opened",
    sqlite3.SQLITE_CORRUPT: "the file is damaged; restore a backup",
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_IOERR: "the disk cannot be read or written",
    sqlite3.SQLITE_NOTADB: "the file is not a drywind store",
    sqlite3.SQLITE_READONLY: "the file cannot be written; look at its owner, mode and mount",
}


def connect(path: Path) -> sqlite3.Connection:
    """Open the database at `path`; where there is none, create it for its owner's eyes only.

    One of an older version is brought up to date, wholly or not at all, and loses nothing. Every
    commit is on the disk before it returns (write-ahead log, ``synchronous=FULL``).

    Raises
    ------
    StoreError
        If the file cannot be opened or created, is not a store, or is of a newer version.
    """
    with plain_errors(path), ExitStack() as unless_opened:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.touch(mode=0o600)
        db = unless_opened.enter_context(
            closing(sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level="IMMEDIATE"))
        )
        db.row_factory = sqlite3.Row
        (version,) = db.execute("PRAGMA user_version").fetchone()
        if version > VERSION:
            raise StoreError(
                f"{path}: written by a newer drywind (store version {version}, this one knows "
                f"up to {VERSION}); upgrade drywind or restore an older backup"
            )
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA foreign_keys = ON")
        if version < VERSION:
            _upgrade(db)
        unless_opened.pop_all()
        return db


def _upgrade(db: sqlite3.Connection) -> None:
    """Bring the tables to `VERSION`, in one transaction; another process may have been faster."""
    with db:
        db.execute("BEGIN IMMEDIATE")
        (version,) = db.execute("PRAGMA user_version").fetchone()
        for statement in ";".join(_UPGRADES[version:]).split(";"):
            db.execute(statement)
        db.execute(f"PRAGMA user_version = {max(version, VERSION)}")


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system complain about into a `StoreError` on `path`."""
    try:
        yield
    except sqlite3.Error as error:
        # Errors of the sqlite3 module itself carry no code; the low byte is the primary code.
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        raise StoreError(
            f"{path}: {_MEANINGS.get(code, error)}", unwritable=code in _UNWRITABLE
        ) from error
    except OSError as error:
        raise StoreError(
            f"{path}: {error.strerror}", unwritable=error.errno in {ENOSPC, EROFS, EDQUOT, EIO}
        ) from error


def seconds(instant: datetime | None) -> int | None:
    """Return an instant as the whole unix seconds it is stored as; NULL for none."""
    return None if instant is None else int(instant.timestamp())


def instant(stored: int) -> datetime:
    """Return the instant stored as unix seconds, in UTC."""
    return datetime.fromtimestamp(stored, UTC)


def instant_or_none(stored: int | None) -> datetime | None:
    """Return the instant stored, or none for NULL."""
    return None if stored is None else instant(stored)


def hour_values(hour: WeatherHour) -> tuple[Value, ...]:
    """Return an hour of weather in the order of its columns; SQLite stores nan as NULL."""
    time_utc, *quantities, source, issued_at = hour
    return (source, seconds(time_utc), *quantities, seconds(issued_at))


def read_hour(row: sqlite3.Row) -> WeatherHour:
    """Return the hour of weather in a row of ``weather_hour``."""
    _, source, time_utc, *quantities, issued_at = row
    known = (nan if quantity is None else quantity for quantity in quantities)
    return WeatherHour._make((instant(time_utc), *known, source, instant(issued_at)))


def remembered_values(known: Remembered) -> tuple[Value, ...]:
    """Return what is remembered of a service in the order of its columns."""
    return (
        known.cell,
        known.validators.etag,
        known.validators.last_modified,
        seconds(known.validators.expires_at),
        seconds(known.first_asked_at),
        seconds(known.asked_at),
        seconds(known.answered_at),
        seconds(known.refused_until),
        known.error,
    )


def read_remembered(row: sqlite3.Row) -> Remembered:
    """Return what is remembered in a row of ``service``."""
    return Remembered(
        Validators(row["etag"], row["last_modified"], instant_or_none(row["expires_at"])),
        row["cell"],
        instant_or_none(row["first_asked_at"]),
        instant_or_none(row["asked_at"]),
        instant_or_none(row["answered_at"]),
        instant_or_none(row["refused_until"]),
        row["error"],
    )


def stack_values(stack: Stack) -> tuple[Value, ...]:
    """Return a stack, without its events, in the order of its columns."""
    return (
        stack.id,
        stack.species,
        stack.thickness.label,
        seconds(stack.stacked_at),
        stack.setup.site,
        stack.setup.sticker_m,
        stack.setup.pack_width_m,
        " ".join(sorted(stack.setup.measures)),
        stack.green_mc_pct,
        " ".join(sorted(stack.traits)),
    )


def read_stack(row: sqlite3.Row, events: tuple[Event, ...]) -> Stack:
    """Return the stack in a row of ``stack``, with its events."""
    measures = frozenset(map(Measure, row["measures"].split()))
    return Stack(
        id=row["id"],
        species=row["species"],
        thickness=Thickness.parse(row["thickness"]),
        stacked_at=instant(row["stacked_at"]),
        setup=Setup(row["site"], row["sticker_m"], row["pack_width_m"], measures),
        green_mc_pct=row["green_mc_pct"],
        traits=frozenset(map(Trait, row["traits"].split())),
        events=events,
    )


def event_values(event: Event) -> tuple[Value, ...]:
    """Return an event in the order of its columns."""
    return (event.stack, seconds(event.time), event.kind, event.detail)


def read_event(row: sqlite3.Row) -> Event:
    """Return the event in a row of ``event``."""
    return Event(row["stack"], instant(row["time"]), EventKind(row["kind"]), row["detail"])


def decision_values(decision: Decision) -> tuple[Value, ...]:
    """Return a decision in the order of its columns."""
    return (
        decision.contact,
        decision.stack,
        decision.hazard,
        decision.reason,
        seconds(decision.made_at),
        decision.severity,
        seconds(decision.onset),
        seconds(decision.useful_until),
    )


def read_decision(row: sqlite3.Row) -> Decision:
    """Return the decision in a row of ``decision``."""
    return Decision(
        contact=row["contact"],
        stack=row["stack"],
        hazard=row["hazard"],
        reason=Reason(row["reason"]),
        made_at=instant(row["made_at"]),
        severity=row["severity"],
        onset=instant_or_none(row["onset"]),
        useful_until=instant(row["useful_until"]),
    )


def message_values(message: Message) -> tuple[Value, ...]:
    """Return a message in the order of its columns in ``outbox``."""
    return (message.subject, message.text, message.story, message.html)


def read_message(row: sqlite3.Row) -> Message:
    """Return the message in a row of ``outbox``."""
    return Message(row["subject"], row["text"], row["story"], row["html"])
