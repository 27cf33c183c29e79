"""Copies of the store: made whole and checked, kept for a while, the newest good one found.

A copy is the database compressed (gzip), about a quarter of its size: an SD card wears by what is
written to it. What is not yet whole is only ever a temporary file.
"""

import gzip
import re
import shutil
import sqlite3
import tempfile
import time
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from drywind.clock import utc_now
from drywind.db.database import fault_of, look, plain_errors, version_of
from drywind.errors import DamagedError
from drywind.files import TEMPORARY, whole_file

KEEP = {1: 7, 7: 4}
"""Nightly copies kept: the last of each of 7 days, and of each of 4 weeks, the latest that have
one. Those made by hand or before an upgrade are not dropped: there are few."""

FORGOTTEN_S = 3600.0
"""A temporary file older than this is of a program that was killed."""

_STAMP = "%Y%m%dT%H%M%SZ"
_NAME = re.compile(r"drywind-(?P<why>version-\d+-|by-hand-)?(?P<stamp>\d{8}T\d{6}Z)\.db\.gz")
_COMPRESSED = b"\x1f\x8b"
_PIECE = 1 << 20


def folder_of(path: Path) -> Path:
    """Return where the copies of the store at `path` are kept."""
    return path.parent / "backups"


def stamped(instant: datetime) -> str:
    """Return an instant as it stands in the names of files."""
    return instant.astimezone(UTC).strftime(_STAMP)


def back_up(path: Path, target: Path) -> None:
    """Write a checked copy of the store at `path`, which may be in use, to `target`.

    Raises
    ------
    DamagedError
        If the store is damaged: no copy of it is kept.
    StoreError
        If it cannot be read, or the copy cannot be written; a copy there was before is left.
    """
    with plain_errors(target), scratch(target.parent) as room:
        copy = room / "copy.db"
        with plain_errors(path), closing(look(path)[0]) as db, closing(sqlite3.connect(copy)) as to:
            to.execute("PRAGMA synchronous = OFF")  # gone in a minute; what stays is synced
            db.backup(to)
            to.execute("PRAGMA journal_mode = DELETE")
            if (fault := fault_of(to)) is not None:
                raise DamagedError(f"{path}: the file is damaged ({fault}); no copy of it is kept")
        with whole_file(target) as file:
            with (
                copy.open("rb") as plain,
                gzip.GzipFile(fileobj=file, mode="wb", mtime=0, compresslevel=6) as to_gz,
            ):
                shutil.copyfileobj(plain, to_gz)
            file.flush()
            with gzip.open(file.name) as written:
                while written.read(_PIECE):
                    pass  # a copy whose checksum does not hold is an error here, not some day


def nightly_backup(path: Path, now: datetime) -> Path:
    """Write a copy of the store into its folder of copies, and drop those kept long enough."""
    folder = _own_folder(path)
    target = folder / f"drywind-{stamped(now)}.db.gz"
    back_up(path, target)
    with plain_errors(folder):
        rotate(folder)
    return target


def save_before_upgrade(path: Path, version: int) -> None:
    """Write a copy of a store of an older version, about to be changed."""
    back_up(path, _own_folder(path) / f"drywind-version-{version}-{stamped(utc_now())}.db.gz")


def backup_by_hand(path: Path, now: datetime) -> Path:
    """Write a copy of the store into its folder of copies, for as long as nobody removes it."""
    target = _own_folder(path) / f"drywind-by-hand-{stamped(now)}.db.gz"
    back_up(path, target)
    return target


def _own_folder(path: Path) -> Path:
    folder = folder_of(path)
    with plain_errors(folder):
        folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def rotate(folder: Path) -> None:
    """Drop nightly copies but the last of each of the latest days and weeks, see `KEEP`."""
    nights = [c for c in newest_first(folder) if not _named(c)["why"]]
    kept = set[Path]()
    for days, count in KEEP.items():
        last_of: dict[int, Path] = {}
        for copy in nights:
            last_of.setdefault(made_at(copy).toordinal() // days, copy)
        kept.update(list(last_of.values())[:count])
    for copy in nights:
        if copy not in kept:
            copy.unlink(missing_ok=True)


def newest_first(folder: Path) -> list[Path]:
    """Return the copies in a folder, by the time in their names."""
    found = [f for f in folder.glob("*.db.gz") if _NAME.fullmatch(f.name)]
    return sorted(found, key=lambda f: (made_at(f), f.name), reverse=True)


def _named(copy: Path) -> re.Match[str]:
    match = _NAME.fullmatch(copy.name)
    assert match is not None
    return match


def made_at(backup: Path) -> datetime:
    """Return when a copy was made: by its name, or else by its file's time."""
    if match := _NAME.fullmatch(backup.name):
        return datetime.strptime(match["stamp"], _STAMP).replace(tzinfo=UTC)
    return datetime.fromtimestamp(backup.stat().st_mtime, UTC)


@contextmanager
def unpacked(backup: Path, folder: Path) -> Iterator[Path]:
    """Unpack a copy within a folder, and check it; a store not compressed will do as well.

    Raises
    ------
    DamagedError
        If it is damaged, or no store.
    NewerError
        If it is of a newer version than this program knows.
    StoreError
        If it cannot be read or unpacked.
    """
    with plain_errors(backup), scratch(folder) as room:
        plain = room / "unpacked.db"
        _unpack(backup, plain)
        with closing(look(plain)[0]) as db:
            version = version_of(db, backup)
            if (fault := fault_of(db)) is not None:
                raise DamagedError(f"{backup}: the file is damaged ({fault})")
            if version == 0:
                raise DamagedError(f"{backup}: the file is not a drywind store")
        yield plain


def _unpack(backup: Path, plain: Path) -> None:
    with backup.open("rb") as file:
        is_compressed = file.read(2) == _COMPRESSED
    if is_compressed:
        try:
            with gzip.open(backup) as packed, plain.open("wb") as file:
                shutil.copyfileobj(packed, file)
        except (EOFError, zlib.error, gzip.BadGzipFile) as error:
            raise DamagedError(f"{backup}: the file is damaged ({error})") from error
    else:
        with closing(look(backup)[0]) as db, closing(sqlite3.connect(plain)) as to:
            db.backup(to)
            to.execute("PRAGMA journal_mode = DELETE")


@contextmanager
def scratch(folder: Path) -> Iterator[Path]:
    """Make a folder for files not yet whole, and remove what a killed program left of its own."""
    for left in folder.glob(f"{TEMPORARY}*"):
        if time.time() - left.lstat().st_mtime > FORGOTTEN_S:
            if left.is_dir():
                shutil.rmtree(left, ignore_errors=True)
            else:
                left.unlink(missing_ok=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=TEMPORARY) as room:
        yield Path(room)
