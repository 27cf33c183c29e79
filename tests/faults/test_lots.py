"""Log lots entered wrongly, twice, or too late, and rows and weather that make no sense."""

import logging
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.conftest import Command, WeatherService, Yard

from drywind.errors import UsageError
from drywind.store import Store
from drywind.units import Thickness
from drywind.yard import LogLot, Setup, Stack, Storage

FELLED = datetime(2025, 6, 11, 18, tzinfo=UTC)
DAY = timedelta(days=1)
LOT = LogLot(
    id="L4",
    species="hard_maple",
    felled_at=FELLED,
    site="gravel lot",
    volume="1,200 bf",
    end_coated=True,
    stored=Storage.SHADE,
)
ADD = "lot add L9 --species hard_maple --felled 2025-06-11T13:00 --site shed"
"""Of an option given twice the last one counts."""
WRONG_TIME = "is not a time; write it like 2026-06-13T07:30 (local) or 2026-06-13T12:30Z"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "drywind.db"


def stack(name: str) -> Stack:
    return Stack(name, "red_oak", Thickness.parse("4/4"), FELLED, Setup("gravel lot"))


def test_lots_come_back_as_they_went_in_and_change_once(path: Path) -> None:
    plain = LogLot("B1", "beech", FELLED - DAY, "old barn")
    with Store(path) as store:
        store.add_lot(LOT)
        store.add_lot(plain)
        store.change_lot("L4", sawn_at=FELLED + DAY)
    with Store(path) as store:
        store.change_lot("L4", ended_at=FELLED + 2 * DAY)
        gone = replace(LOT, sawn_at=FELLED + DAY, ended_at=FELLED + 2 * DAY)

        assert store.lots(include_ended=True) == [plain, gone]
        assert store.lots() == [plain]
        assert store.lot("L4") == gone
        with pytest.raises(UsageError, match=r"L4 was sawn at 2025-06-12 18:00 UTC; that stays"):
            store.change_lot("L4", sawn_at=FELLED + 3 * DAY)
        with pytest.raises(UsageError, match=r"L4 was ended at 2025-06-13 18:00 UTC; that stays"):
            store.change_lot("L4", ended_at=FELLED + 3 * DAY)
        with pytest.raises(UsageError, match=r"there is no lot 'L5'; did you mean L4\?"):
            store.change_lot("L5", sawn_at=FELLED)
        assert store.lot("L4") == gone


def test_a_name_is_taken_once_by_a_lot_or_a_stack(path: Path) -> None:
    with Store(path) as store:
        store.add_lot(LOT)
        store.add_stack(stack("R7"))

        with pytest.raises(UsageError, match="there already is a lot L4; take another name"):
            store.add_lot(replace(LOT, species="beech"))
        with pytest.raises(UsageError, match="there already is a stack R7; take another name"):
            store.add_lot(replace(LOT, id="R7"))
        with pytest.raises(UsageError, match="there already is a lot L4; take another name"):
            store.add_stacks([stack("R8"), stack("L4")])

        assert store.lots() == [LOT]
        assert [s.id for s in store.stacks()] == ["R7"]


def test_a_row_that_makes_no_sense_is_left_out_and_told(
    path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with Store(path) as store:
        for name in ("L1", "L2", "L3"):
            store.add_lot(replace(LOT, id=name))
        db = store._db  # noqa: SLF001 - what no command writes
        db.execute("UPDATE lot SET stored = 'afloat' WHERE id = 'L1'")
        db.execute(f"UPDATE lot SET felled_at = {10**17} WHERE id = 'L2'")

        with caplog.at_level(logging.ERROR):
            assert [lot.id for lot in store.lots()] == ["L3"]
        assert "lot L1 cannot be read: 'afloat'" in caplog.text
        assert "lot L2 cannot be read: " in caplog.text


def test_a_store_from_before_lots_takes_them_and_keeps_its_names(path: Path) -> None:
    before = Path(__file__).with_name("store_version_3.sql").read_text(encoding="utf-8")
    path.parent.mkdir(exist_ok=True)
    with closing(sqlite3.connect(path)) as db:
        db.executescript(before)

    with Store(path) as store:
        store.add_lot(LOT)
        with pytest.raises(UsageError, match="there already is a stack R7"):
            store.add_lot(replace(LOT, id="R7"))

        assert store.lots() == [LOT]
        assert [s.id for s in store.stacks()] == ["Q3", "R7", "W2"]


@pytest.fixture
def lots(quick: Command) -> None:
    """L4 waits in the shed; E1 was sawn and is gone; R7 is a stack."""
    told = ("--species", "hard maple", "--felled", "2025-06-11T13:00", "--site", "shed")
    for name in ("L4", "E1"):
        assert quick("lot", "add", name, *told).code == 0
    assert quick("lot", "sawn", "E1", "--at", "2025-06-12T13:00").code == 0
    assert quick("lot", "end", "E1", "--at", "2025-06-13T13:00").code == 0
    oak = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
    assert quick("stack", "add", "R7", *oak).code == 0


@pytest.mark.usefixtures("lots")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (ADD.replace("L9", "west-of-the-mill"), "cannot name a stack or a lot; use up to 12"),
        (ADD.replace("L9", "L4"), "there already is a lot L4; take another name"),
        (ADD.replace("L9", "E1"), "there already is a lot E1; take another name"),
        (ADD.replace("L9", "R7"), "there already is a stack R7; take another name"),
        (
            "stack add L4 --species beech --thickness 4/4 --site shed",
            "there already is a lot L4; take another name",
        ),
        (f"{ADD} --species maple", "'maple' is not a species drywind knows; did you mean"),
        (f"{ADD} --site loft", "no site named 'loft'; there are: gravel, shed, barn"),
        (f"{ADD} --felled yesterday", f"'yesterday' {WRONG_TIME}"),
        (f"{ADD} --felled 2025-06-31", f"'2025-06-31' {WRONG_TIME}"),
        (f"{ADD} --felled 1925-06-11", "'1925-06-11' is too long ago or too far ahead"),
        (f"{ADD} --volume {'x' * 25}", 'use up to 24 letters, like "1,200 bf"'),
        ("lot sawn L5", "there is no lot 'L5'; did you mean L4"),
        ("lot sawn R7", "there is no lot 'R7'; did you mean"),
        ("lot end L5", "there is no lot 'L5'; did you mean L4"),
        ("lot sawn L4 --at noon", f"'noon' {WRONG_TIME}"),
        ("lot sawn L4 --at 2025-06-11T12:00", "L4 was felled only at 2025-06-11 18:00 UTC"),
        ("lot end L4 --at 2025-06-11T12:00", "L4 was felled only at 2025-06-11 18:00 UTC"),
        ("lot end E1 --at 2025-06-12T12:00", "E1 was sawn only at 2025-06-12 18:00 UTC"),
        ("lot sawn E1", "E1 was ended at 2025-06-13 18:00 UTC"),
        ("lot end E1", "E1 was ended at 2025-06-13 18:00 UTC; that stays"),
        ("lot list --now soon", f"'soon' {WRONG_TIME}"),
    ],
)
def test_a_wrong_word_about_a_lot_ends_with_2_and_one_plain_line(
    yard: Yard, quick: Command, arguments: str, words: str
) -> None:
    before = yard.sql("SELECT * FROM lot")

    done = quick(*arguments.split())

    assert (done.code, done.stdout) == (2, "")
    assert words in done.stderr
    assert done.stderr.count("\n") == 1
    assert yard.sql("SELECT * FROM lot") == before


