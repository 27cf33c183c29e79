"""How the database file is opened and brought up to date, and its errors in words."""

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

from drywind.errors import StoreError
from drywind.tables import UPGRADES, VERSION

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
        for statement in ";".join(UPGRADES[version:]).split(";"):
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
        raise StoreError(f"{path}: {_MEANINGS.get(code, error)}") from error
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror}") from error
