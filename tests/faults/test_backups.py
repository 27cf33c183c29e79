"""Copies of the store: whole, checked, kept for a while, and put back, by the commands too."""

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.conftest import Command, Yard
from tests.faults.killing import killed
from tests.faults.test_store_damage import LATER, NOW, fill, read

from drywind.config import load
from drywind.db.backups import (
    back_up,
    folder_of,
    made_at,
    newest_first,
    nightly_backup,
    rotate,
    stamped,
    unpacked,
)
from drywind.db.recovery import restore
from drywind.db.tables import VERSION
from drywind.delivery import sole_watcher
from drywind.errors import StoreError
from drywind.store import Store
from drywind.yard import Event, EventKind


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "data" / "drywind.db"
    with Store(path) as store:
        fill(store)
    return path


def test_a_copy_made_while_others_write_holds_all_that_was_committed_for_its_owner_alone(
    path: Path,
) -> None:
    before = os.umask(0)
    try:
        with Store(path) as store:
            store.add_event(Event("R7", LATER, EventKind.UNCOVERED, "burlap"))
            copy = nightly_backup(path, NOW)
            whole = read(store)
    finally:
        os.umask(before)

    assert copy == folder_of(path) / "drywind-20260612T180000Z.db.gz"
    assert copy.stat().st_mode & 0o777 == 0o600
    assert copy.parent.stat().st_mode & 0o777 == 0o700
    assert list(copy.parent.iterdir()) == [copy]
    with unpacked(copy, path.parent) as plain, Store(plain) as store:
        assert read(store) == whole


def test_of_a_year_of_nights_seven_days_and_four_weeks_are_kept_and_what_was_made_by_hand(
    tmp_path: Path,
) -> None:
    by_hand = tmp_path / "drywind-by-hand-20260101T000000Z.db.gz"
    for kept in (by_hand, tmp_path / "drywind-version-4-20260101T000000Z.db.gz"):
        kept.touch()
    nights = [NOW + timedelta(days=day) for day in range(365)]
    for night in nights:
        (tmp_path / f"drywind-{stamped(night)}.db.gz").touch()
        rotate(tmp_path)

    ages = [(nights[-1] - made_at(copy)).days for copy in newest_first(tmp_path)]
    assert ages[:7] == [0, 1, 2, 3, 4, 5, 6]
    assert 9 <= len(ages) - 2 <= 11
    assert 15 <= ages[-3] <= 28
    assert by_hand.exists()


def test_of_two_copies_of_a_day_the_later_stays(tmp_path: Path) -> None:
    for hours in (0, 2):
        (tmp_path / f"drywind-{stamped(NOW + timedelta(hours=hours))}.db.gz").touch()

    rotate(tmp_path)

    assert [made_at(copy) for copy in newest_first(tmp_path)] == [NOW + timedelta(hours=2)]


def test_kill_nine_during_a_copy_leaves_the_old_copy_or_the_new_one_whole(path: Path) -> None:
    code = """
        import sys
        from pathlib import Path
        from drywind.db.backups import back_up
        print("begun", flush=True)
        back_up(Path(sys.argv[1]), Path(sys.argv[2]))
    """
    with Store(path) as store:
        store.save_ensemble("far", NOW, os.urandom(3_000_000))
    target = path.parent / "copy.db.gz"
    found = set()
    for _ in killed(code, 20, path, target):
        found.add(target.exists())
        if target.exists():
            with unpacked(target, path.parent) as plain, closing(sqlite3.connect(plain)) as db:
                assert db.execute("SELECT count(*) FROM stack").fetchone() == (2,)
        target.unlink(missing_ok=True)

    assert found == {True, False}, "no kill came while it mattered"
    left = list(path.parent.glob(".drywind-*"))
    assert left
    for forgotten in left:
        os.utime(forgotten, (0, 0))
    back_up(path, target)
    assert list(path.parent.glob(".drywind-*")) == []


def test_kill_nine_while_a_copy_is_put_back_leaves_one_store_or_the_other(path: Path) -> None:
    code = """
        import sys
        from datetime import UTC, datetime
        from pathlib import Path
        from drywind.db.recovery import restore
        print("begun", flush=True)
        restore(Path(sys.argv[1]), Path(sys.argv[2]), datetime.now(UTC))
    """
    copy = path.parent / "copy.db.gz"
    back_up(path, copy)
    with Store(path) as store:
        older = read(store)
        store.add_event(Event("R7", LATER, EventKind.UNCOVERED, "burlap"))
        newer = read(store)
    shutil.copy(path, path.parent / "newer")
    found = set()
    for _ in killed(code, 30, path, copy):
        with Store(path) as store:
            seen = read(store)
            assert seen in (older, newer)
            found.add(len(seen["event"]))
            assert store.damage() == []
        shutil.copy(path.parent / "newer", path)

    assert found == {2, 3}, "no kill came while it mattered"


