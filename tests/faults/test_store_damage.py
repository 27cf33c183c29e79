"""A store whose bytes were changed behind its back: found, put right from a copy, told."""

import random
import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.faults.killing import killed

from drywind.alerts.records import Decision, Message, Reason
from drywind.db.backups import folder_of, newest_first, nightly_backup
from drywind.db.database import fault_of, look
from drywind.db.recovery import Kind, make_sound
from drywind.db.tables import VERSION
from drywind.errors import DamagedError, NewerError, StoreError
from drywind.store import Outcome, Store
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.weather.validators import Remembered
from drywind.yard import Event, EventKind, LogLot, Setup, Stack

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
LATER = NOW + timedelta(hours=15)
PLACE = "41.98,-87.90"
PAGE = 4096


def fill(store: Store) -> None:
    """Put a row or more into every table, with words no other row has."""
    for name in ("R7", "W2"):
        store.add_stack(Stack(name, "red_oak", Thickness.parse("4/4"), NOW, Setup(f"creek {name}")))
    for day, cover in enumerate(("burlap", "pile_roof")):
        store.add_event(Event("R7", NOW + timedelta(days=day), EventKind.COVERED, cover))
    store.add_lot(LogLot("L4", "hard_maple", NOW, "barn", volume="1,200 bf"))
    for contact in ("Amos", "Ruth"):
        decided = Decision(
            contact, "R7", "too_fast", Reason.FIRST, NOW, 1.5, None, NOW + timedelta(days=2)
        )
        store.record(decided, Message(f"Wind, {contact}", "Hang shade.", "It all.\n"), contact)
    store.start_attempt(1, NOW)
    store.finish_attempt(1, NOW, Outcome.FAILED_FOR_NOW, "busy", NOW)
    store.save_checkpoint("R7", NOW, "digest", bytes(range(256)))
    store.remember(PLACE, "nws", Remembered(cell="https://weather.test/gridpoints/LOT/76,73"))
    store.save_ensemble(PLACE, NOW, b"members" * 100)
    hours = [WeatherHour._make([NOW, *[0.5] * 8, "nws", NOW])]
    store.save_hours(PLACE, hours)
    store.note_foretold(PLACE, hours)


def read(store: Store) -> dict[str, list[str]]:
    """Return all that is read of what must not be read wrong, as words."""
    stacks = store.stacks(include_ended=True)
    return {
        "stack": [repr(replace(stack, events=())) for stack in stacks],
        "event": [repr(event) for stack in stacks for event in stack.events],
        "lot": list(map(repr, store.lots(include_ended=True))),
        "decision": list(map(repr, store.last_decisions())),
        "outbox": [repr(replace(row, maybe_repeat=False)) for row in store.outbox_due(NOW)],
        "outcome": [str(tuple(row)) for row in store.every("outcome")],
        "checkpoint": [repr(store.checkpoint("R7"))],
        "service": [repr(store.remembered(PLACE, "nws"))],
        "ensemble": [repr(store.ensemble(PLACE))],
    }


