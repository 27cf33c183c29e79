"""How the store is opened to be written, and brought up to date, the old one saved first."""

import sqlite3
from contextlib import ExitStack, closing, suppress
from pathlib import Path

from drywind.db import database
from drywind.db.backups import save_before_upgrade
from drywind.db.database import has_seals, look, plain_errors, readable, version_of
from drywind.db.seals import damage, prepare, reseal
from drywind.db.tables import UPGRADES, VERSION
from drywind.errors import StoreError


class Held:
    """The file kept open all day, so that no worker is the last to close it.

    The last one folds the write-ahead log into the file: everything would be written twice, and an
    SD card wears by what is written.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._db: sqlite3.Connection | None = None

    def hold(self) -> None:
        """Open the file, if it can be opened; nothing is read of it but its tables' names."""
        self.let_go()
        with suppress(sqlite3.Error):
            self._db = sqlite3.connect(self._path, check_same_thread=False)
            self._db.execute("SELECT name FROM sqlite_schema").fetchall()

    def let_go(self) -> None:
        """Close it, so that another may take its place."""
        if self._db is not None:
            self._db.close()
            self._db = None


def connect(path: Path) -> sqlite3.Connection:
    """Open the database at `path`; where there is none, create it for its owner's eyes only.

    One of an older version is saved and brought up to date, wholly or not at all, and loses
    nothing. Every commit is on the disk before it returns (write-ahead log, ``synchronous=FULL``).

    Raises
    ------
    StoreError
        If the file cannot be opened, created or saved, is not a store, or is of a newer version.
    """
    with plain_errors(path), ExitStack() as unless_opened:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.touch(mode=0o600)
        db = unless_opened.enter_context(
            closing(
                sqlite3.connect(path, timeout=database.BUSY_TIMEOUT_S, isolation_level="IMMEDIATE")
            )
        )
        version = version_of(db, path)
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA foreign_keys = ON")
        if version < VERSION:
            _upgrade(db, path)
        prepare(db)
        db.row_factory = sqlite3.Row
        db.text_factory = readable
        unless_opened.pop_all()
        return db


def connect_to_read(path: Path) -> tuple[sqlite3.Connection, bool]:
    """Open the database at `path` to read it, also where nothing can be written; see `look`.

    Raises
    ------
    StoreError
        If there is none, it cannot be read, or it is of another version than this program's.
    """
    db, up_to_date = look(path)
    with plain_errors(path), ExitStack() as unless_opened:
        unless_opened.enter_context(closing(db))
        if version_of(db, path) < VERSION:
            raise StoreError(f"{path}: of an older version, and cannot be brought up to date")
        prepare(db)
        unless_opened.pop_all()
    return db, up_to_date


def _upgrade(db: sqlite3.Connection, path: Path) -> None:
    """Bring the tables to `VERSION`, in one transaction; another process may have been faster."""
    with db:
        db.execute("BEGIN IMMEDIATE")
        version = version_of(db, path)
        if version == VERSION:
            return
        if version > 0:
            save_before_upgrade(path, version)
        spoiled = set()
        if has_seals(db):
            with closing(look(path)[0]) as old:
                prepare(old)
                spoiled = set(damage(old))
        for statement in ";".join(UPGRADES[version:]).split(";"):
            db.execute(statement)
        reseal(db, spoiled)
        db.execute(f"PRAGMA user_version = {VERSION}")