def test_the_store_a_copy_takes_the_place_of_is_kept_with_what_its_log_held(path: Path) -> None:
    copy = path.parent / "copy.db.gz"
    back_up(path, copy)
    lost = sqlite3.connect(path)  # a program that was killed leaves its log
    with Store(path) as store:
        store.add_event(Event("R7", LATER, EventKind.UNCOVERED, "burlap"))
        newer = read(store)

    kept = restore(path, copy, LATER)

    lost.close()
    assert kept == path.with_name("drywind.db.replaced-20260613T090000Z")
    with Store(kept) as store:
        assert read(store) == newer
    with Store(path) as store:
        assert len(read(store)["event"]) == 2


@pytest.fixture
def stored(quick: Command, yard: Yard) -> Path:
    """Return the yard's store; R7 stands in the shed."""
    oak = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
    assert quick("stack", "add", "R7", *oak).code == 0
    return yard.data / "drywind.db"


def test_backup_and_restore_bring_back_what_was_there_and_keep_what_they_replace(
    quick: Command, stored: Path
) -> None:
    made = quick("backup", "--json")
    file = Path(made.json["file"])
    assert quick("stack", "end", "R7").code == 0

    done = quick("restore", file)

    assert (made.code, done.code) == (0, 0)
    assert file.parent == folder_of(stored)
    assert made.json["size_bytes"] == file.stat().st_size
    assert f"Restored {file}, made " in done.stdout
    assert ": 1 stacks stand, 0 lots.\nThe store that was there is kept as " in done.stdout
    assert [row["id"] for row in quick("stack", "list", "--json").json] == ["R7"]
    assert len(list(stored.parent.glob("drywind.db.replaced-*"))) == 1


def test_restore_without_a_file_takes_the_newest_good_copy_and_says_what_it_passed_over(
    quick: Command, stored: Path
) -> None:
    good = nightly_backup(stored, NOW)
    bad = folder_of(stored) / f"drywind-{stamped(LATER)}.db.gz"
    bad.write_bytes(good.read_bytes()[:-20])
    stored.write_bytes(b"not a store any more")

    done = quick("restore", "--json")

    assert done.code == 0
    assert f"{bad}: the file is damaged" in done.stderr
    assert done.json["restored_from"] == str(good)
    assert done.json["stacks"] == 1


def _written_over(good: bytes) -> bytes:
    return good[:40] + b"\0\xff" * 20 + good[80:]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda _: b"notes about lumber\n" * 300, "the file is not a drywind store"),
        (lambda good: good[: len(good) // 2], "the file is damaged"),
        (_written_over, "the file is damaged"),
        (lambda _: b"", "the file is not a drywind store"),
    ],
)
def test_a_file_that_is_no_good_copy_is_refused_and_the_store_stays(
    quick: Command, stored: Path, tmp_path: Path, make: object, words: str
) -> None:
    file = tmp_path / "copy.db.gz"
    back_up(stored, file)
    assert callable(make)
    file.write_bytes(make(file.read_bytes()))
    before = stored.read_bytes()

    done = quick("restore", file)

    assert done.code == 4
    assert f"{file}: {words}" in done.stderr
    assert stored.read_bytes() == before


def test_a_copy_of_a_newer_version_and_one_that_is_not_there_are_refused(
    quick: Command, stored: Path, tmp_path: Path
) -> None:
    newer = tmp_path / "newer.db"
    shutil.copy(stored, newer)
    with closing(sqlite3.connect(newer)) as db:
        db.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = stored.read_bytes()

    told = [quick("restore", newer), quick("restore", tmp_path / "none.gz"), quick("restore")]

    assert [done.code for done in told] == [4, 4, 2]
    assert f"{newer}: written by a newer drywind" in told[0].stderr
    assert "none.gz: No such file or directory" in told[1].stderr
    assert "there is no copy in " in told[2].stderr
    assert stored.read_bytes() == before


def test_restore_refuses_while_a_daemon_watches(quick: Command, yard: Yard, stored: Path) -> None:
    quick("backup")

    with sole_watcher(load(yard.config, os.environ)):
        done = quick("restore")

    assert done.code == 2
    assert "another drywind watches" in done.stderr
    assert list(stored.parent.glob("drywind.db.replaced-*")) == []


def test_a_backup_is_not_written_over_another_file(
    quick: Command, stored: Path, tmp_path: Path
) -> None:
    file = tmp_path / "copy.db.gz"
    first, second = quick("backup", file), quick("backup", file)

    assert (first.code, second.code) == (0, 2)
    assert "is there already; drywind does not write over it" in second.stderr
    assert quick("backup", tmp_path / "no folder" / "x.gz").code == 4
    assert stored.exists()


def test_an_old_copy_is_brought_up_to_date_when_it_is_put_back(tmp_path: Path, path: Path) -> None:
    words = Path(__file__).with_name("store_version_2.sql").read_text(encoding="utf-8")
    old = tmp_path / "old.db"
    with closing(sqlite3.connect(old)) as db:
        db.executescript(words)

    restore(path, old, datetime(2026, 6, 13, tzinfo=UTC))

    with Store(path) as store:
        assert [s.id for s in store.stacks()] == ["Q3", "R7", "W2"]
    with closing(sqlite3.connect(old)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (2,)


def test_there_is_nothing_to_copy_where_there_is_no_store(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"drywind\.db: No such file or directory"):
        back_up(tmp_path / "drywind.db", tmp_path / "copy.db.gz")
    assert list(tmp_path.iterdir()) == []