NOTHING = {
    "checkpoint": [repr(None)],
    "service": [repr(Remembered())],
    "ensemble": [repr(None)],
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a store with all kinds of rows, and one copy of it."""
    path = tmp_path / "data" / "drywind.db"
    with Store(path) as store:
        fill(store)
    nightly_backup(path, NOW)
    return path


def spoil(path: Path, at: int, bit: int = 0) -> None:
    """Flip one bit of a file."""
    with path.open("r+b") as file:
        file.seek(at)
        (byte,) = file.read(1)
        file.seek(at)
        file.write(bytes([byte ^ 1 << bit]))


def test_whatever_byte_is_flipped_nothing_is_read_but_what_was_written_and_all_comes_back(
    path: Path,
) -> None:
    with Store(path) as store:
        whole = read(store)
    good = path.read_bytes()
    chance = random.Random(7)
    used = [at for at, byte in enumerate(good) if byte and at >= 100]
    describes = [b"CREATE " in good[page : page + PAGE] for page in range(0, len(good), PAGE)]
    places = chance.sample([at for at in used if not describes[at // PAGE]], 120)
    places += chance.sample([at for at in used if describes[at // PAGE]], 30)
    found = {"file": 0, "rows": 0, "harmless": 0}
    for at in places:
        path.write_bytes(good)
        spoil(path, at, chance.randrange(8))
        try:
            with Store(path) as store:
                fault = fault_of(store._db)  # noqa: SLF001 - what `make_sound` asks
                damage = store.damage() if fault is None else []
                seen = read(store) if fault is None else None
        except StoreError:
            fault, seen = "cannot be read", None
        if seen is not None and not damage:
            assert seen == whole, f"byte {at} went unnoticed"
        if seen is not None and damage:
            for table, rows in seen.items():
                assert set(rows) <= {*whole[table], *NOTHING.get(table, [])}, f"byte {at}"
        found["file" if fault else "rows" if damage else "harmless"] += 1

        make_sound(path, LATER)

        with Store(path) as store:
            assert read(store) == whole, f"byte {at} was not put right"
            assert store.damage() == []
    assert min(found["file"], found["rows"]) > 30, found


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (b"creek R7", "stack R7"),
        (b"burlap", "event 1"),
        (b"1,200 bf", "lot L4"),
        (b"R7too_fastfirst", "decision 2"),
        (b"Wind, Amos", "outbox 1"),
        (b"failed_for_nowbusy", "outcome 1"),
        (bytes(range(1, 99)), "checkpoint R7"),
        (b"weather.test", f"service {PLACE}|nws"),
        (b"membersmembers", f"ensemble {PLACE}"),
    ],
)
def test_one_flipped_byte_in_a_row_of_every_kind_is_named_and_put_right_without_a_word(
    path: Path, words: bytes, named: str, caplog: pytest.LogCaptureFixture
) -> None:
    with Store(path) as store:
        whole = read(store)
    before = path.read_bytes()
    spoil(path, before.index(words) + len(words) - 1)

    with closing(look(path)[0]) as db:
        assert fault_of(db) is None, "SQLite alone does not see it"
    with Store(path) as store:
        assert named in store.damage()
        read(store)
    if named.split(maxsplit=1)[0] in {"stack", "event", "lot"}:
        assert f"{named} is not as it was written, and is not used" in caplog.text
    assert make_sound(path, LATER) is None
    assert f"rows damaged: {named}" in caplog.text
    with Store(path) as store:
        assert read(store) == whole
        assert store.damage() == []
        assert store.last_recovery() is None


def test_a_damaged_row_no_copy_has_is_dropped_if_it_can_be_made_anew_else_left_and_told_once(
    path: Path,
) -> None:
    for copy in newest_first(folder_of(path)):
        copy.unlink()
    for words in (b"creek R7", b"AmosAmosR7too_fast", b"members"):
        spoil(path, path.read_bytes().index(words) + 3)

    told = make_sound(path, LATER)

    assert told is not None
    assert (told.kind, told.backup_at) == (Kind.ROWS, None)
    assert told.detail == f"decision 1, ensemble {PLACE}, stack R7"
    with Store(path) as store:
        assert store.last_recovery() == told
        assert [s.id for s in store.stacks()] == ["W2"]
        assert [d.contact for d in store.last_decisions()] == ["Ruth"]
        assert store.damage() == ["stack R7"]
        again = replace(store.last_decisions()[0], contact="Amos")
        assert store.record(again, None, "Amos"), "its key is free, so it is said again"
    assert make_sound(path, LATER + timedelta(days=1)) is not None
    assert make_sound(path, LATER + timedelta(days=2)) is None


def test_a_row_written_after_the_copy_is_never_replaced_by_the_older_one(path: Path) -> None:
    with Store(path) as store:
        store.change_lot("L4", sawn_at=LATER)
    spoil(path, path.read_bytes().index(b"1,200 bf") + 3)

    told = make_sound(path, LATER)

    assert told is not None
    assert told.detail == "lot L4"
    with Store(path) as store:
        assert store.lots(include_ended=True) == []


@pytest.mark.parametrize("how", ["zeroed", "random"])
def test_a_spoiled_page_anywhere_is_found_and_the_newest_good_copy_takes_the_files_place(
    path: Path, how: str
) -> None:
    with Store(path) as store:
        whole = read(store)
    good = path.read_bytes()
    chance = random.Random(3)
    for page in range(len(good) // PAGE):
        spoiled = bytes(PAGE) if how == "zeroed" else chance.randbytes(PAGE)
        path.write_bytes(good[: page * PAGE] + spoiled + good[(page + 1) * PAGE :])

        told = make_sound(path, LATER + timedelta(seconds=page))

        with Store(path) as store:
            assert read(store) == whole, f"page {page}"
            assert store.damage() == []
            if told is not None:
                assert (told.kind, told.backup_at) == (Kind.RESTORED, NOW)
                assert store.last_recovery() == told
                assert all(row.maybe_repeat for row in store.outbox_due(NOW))
        assert make_sound(path, LATER) is None, "once put right it is not put right again"
    asides = list(path.parent.glob("drywind.db.damaged-*Z"))
    assert len(asides) == 3
    assert {file.stat().st_mode & 0o777 for file in asides} == {0o600}


def test_a_copy_that_is_damaged_itself_is_passed_over(path: Path) -> None:
    with Store(path) as store:
        store.add_event(Event("R7", LATER, EventKind.UNCOVERED, "burlap"))
    newer = nightly_backup(path, LATER)
    packed = newer.read_bytes()
    newer.write_bytes(packed[: len(packed) // 2])
    path.write_bytes(b"no database at all")

    told = make_sound(path, LATER)

    assert told is not None
    assert told.backup_at == NOW
    with Store(path) as store:
        assert len(store.stack("R7").events) == 2


def test_without_a_good_copy_the_store_begins_anew_and_says_so(path: Path) -> None:
    for copy in newest_first(folder_of(path)):
        copy.write_bytes(b"\x1f\x8b worn out")
    path.write_bytes(b"no database at all")

    told = make_sound(path, LATER)

    assert told is not None
    assert (told.kind, told.backup_at) == (Kind.BEGUN_ANEW, None)
    assert path.with_name("drywind.db.damaged-20260613T090000Z").read_bytes() == (
        b"no database at all"
    )
    with Store(path) as store:
        assert store.stacks() == []
        assert store.last_recovery() == told
    assert make_sound(path, LATER) is None


@pytest.mark.parametrize("trouble", ["gone", "empty"])
def test_a_store_that_lost_its_file_or_all_in_it_comes_back_from_the_copy(
    path: Path, trouble: str
) -> None:
    path.unlink()
    if trouble == "empty":
        path.touch()

    told = make_sound(path, LATER)

    assert told is not None
    assert told.detail == f"the file is {trouble}"
    with Store(path) as store:
        assert [s.id for s in store.stacks()] == ["R7", "W2"]


def test_a_first_start_and_a_sound_store_are_no_recovery(tmp_path: Path, path: Path) -> None:
    assert make_sound(tmp_path / "new" / "drywind.db", NOW) is None
    assert not (tmp_path / "new").exists()
    assert make_sound(path, NOW) is None


def test_a_store_of_a_newer_version_is_never_taken_for_damaged(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()

    with pytest.raises(NewerError, match="written by a newer drywind"):
        make_sound(path, LATER)

    assert path.read_bytes() == before


def test_a_damaged_index_is_built_anew_and_nothing_is_lost(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        root = db.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'decision_subject'"
        ).fetchone()[0]
    with Store(path) as store:
        store.add_event(Event("R7", LATER, EventKind.UNCOVERED, "burlap"))
        whole = read(store)
    whole_file = path.read_bytes()
    spoil(path, whole_file.index(b"AmosR7", (root - 1) * PAGE) + 1)

    assert make_sound(path, LATER) is None
    with Store(path) as store:
        assert read(store) == whole


def test_an_hour_of_weather_that_cannot_be_is_unknown_and_ends_no_pass(path: Path) -> None:
    """Hours have no seal: they are many, and are got again."""
    ahead = NOW + timedelta(days=2)
    with Store(path) as store:
        hours = [
            WeatherHour._make([ahead + timedelta(hours=n), *[0.5] * 8, "nws", NOW])
            for n in range(5)
        ]
        store.save_hours("creek", hours)
        store.note_foretold("creek", hours)
    with closing(sqlite3.connect(path)) as db, db:
        changes = (
            "temp_c = 1e300",
            "time_utc = time_utc + 1",
            "issued_at = issued_at + 8589934592",
        )
        for n, change in enumerate((*changes, "source = CAST(x'6e77f3' AS TEXT)")):
            at = int((ahead + timedelta(hours=n)).timestamp())
            db.execute(f"UPDATE weather_hour SET {change} WHERE time_utc = ?", (at,))
            if not change.startswith("source"):
                db.execute(f"UPDATE foretold SET {change} WHERE time_utc = ?", (at,))

    with Store(path) as store:
        hot, strange, whole = store.hours("creek", ahead, ahead + timedelta(days=1))
        assert hot.temp_c != hot.temp_c
        assert strange.source == "nw\ufffd"
        assert whole == hours[4]
        assert store.latest_issue("creek", "nws", ahead) == NOW
        temps = [row[4] for row in store.foretold("creek", "nws", NOW)]
        assert temps in ([0.5], [None], [None, 0.5])


def test_a_damaged_store_is_told_from_one_that_cannot_be_reached(path: Path) -> None:
    path.write_bytes(b"# notes about lumber\n" * 100)
    with pytest.raises(DamagedError):
        Store(path)
    path.unlink()
    path.mkdir()
    with pytest.raises(StoreError) as caught:
        Store(path)
    assert not isinstance(caught.value, DamagedError)


def test_no_copy_is_made_of_a_damaged_store(path: Path) -> None:
    good = path.read_bytes()
    path.write_bytes(good[: 3 * PAGE] + bytes(PAGE) + good[4 * PAGE :])

    with pytest.raises(DamagedError, match=r"drywind\.db: the file is damaged"):
        nightly_backup(path, LATER)

    assert len(newest_first(folder_of(path))) == 1
    assert not list(folder_of(path).glob(".drywind-*"))


def test_kill_nine_while_a_damaged_store_is_replaced_harms_nothing(path: Path) -> None:
    """At every moment there is the damaged file or the good one, and the next start ends well."""
    code = """
        import sys
        from datetime import UTC, datetime
        from pathlib import Path
        from drywind.db.recovery import make_sound
        print("begun", flush=True)
        make_sound(Path(sys.argv[1]), datetime.now(UTC))
    """
    with Store(path) as store:
        whole = read(store)
    good = path.read_bytes()
    broken = good[: 4 * PAGE] + bytes(4 * PAGE) + good[8 * PAGE :]
    path.write_bytes(broken)
    ends = set()
    for _ in killed(code, 30, path):
        assert path.exists()
        ends.add(path.read_bytes() == broken)
        make_sound(path, LATER)
        with Store(path) as store:
            assert read(store) == whole
        for left in path.parent.glob("drywind.db-*"):
            left.unlink()
        path.write_bytes(broken)

    assert ends == {True, False}, "no kill came while it mattered"
    shutil.rmtree(path.parent)
