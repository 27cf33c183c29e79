"""The database file as it is: opened to be read, its version, its faults, errors in words."""

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from errno import EDQUOT, EIO, ENOSPC, EROFS
from pathlib import Path

from drywind.db.seals import description_is_sound
from drywind.db.tables import SEALED_SINCE, VERSION
from drywind.errors import DamagedError, NewerError, StoreError

BUSY_TIMEOUT_S = 10.0
"""How long a writer waits for another one (the command line beside the daemon)."""

_MEANINGS = {
    sqlite3.SQLITE_BUSY: f"another program has been writing to it for {BUSY_TIMEOUT_S:.0f} s",
    sqlite3.SQLITE_CANTOPEN: "the file cannot be opened",
    sqlite3.SQLITE_CORRUPT: "the file is damaged; restore a backup",
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_IOERR: "the disk cannot be read or written",
    sqlite3.SQLITE_NOTADB: "the file is not a drywind store",
    sqlite3.SQLITE_READONLY: "the file cannot be written; look at its owner, mode and mount",
}
_UNWRITABLE = {
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CANTOPEN,
}
"""What a disk that is full, failing or to be read only comes to."""

_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}

_MAY_DAMAGE = ((3, 7, 0), (3, 51, 3))
"""From the first of these versions of SQLite up to the second, two programs that write and tidy the
log at the same instant can, very rarely, damage the file (sqlite.org/wal.html, "the WAL-reset bug",
from memory)."""


def sqlite_warning() -> str | None:
    """Return what there is to say against this machine's version of SQLite, or None."""
    if not _MAY_DAMAGE[0] <= sqlite3.sqlite_version_info < _MAY_DAMAGE[1]:
        return None
    return (
        f"SQLite {sqlite3.sqlite_version} can, very rarely, damage the store where two programs"
        " write at once (mended in 3.51.3); the nightly copies are there for that."
    )


def look(path: Path) -> tuple[sqlite3.Connection, bool]:
    """Open the database at `path` to read it, also where nothing can be written.

    Returns
    -------
    connection
        Of whatever version, see `version_of`.
    up_to_date
        False if what was written last may be missing: without a place for the index of the
        write-ahead log, what is in that log cannot be read.

    Raises
    ------
    StoreError
        If there is no file, or it cannot be read or is no database.
    """
    with plain_errors(path):
        path.stat()
        try:
            return _opened_to_read(path, "mode=ro"), True
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF not in _UNWRITABLE:
                raise
            log = path.with_name(path.name + "-wal")
            is_empty = not log.exists() or log.stat().st_size == 0
            return _opened_to_read(path, "mode=ro&immutable=1"), is_empty


def _opened_to_read(path: Path, how: str) -> sqlite3.Connection:
    with ExitStack() as unless_opened:
        uri = f"{path.absolute().as_uri()}?{how}"
        db = unless_opened.enter_context(
            closing(sqlite3.connect(uri, uri=True, timeout=BUSY_TIMEOUT_S))
        )
        db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        db.row_factory = sqlite3.Row
        db.text_factory = readable
        unless_opened.pop_all()
        return db


def readable(text: bytes) -> str:
    """Return what is stored as text; bytes that are none must not end a whole query."""
    return text.decode(errors="replace")


def version_of(db: sqlite3.Connection, path: Path) -> int:
    """Return the version of a database's tables; 0 is an empty one.

    Raises
    ------
    NewerError
        If it is newer than this program knows.
    """
    version: int = db.execute("PRAGMA user_version").fetchone()[0]
    if version > VERSION:
        raise NewerError(
            f"{path}: written by a newer drywind (store version {version}, this one knows "
            f"up to {VERSION}); upgrade drywind or restore an older backup"
        )
    return version


def fault_of(db: sqlite3.Connection) -> str | None:
    """Return what is wrong with a database that could be opened, or None.

    By SQLite's full check, which also holds every index against its table (seconds for 100 MB), and
    by the seals of the tables' description. Rows are another matter, see `drywind.db.seals.damage`.
    """
    try:
        (found,) = db.execute("PRAGMA integrity_check(1)").fetchone()
        (version,) = db.execute("PRAGMA user_version").fetchone()
        if found != "ok":
            return str(found).splitlines()[-1]
        if version < SEALED_SINCE or (has_seals(db) and description_is_sound(db)):
            return None
    except UnicodeDecodeError as error:
        return str(error)
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode & 0xFF not in _DAMAGED:
            raise
        return str(error)
    return "its tables are not what they were"


def has_seals(db: sqlite3.Connection) -> bool:
    """Return whether a database is of a version that seals its rows."""
    return db.execute("SELECT 1 FROM main.sqlite_schema WHERE name = 'seal'").fetchone() is not None


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system complain about into a `StoreError` on `path`."""
    try:
        yield
    except sqlite3.Error as error:
        # Errors of the sqlite3 module itself carry no code; the low byte is the primary code.
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        kind = DamagedError if code in _DAMAGED else StoreError
        raise kind(
            f"{path}: {_MEANINGS.get(code, error)}", unwritable=code in _UNWRITABLE
        ) from error
    except UnicodeDecodeError as error:  # a name or a text that is none
        raise DamagedError(f"{path}: {_MEANINGS[sqlite3.SQLITE_CORRUPT]}") from error
    except OSError as error:
        raise StoreError(
            f"{path}: {error.strerror}", unwritable=error.errno in {ENOSPC, EROFS, EDQUOT, EIO}
        ) from error
