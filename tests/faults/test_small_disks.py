"""The store and the commands on a disk that is full or read-only: a real one, if a small one.

Only root may mount one. Who is not root has the same promises held on the files' modes and on
SQLite's own limits in `test_store.py`.
"""

import os
import subprocess
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest
from tests.conftest import Command, Yard
from tests.faults.killing import killed
from tests.faults.test_store_damage import LATER, NOW, fill, read

from drywind.alerts.records import Decision, Message, Reason
from drywind.db.backups import folder_of, newest_first, nightly_backup
from drywind.db.database import fault_of, look
from drywind.db.recovery import make_sound
from drywind.errors import StoreError
from drywind.store import Store
from drywind.yard import Event, EventKind

pytestmark = pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")

Remount = Callable[[str], None]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """Yield a disk of one megabyte."""
    folder = tmp_path / "data"
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m,mode=0700", "none", folder], check=True)
    yield folder
    subprocess.run(["umount", "--lazy", folder], check=True)


@pytest.fixture
def remount(disk: Path) -> Remount:
    """Return what makes the disk read-only ("ro"), or writable again ("rw")."""
    return lambda how: _remount(disk, how)


def _remount(disk: Path, how: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{how}", disk], check=True)


@pytest.fixture
def path(disk: Path) -> Path:
    path = disk / "drywind.db"
    with Store(path) as store:
        fill(store)
    return path


def fill_up(disk: Path) -> Path:
    """Leave not a byte free."""
    filler = disk / "filler"
    with suppress(OSError), filler.open("wb", buffering=0) as file:
        while file.write(bytes(512)):
            pass
    return filler


def record(store: Store, key: str) -> bool:
    decided = Decision("Amos", "R7", "wetting", Reason.FIRST, NOW, 1.5, None, LATER)
    return store.record(decided, Message("s", "t", "x" * 30_000), key)


def test_on_a_full_disk_all_is_read_nothing_is_halved_and_all_goes_on_after_it(
    disk: Path, path: Path
) -> None:
    with Store(path) as store:
        whole = read(store)
        filler = fill_up(disk)

        for key in ("a", "b"):
            with pytest.raises(StoreError, match=r"drywind\.db: the disk is full"):
                record(store, key)
        assert read(store) == whole
        filler.unlink()
        assert record(store, "a")

        assert len(store.outbox_due(NOW)) == len(whole["outbox"]) + 1
        assert store.damage() == []
    with closing(look(path)[0]) as db:
        assert fault_of(db) is None


def test_a_store_opened_on_a_full_disk_is_read_all_the_same(disk: Path, path: Path) -> None:
    with Store(path) as store:
        whole = read(store)
    fill_up(disk)

    with pytest.raises(StoreError, match=r"disk is full|cannot be (opened|read or written)"):
        Store(path)
    with Store(path, to_read=True) as store:
        assert read(store) == whole
        assert store.up_to_date


def test_no_copy_is_halved_on_a_full_disk_and_the_older_one_stays(disk: Path, path: Path) -> None:
    older = nightly_backup(path, NOW)
    fill_up(disk)

    with pytest.raises(StoreError, match=r"backups/drywind-20260613.*: .*[Nn]o space|disk is full"):
        nightly_backup(path, LATER)

    assert newest_first(folder_of(path)) == [older]
    assert list(folder_of(path).iterdir()) == [older]


def test_a_damaged_store_on_a_full_disk_is_left_and_put_right_once_there_is_room(
    disk: Path, path: Path
) -> None:
    with Store(path) as store:
        whole = read(store)
    nightly_backup(path, NOW)
    broken = path.read_bytes()[:8192] + bytes(8192)
    path.write_bytes(broken)
    filler = fill_up(disk)

    with pytest.raises(StoreError):
        make_sound(path, LATER)
    assert path.read_bytes() == broken
    filler.unlink()
    assert make_sound(path, LATER) is not None

    with Store(path) as store:
        assert read(store) == whole


def test_with_its_log_left_by_a_killed_program_a_read_only_store_says_what_may_be_missing(
    path: Path, remount: Remount
) -> None:
    code = """
        import sys, os
        from pathlib import Path
        from test_small_disks import LATER, Event, EventKind
        from drywind.store import Store
        store = Store(Path(sys.argv[1]))
        store.add_event(Event("R7", LATER, EventKind.UNCOVERED, "burlap"))
        print("begun", flush=True)
        os._exit(0)
    """
    next(killed(code, 1, path))
    path.with_name("drywind.db-shm").unlink()
    remount("ro")
    try:
        with Store(path, to_read=True) as store:
            assert len(read(store)["event"]) == 2
            assert not store.up_to_date
    finally:
        remount("rw")
    with Store(path) as store:
        assert [e for e in store.stack("R7").events if e.kind is EventKind.UNCOVERED] == [
            Event("R7", LATER, EventKind.UNCOVERED, "burlap")
        ]


@pytest.mark.parametrize("trouble", ["full", "ro"])
def test_commands_that_read_work_and_say_why_and_those_that_write_refuse(
    quick: Command, yard: Yard, disk: Path, remount: Remount, trouble: str
) -> None:
    assert yard.data == disk
    oak = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
    assert quick("stack", "add", "R7", *oak).code == 0
    lot = ("--species", "hard maple", "--felled", "2025-06-11T13:00", "--site", "shed")
    assert quick("lot", "add", "L4", *lot).code == 0
    reading = (
        ("stack", "list"),
        ("stack", "show", "R7"),
        ("lot", "list"),
        ("check",),
        ("export", yard.folder / "all"),
        ("backup", yard.folder / "copy.db.gz"),
    )
    if trouble == "full":
        fill_up(disk)
    else:
        remount("ro")
    try:
        told = [quick(*command) for command in reading]
        refused = [quick("stack", "add", "R8", *oak), quick("stack", "end", "R7")]
    finally:
        remount("rw")

    assert [done.code for done in told] == [0] * len(reading)
    for done in told[:-1]:
        assert done.stderr.endswith("; it is only read.\n")
        assert "drywind.db: " in done.stderr
    assert [done.code for done in refused] == [4, 4]


def test_a_configuration_is_written_whole_or_not_at_all(quick: Command, disk: Path) -> None:
    target = disk / "drywind.toml"
    filler = fill_up(disk)

    refused = quick("init", "--config", target)

    assert refused.code == 2
    assert "cannot be written: No space left on device" in refused.stderr
    assert [file.name for file in disk.iterdir()] == ["filler"]
    filler.unlink()
    assert quick("init", "--config", target).code == 0
    assert target.stat().st_mode & 0o777 == 0o600
