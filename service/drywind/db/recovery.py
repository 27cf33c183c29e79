"""What is done about a store found damaged: nothing is thrown away, and what was done is noted.

A damaged file gives way to the newest good copy; a damaged row to the same row in a copy, which the
row's own seal proves to be the one that was written.
"""

import logging
import os
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from drywind.db.backups import folder_of, made_at, newest_first, scratch, stamped, unpacked
from drywind.db.database import fault_of, look, plain_errors, version_of
from drywind.db.mending import drop_unsound, mend_from
from drywind.db.opening import connect
from drywind.db.schema import seconds
from drywind.db.seals import damage
from drywind.errors import DamagedError, NewerError
from drywind.files import sync_folder

KEEP_ASIDE = 3
"""Replaced files kept: they are there to be looked into."""

_log = logging.getLogger(__name__)


class Kind(StrEnum):
    """What was done about a damaged store."""

    RESTORED = "restored"
    """The newest good copy took its place; what came after that is lost."""
    BEGUN_ANEW = "begun_anew"
    """There was no good copy: the store is empty."""
    ROWS = "rows"
    """Rows were dropped, to be made anew, or lie there and are not used."""


@dataclass(frozen=True)
class Recovery:
    """What was found damaged, and what was done about it.

    Attributes
    ----------
    backup_at
        When the copy was made that took its place; None if none did.
    detail
        What was wrong, in words.
    """

    at: datetime
    kind: Kind
    backup_at: datetime | None
    detail: str


def make_sound(path: Path, now: datetime) -> Recovery | None:
    """Check the store at `path`, and put right what is damaged; call it with the folder held.

    Return what was done, which also stands in the table ``recovery`` for whoever is to be told;
    None where all was sound, or is again without loss.

    Raises
    ------
    StoreError
        If the store cannot be read or written, or is of a newer version: it is left as it is.
    """
    fault = _fault(path)
    if fault is not None and "index" in fault and _reindexed(path):
        _log.warning("%s: an index was damaged (%s), and is built anew", path, fault)
        fault = None
    if fault is not None:
        _log.error("%s: damaged: %s", path, fault)
        return _replace_damaged(path, now, fault)
    return _mend_rows(path, now) if path.exists() else None


def _fault(path: Path) -> str | None:
    has_copies = bool(newest_first(folder_of(path)))
    if not path.exists():
        return "the file is gone" if has_copies else None
    try:
        with plain_errors(path), closing(look(path)[0]) as db:
            if version_of(db, path) == 0 and has_copies:
                return "the file is empty"
            return fault_of(db)
    except DamagedError as error:
        return str(error.__cause__ or error)


def _reindexed(path: Path) -> bool:
    with suppress(DamagedError), plain_errors(path), closing(connect(path)) as db:
        with suppress(sqlite3.IntegrityError):
            db.execute("REINDEX")
        return fault_of(db) is None
    return False


def _replace_damaged(path: Path, now: datetime, fault: str) -> Recovery:
    for copy in newest_first(folder_of(path)):
        try:
            with unpacked(copy, path.parent) as plain:
                done = Recovery(now, Kind.RESTORED, made_at(copy), fault)
                put_in_place(path, plain, now, "damaged", done)
                return done
        except (DamagedError, NewerError) as error:
            _log.error("copy not used: %s", error)
    with plain_errors(path), scratch(path.parent) as room:
        done = Recovery(now, Kind.BEGUN_ANEW, None, fault)
        put_in_place(path, room / "new.db", now, "damaged", done)
        return done


def restore(path: Path, backup: Path, now: datetime) -> Path | None:
    """Put a copy in the place of the store at `path`; call it with the folder held.

    Return where the store that was there is kept; None if there was none.

    Raises
    ------
    DamagedError, NewerError
        If the copy is damaged, no store, or of a newer version: nothing is changed.
    StoreError
        If something cannot be read or written.
    """
    with unpacked(backup, path.parent) as plain:
        if path.exists():
            with suppress(DamagedError), plain_errors(path), closing(sqlite3.connect(path)) as db:
                db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return put_in_place(path, plain, now, "replaced")


def put_in_place(
    path: Path, fresh: Path, now: datetime, why: str, note: Recovery | None = None
) -> Path | None:
    """Give a database, brought up to date, the name of the store; return where the old one is.

    At whatever moment the power fails, there is the one or the other under that name, and never
    the log of the one beside the other. Messages still to be sent may have been: they are marked.
    """
    with plain_errors(path):
        with closing(connect(fresh)) as db, db:
            db.execute("UPDATE outbox SET maybe_repeat = 1 WHERE next_try_at IS NOT NULL")
            if note is not None:
                _note(db, note)
        fresh.chmod(0o600)
        aside = path.with_name(f"{path.name}.{why}-{stamped(now)}")
        for end in ("-wal", "-shm"):
            with suppress(FileNotFoundError):
                path.with_name(path.name + end).replace(aside.with_name(aside.name + end))
        sync_folder(path.parent)
        kept = None
        if path.exists():
            kept = aside
            _linked(path, aside)
        fresh.replace(path)
        sync_folder(path.parent)
        _drop_old_asides(path)
        return kept


def _linked(path: Path, aside: Path) -> None:
    aside.unlink(missing_ok=True)
    try:
        os.link(path, aside)
    except OSError:  # a file system without links
        shutil.copy2(path, aside)


def _drop_old_asides(path: Path) -> None:
    asides = [f for f in path.parent.glob(f"{path.name}.*-*Z") if f.is_file()]
    for old in sorted(asides, key=lambda f: f.name.rpartition("-")[2])[:-KEEP_ASIDE]:
        for end in ("", "-wal", "-shm"):
            old.with_name(old.name + end).unlink(missing_ok=True)


def _mend_rows(path: Path, now: datetime) -> Recovery | None:
    with plain_errors(path), closing(connect(path)) as db:
        found = damage(db)
        for copy in newest_first(folder_of(path)):
            if not damage(db):
                break
            with suppress(DamagedError, NewerError), unpacked(copy, path.parent) as plain:
                connect(plain).close()
                mend_from(db, plain)
        if not found:
            return None
        _log.error("%s: rows damaged: %s", path, ", ".join(found))
        lost = damage(db)
        if not lost:
            return None
        with db:
            drop_unsound(db)
            done = Recovery(now, Kind.ROWS, None, ", ".join(lost))
            last = db.execute("SELECT detail FROM recovery ORDER BY id DESC LIMIT 1").fetchone()
            if last is not None and last["detail"] == done.detail:
                return None
            _note(db, done)
        return done


def _note(db: sqlite3.Connection, done: Recovery) -> None:
    db.execute(
        "INSERT INTO recovery (at, kind, backup_at, detail) VALUES (?, ?, ?, ?)",
        (seconds(done.at), done.kind, seconds(done.backup_at), done.detail),
    )
