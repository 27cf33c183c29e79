"""The store under crashes, full and read-only disks, damaged files and other versions."""

import os
import random
import resource
import signal
import sqlite3
import stat
import subprocess
import sys
import tempfile
import textwrap
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drywind.alerts.records import Decision, Message, Reason
from drywind.db import database, opening
from drywind.db.tables import VERSION
from drywind.errors import StoreError, UsageError
from drywind.store import Store
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.weather.validators import Remembered
from drywind.yard import Event, EventKind, Measure, Setup, Stack

VERSION_1 = Path(__file__).with_name("store_version_1.sql").read_text(encoding="utf-8")
NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
MESSAGE = Message(
    "Hot dry wind", "DRYWIND Sat: stack R7. Hang shade.", "The whole story.\n", "<p>It all</p>"
)


def decision(stack: str = "R7") -> Decision:
    return Decision(
        contact="Amos",
        stack=stack,
        hazard="too_fast",
        reason=Reason.FIRST,
        made_at=NOW,
        severity=1.5,
        onset=NOW + timedelta(hours=17),
        useful_until=NOW + timedelta(days=1),
    )


def stack(name: str) -> Stack:
    return Stack(name, "red_oak", Thickness.parse("4/4"), NOW, Setup("creek flat"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "drywind.db"


def run(code: str, *arguments: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(code), *map(str, arguments)],
        stdout=subprocess.PIPE,
        text=True,
    )


def test_the_store_is_readable_by_its_owner_alone(path: Path) -> None:
    before = os.umask(0)
    try:
        with Store(path) as store:
            store.remember("creek flat", "nws", Remembered(cell="https://weather.test/1,2"))
            modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in path.parent.iterdir()}
    finally:
        os.umask(before)

    assert modes == {"drywind.db": 0o600, "drywind.db-wal": 0o600, "drywind.db-shm": 0o600}
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_every_connection_syncs_each_commit_and_holds_references(path: Path) -> None:
    for _ in ("new file", "existing file"):
        with closing(opening.connect(path)) as db:
            found = [
                db.execute(f"PRAGMA {name}").fetchone()[0]
                for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
            ]
            strict = db.execute(
                "SELECT min(strict) FROM pragma_table_list WHERE schema = 'main'"
                " AND name NOT LIKE 'sqlite_%'"
            ).fetchone()[0]

        assert found == ["wal", 2, 1, 10_000]
        assert strict == 1


def test_a_store_of_a_newer_version_is_refused_and_left_as_it_is(path: Path) -> None:
    newer = VERSION + 1
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {newer}")
    before = path.read_bytes()

    with pytest.raises(
        StoreError, match=rf"drywind\.db: .*version {newer}, .* up to {newer - 1}\)"
    ):
        Store(path)

    assert path.read_bytes() == before