@pytest.mark.usefixtures("lots")
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ("lot add L9 --species beech --site shed", "Missing option '--felled'"),
        (f"{ADD} --stored afloat", "'afloat' is not one of 'open', 'shade', 'sprinkled'"),
        ("lot burn L4", "No such command 'burn'"),
    ],
)
def test_a_word_the_command_line_does_not_know_is_named(
    quick: Command, arguments: str, words: str
) -> None:
    done = quick(*arguments.split())

    assert (done.code, done.stdout) == (2, "")
    assert words in done.stderr.splitlines()[-1]


@pytest.mark.usefixtures("lots")
@pytest.mark.parametrize("command", [ADD + " --felled", "lot sawn L4 --at", "lot end L4 --at"])
def test_what_has_not_happened_yet_is_refused(yard: Yard, quick: Command, command: str) -> None:
    soon = (datetime.now(UTC) + timedelta(hours=2)).isoformat()

    done = quick(*command.split(), soon)

    assert (done.code, done.stderr) == (2, f"{soon!r} lies ahead; tell it once it has happened\n")
    assert yard.sql("SELECT sawn_at, ended_at FROM lot WHERE id = 'L4'") == [(None, None)]
    assert yard.sql("SELECT count(*) FROM lot") == [(2,)]


@pytest.mark.usefixtures("lots")
def test_a_volume_that_could_upset_a_terminal_is_refused(quick: Command) -> None:
    done = quick(*ADD.split(), "--volume", "1\n2")

    assert (done.code, done.stderr) == (
        2,
        "--volume '1\\n2': use up to 24 letters, like \"1,200 bf\"\n",
    )


@pytest.mark.usefixtures("lots")
def test_a_lot_that_cannot_be_judged_is_listed_as_unknown_beside_the_others(
    yard: Yard, quick: Command
) -> None:
    assert quick(*ADD.split()).code == 0
    yard.sql("UPDATE lot SET site = 'loft' WHERE id = 'L4'")
    yard.sql("UPDATE lot SET species = 'balsa' WHERE id = 'E1'")
    during = ("--now", "2025-06-12T13:00")

    lines = quick("lot", "list", *during).stdout.splitlines()

    assert lines == [
        "E1           balsa, shed: felled 1.0 days ago",
        "    sawn 0.0 days ago, not stacked",
        "    unknown: 'balsa' is not a species drywind knows; did you mean magnolia,",
        "    basswood, black_ash, aspen?",
        "L4           hard maple, loft: felled 1.0 days ago",
        "    in the open",
        "    unknown: no site named 'loft' in the configuration",
        "L9           hard maple, shed: felled 1.0 days ago",
        "    in the open",
        "    at least sugar stain 0 %, blue stain 0 % of what the wood bears",
        "    when to saw is unknown: no forecast",
        "    insects: at least 0 warm hours so far",
    ]
    assert [row["id"] for row in quick("lot", "list", *during, "--json").json] == ["E1", "L4", "L9"]


def test_a_yard_without_lots_lists_none(quick: Command) -> None:
    assert (quick("lot", "list").stdout, quick("lot", "list", "--json").json) == ("", [])


@pytest.mark.parametrize("waits", [True, False])
def test_a_pass_asks_for_the_weather_a_lot_has_lain_in(
    yard: Yard, quick: Command, weather_service: WeatherService, waits: bool
) -> None:
    """Observed hours are asked for only where past hours matter."""
    now = "2025-06-14T18:00Z"
    weather_service.issue(datetime.fromisoformat(now), [(20.0, 60.0, 2.0)] * 174)
    assert quick(*ADD.split()).code == 0
    if not waits:
        assert quick("lot", "end", "L9", "--at", "2025-06-13T13:00").code == 0

    assert quick("watch", "--once", "--dry-run", "--now", now).code == 0

    asked = yard.sql("SELECT asked_at FROM service WHERE name = 'nws_obs'")
    assert asked == ([(datetime.fromisoformat(now).timestamp(),)] if waits else [])
