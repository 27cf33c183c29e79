"""Files of every version of the store there was, brought up to date with nothing lost."""

import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest
from tests.faults.killing import killed

from drywind.db import opening
from drywind.db.backups import folder_of, newest_first, unpacked
from drywind.db.tables import UPGRADES, VERSION
from drywind.errors import StoreError
from drywind.store import Store

SEALED_SINCE = 7
"""Stores of this version and later are too many words as text; `test_store.py` has one made."""
MOVED = {"cell": "service"}
"""Where the rows of tables are that there are no more."""


def store_of(version: int, path: Path) -> Path:
    """Make the file that version of the tables wrote."""
    words = Path(__file__).with_name(f"store_version_{version}.sql").read_text(encoding="utf-8")
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(path)) as db:
        db.executescript(words)
    return path


def contents(path: Path) -> dict[str, Counter[frozenset[tuple[str, object]]]]:
    """Return all rows, by table, as sets of named values; what is NULL or empty tells nothing."""
    with closing(sqlite3.connect(path)) as db:
        db.row_factory = sqlite3.Row
        tables = [row[0] for row in db.execute("SELECT name FROM sqlite_schema WHERE type='table'")]
        return {
            name: Counter(
                frozenset((c, row[c]) for c in row.keys() if row[c] not in {None, ""})  # noqa: SIM118
                for row in db.execute(f"SELECT * FROM {name}")
            )
            for name in tables
        }


@pytest.mark.parametrize("version", range(1, SEALED_SINCE))
def test_a_file_of_each_version_is_brought_up_to_date_and_loses_nothing(
    tmp_path: Path, version: int
) -> None:
    path = store_of(version, tmp_path / "drywind.db")
    before = contents(path)

    with Store(path) as store:
        assert store.damage() == []
        assert {"R7", "W2"} <= {s.id for s in store.stacks()}
    after = contents(path)

    for table, rows in before.items():
        if table in MOVED:
            kept = {value for row in after[MOVED[table]] for _, value in row}
            assert {value for row in rows for _, value in row} <= kept
            continue
        for row in rows:
            assert any(row <= found for found in after[table]), f"{table}: {dict(row)}"
        assert after[table].total() == rows.total()


@pytest.mark.parametrize("version", range(1, SEALED_SINCE))
def test_the_old_file_is_saved_first_and_can_be_unpacked_as_it_was(
    tmp_path: Path, version: int
) -> None:
    path = store_of(version, tmp_path / "drywind.db")
    before = contents(path)

    Store(path).close()
    Store(path).close()

    [copy] = newest_first(folder_of(path))
    assert copy.name.startswith(f"drywind-version-{version}-")
    assert copy.stat().st_mode & 0o777 == 0o600
    assert folder_of(path).stat().st_mode & 0o777 == 0o700
    with unpacked(copy, tmp_path) as plain, closing(sqlite3.connect(plain)) as db:
        assert db.execute("PRAGMA user_version").fetchone() == (version,)
        assert contents(plain) == before


def test_a_store_that_cannot_be_saved_first_is_not_changed(tmp_path: Path) -> None:
    path = store_of(3, tmp_path / "drywind.db")
    before = contents(path)
    folder_of(path).write_text("no folder")

    with pytest.raises(StoreError, match="backups: "):
        Store(path)

    assert contents(path) == before
    folder_of(path).unlink()
    Store(path).close()


def test_there_is_a_file_of_each_version_before_rows_were_sealed() -> None:
    assert len(UPGRADES) == VERSION >= SEALED_SINCE
    files = {path.name for path in Path(__file__).parent.glob("store_version_*.sql")}
    assert files == {f"store_version_{n}.sql" for n in range(1, SEALED_SINCE)}


def test_a_row_found_damaged_before_an_upgrade_is_not_sealed_by_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = store_of(5, tmp_path / "drywind.db")
    Store(path).close()
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("UPDATE stack SET species = 'red_oaj' WHERE id = 'R7'")
    later = (*UPGRADES, "ALTER TABLE stack ADD COLUMN shade TEXT NOT NULL DEFAULT ''")
    monkeypatch.setattr(opening, "UPGRADES", later)
    monkeypatch.setattr(opening, "VERSION", len(later))

    with closing(opening.connect(path)) as db:
        sound = db.execute("SELECT id FROM sound_stack ORDER BY id").fetchall()

    assert [row["id"] for row in sound] == ["Q3", "W2"]


def test_kill_nine_within_an_upgrade_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    code = """
        import sys
        from pathlib import Path
        from drywind.store import Store
        print("begun", flush=True)
        Store(Path(sys.argv[1])).close()
    """
    path = store_of(2, tmp_path / "drywind.db")
    before = contents(path)
    found = Counter[int]()
    for _ in killed(code, 30, path):
        with closing(sqlite3.connect(path)) as db:
            [version] = db.execute("PRAGMA user_version").fetchone()
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        found[version] += 1
        if version == 2:
            assert contents(path) == before
        with Store(path) as store:
            assert [s.id for s in store.stacks()] == ["Q3", "R7", "W2"]
            assert store.damage() == []
        for file in path.parent.glob("drywind.db*"):
            file.unlink()
        store_of(2, path)

    assert set(found) == {2, VERSION}, f"no kill came while it mattered: {found}"