@pytest.fixture
def old(path: Path) -> Path:
    """Return a store of version 1, which knew nothing of what is told of lumber."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as db:
        db.executescript(VERSION_1)
    return path


def test_a_store_of_an_older_version_is_taken_over_with_all_that_is_in_it(old: Path) -> None:
    covered = Event("R7", NOW + timedelta(hours=1), EventKind.COVERED, "burlap")
    roofed = Setup("creek flat", measures=frozenset({Measure.PILE_ROOF}))
    nan = float("nan")
    for _ in ("taken over", "opened again"):
        with Store(old) as store:
            walnut, oak = sorted(store.stacks(), key=lambda s: s.species)
            [hour] = store.hours("41.98,-87.90", NOW, NOW + timedelta(hours=1))
            [waiting] = store.outbox_due(NOW + timedelta(minutes=5))

            assert oak == Stack(
                "R7", "red_oak", Thickness.parse("4/4"), NOW, roofed, 78.0, events=(covered,)
            )
            assert walnut == Stack(
                "W2", "black_walnut", Thickness.parse("27mm"), NOW, Setup("barn")
            )
            expected = WeatherHour(NOW, 31.5, 0.25, 6.0, nan, nan, 810.0, 0.1, 0.0, "nws", NOW)
            assert repr(hour) == repr(expected)
            known = store.remembered("41.98,-87.90", "nws")
            assert known.cell == "https://weather.test/gridpoints/LOT/76,73"
            assert store.checkpoint("R7") == (NOW, "digest", b"\x00state")
            assert store.last_decisions() == [replace(decision(), contact="Amos")]
            assert (waiting.key, waiting.attempts) == ("key", 1)
            assert waiting.message.story == MESSAGE.story
            assert store.lots(include_ended=True) == []
            assert waiting.message.html == ""


def test_a_message_waits_in_the_outbox_as_it_was_put_there(path: Path) -> None:
    with Store(path) as store:
        store.record(decision(), MESSAGE, "key")

        assert [row.message for row in store.outbox_due(NOW)] == [MESSAGE]


def test_a_store_taken_over_has_the_tables_of_a_new_one(old: Path, tmp_path: Path) -> None:
    def columns(path: Path) -> set[tuple[object, ...]]:
        with closing(opening.connect(path)) as db:
            rows = db.execute(
                "SELECT t.name, c.* FROM pragma_table_list t, pragma_table_xinfo(t.name) c"
                " WHERE t.schema = 'main' AND t.name NOT LIKE 'sqlite_%'"
            )
            return {tuple(row) for row in rows}

    assert columns(old) == columns(tmp_path / "new.db")


def test_a_takeover_that_fails_midway_leaves_the_store_as_it_was(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = "CREATE TABLE half (way TEXT) STRICT; ALTER TABLE nowhere ADD COLUMN x TEXT"
    with monkeypatch.context() as patch:
        patch.setattr(opening, "UPGRADES", ("", broken))

        with pytest.raises(StoreError, match=r"drywind\.db: no such table: nowhere"):
            Store(old)

    with closing(sqlite3.connect(old)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert db.execute("SELECT 1 FROM sqlite_schema WHERE name = 'half'").fetchall() == []
    with Store(old) as store:
        assert [s.id for s in store.stacks()] == ["R7", "W2"]


def test_a_file_that_is_no_store_is_refused(path: Path) -> None:
    path.parent.mkdir()
    path.write_text("# notes about lumber\n" * 100)

    with pytest.raises(StoreError, match=r"drywind\.db: the file is not a drywind store"):
        Store(path)


def test_a_damaged_store_says_so(path: Path) -> None:
    with Store(path) as store:
        for number in range(200):
            store.record(decision(f"R{number}"), MESSAGE, f"key {number}")
    whole = path.read_bytes()
    path.write_bytes(whole[:4096] + os.urandom(len(whole) - 4096))

    with pytest.raises(StoreError, match="the file is damaged; restore a backup"), Store(path) as s:
        s.last_decisions()


@contextmanager
def unprivileged() -> Iterator[None]:
    """Give up root, to whom no file is read-only, where the tests run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


def test_a_read_only_file_is_told_in_a_plain_sentence() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "drywind.db")
        Store(path).close()
        path.chmod(0o444)
        path.parent.chmod(0o555)
        try:
            # Its owner may still open and read it; anybody else is turned away sooner.
            told = r"drywind\.db: (Permission denied|the file cannot be written)"
            with unprivileged(), pytest.raises(StoreError, match=told):
                Store(path)
        finally:
            path.parent.chmod(0o755)


def test_a_folder_that_cannot_be_made_is_told_in_a_plain_sentence() -> None:
    with pytest.raises(StoreError, match=r"/proc/drywind/drywind\.db: "):
        Store(Path("/proc/drywind/drywind.db"))


def test_a_full_disk_writes_nothing_by_halves_and_the_store_goes_on_after_it(path: Path) -> None:
    long_story = Message("s", "t", "x" * 1_000_000)
    with Store(path) as store:
        store.record(decision("R1"), MESSAGE, "before")
        db = store._db  # noqa: SLF001 - the cap makes SQLite itself meet a full disk
        (pages,) = db.execute("PRAGMA page_count").fetchone()
        db.execute(f"PRAGMA max_page_count = {pages + 2}")

        with pytest.raises(StoreError, match=r"drywind\.db: the disk is full"):
            store.record(decision("R2"), long_story, "during")
        kept_meanwhile = {d.stack for d in store.last_decisions()}
        db.execute("PRAGMA max_page_count = 1000000")
        written_after = store.record(decision("R2"), long_story, "during")

        assert kept_meanwhile == {"R1"}
        assert written_after
        assert [row.key for row in store.outbox_due(NOW)] == ["before", "during"]


def test_a_disk_that_refuses_to_write_is_told_and_survived(path: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    with Store(path) as store:
        store.record(decision("R1"), MESSAGE, "before")
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
        try:
            with pytest.raises(StoreError, match="the disk cannot be read or written"):
                store.record(decision("R2"), Message("s", "t", "x" * 1_000_000), "during")
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        store.record(decision("R3"), MESSAGE, "after")

        assert [row.key for row in store.outbox_due(NOW)] == ["before", "after"]


def test_a_store_somebody_else_is_writing_to_is_told(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_TIMEOUT_S", 0.05)
    with Store(path) as store, closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN IMMEDIATE")

        with pytest.raises(StoreError, match="another program has been writing to it"):
            store.record(decision(), MESSAGE, "key")

        other.rollback()
        assert store.record(decision(), MESSAGE, "key")


def test_a_closed_store_and_a_broken_reference_are_store_errors(path: Path) -> None:
    with Store(path) as store, pytest.raises(StoreError, match="FOREIGN KEY constraint failed"):
        store.save_checkpoint("nobody", NOW, "v1", b"")
    with pytest.raises(StoreError, match=r"drywind\.db: Cannot operate on a closed database"):
        store.stacks()


@pytest.mark.parametrize("version", ["new", "old"])
def test_many_may_open_a_store_to_be_made_or_taken_over_at_once(
    request: pytest.FixtureRequest, path: Path, version: str
) -> None:
    if version == "old":
        request.getfixturevalue("old")
    failures: list[Exception] = []

    def use(number: int) -> None:
        try:
            with Store(path) as store:
                store.add_stack(stack(f"S{number}"))
        except StoreError as error:
            failures.append(error)

    threads = [threading.Thread(target=use, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failures == []
    with Store(path) as store:
        assert {f"S{number}" for number in range(6)} <= {s.id for s in store.stacks()}


def test_no_decision_is_lost_or_halved_by_kill_nine_at_any_moment(path: Path) -> None:
    """Each key is printed once `record` returned: from then on it must be in the file."""
    code = """
    import sys, itertools
    from pathlib import Path
    from test_store import MESSAGE, NOW, decision
    from drywind.store import Store
    with Store(Path(sys.argv[1])) as store:
        for number in itertools.count():
            key = f"{sys.argv[2]}-{number}"
            store.record(decision(key), MESSAGE, key)
            print(key, flush=True)
    """
    code = f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n" + textwrap.dedent(
        code
    )
    chance = random.Random(7)
    promised: set[str] = set()
    for life in range(6):
        child = run(code, path, life)
        assert child.stdout is not None
        promised.add(child.stdout.readline().strip())
        threading.Event().wait(chance.uniform(0, 0.05))
        child.send_signal(signal.SIGKILL)
        promised.update(line.strip() for line in child.stdout if line.endswith("\n"))
        child.stdout.close()
        assert child.wait() == -signal.SIGKILL

    with Store(path) as store:
        decided = {d.stack for d in store.last_decisions()}
        waiting = {row.key for row in store.outbox_due(NOW)}
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert len(promised) > 6
    assert promised <= decided
    assert waiting == decided


def test_a_stack_nobody_knows_is_told_with_the_nearest_names(path: Path) -> None:
    with Store(path) as store:
        with pytest.raises(UsageError, match=r"there is no stack 'R7'; none has been added yet"):
            store.stack("R7")
        store.add_stack(stack("R7"))
        store.add_stack(stack("walnut-1"))

        with pytest.raises(UsageError, match=r"there is no stack 'r7'; did you mean R7\?"):
            store.stack("r7")
        with pytest.raises(UsageError, match=r"did you mean walnut-1\?"):
            store.add_event(Event("walnut1", NOW, EventKind.ENDED))
        with pytest.raises(UsageError, match=r"did you mean R7, walnut-1\?"):
            store.stack("zzz")


def test_a_stack_name_is_taken_once_and_the_first_stack_stays(path: Path) -> None:
    first = stack("R7")
    with Store(path) as store:
        store.add_stack(first)

        with pytest.raises(UsageError, match="there already is a stack R7"):
            store.add_stack(Stack("R7", "walnut", Thickness.parse("8/4"), NOW, Setup("barn")))

        assert store.stacks() == [first]


def test_of_several_stacks_all_are_added_or_none(path: Path) -> None:
    with Store(path) as store:
        store.add_stack(stack("R7"))

        with pytest.raises(UsageError, match="there already is a stack R7"):
            store.add_stacks([stack("R6"), stack("R7"), stack("R8")])
        assert store.stacks() == [stack("R7")]

        store.add_stacks([stack("R6"), stack("R8")])
        assert [s.id for s in store.stacks()] == ["R6", "R7", "R8"]


def test_the_store_needs_neither_numpy_nor_pandas_nor_the_network() -> None:
    code = """
    import sys, drywind.store
    print(*sorted({"numpy", "pandas", "httpx", "apprise", "metpy"} & set(sys.modules)))
    """
    child = run(code)

    assert child.communicate()[0].strip() == ""
    assert child.returncode == 0
