"""The first hour: questions on a real terminal, a test message, a stack from a sentence."""

import csv
import os
import pty
import select
import stat
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from tests.conftest import Command, Phone, Yard

from drywind.cli.sentence import read_sentence
from drywind.config import load
from drywind.config.first import Answers, first_config
from drywind.errors import UsageError
from drywind.store import Store
from drywind.units import Units

ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2026, 6, 13, 15, tzinfo=UTC)
SITES = ("gravel lot", "long shed")
PLACE = "44.5, -72.5, 800 ft"
LONGEST_WAIT_S = 60.0


@dataclass
class Terminal:
    """A person's terminal."""

    handle: int
    seen: str = ""
    shown: str = ""

    def expect(self, words: str) -> None:
        """Wait until these words are on the screen, after those waited for before."""
        end = time.monotonic() + LONGEST_WAIT_S
        while words not in self.seen:
            ready, _, _ = select.select([self.handle], [], [], end - time.monotonic())
            assert ready, f"{words!r} did not come; the screen shows: {self.seen}"
            said = os.read(self.handle, 4096).decode()
            self.seen, self.shown = self.seen + said, self.shown + said
        self.seen = self.seen.partition(words)[2]

    def type(self, answer: str) -> None:
        """Type an answer and press Enter."""
        os.write(self.handle, f"{answer}\n".encode())


@contextmanager
def terminal(*arguments: object) -> Iterator[tuple[Terminal, "subprocess.Popen[bytes]"]]:
    """Run drywind on a terminal of its own."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "drywind", *map(str, arguments)],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
    ) as process:
        os.close(theirs)
        try:
            yield Terminal(ours), process
            assert process.wait(LONGEST_WAIT_S) == 0
        finally:
            process.kill()
            os.close(ours)


def test_six_questions_a_test_message_and_a_first_stack(
    phone: Phone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    target = tmp_path / "yard" / "config.toml"

    with terminal("init", "--config", target) as (screen, _):
        screen.expect("1. What is the yard called?")
        screen.type("Hillside")
        screen.expect("2. Where is it?")
        screen.type("somewhere")
        screen.expect("'somewhere' is not a place; write it like 41.98, -87.90, 673 ft")
        screen.expect("2. Where is it?")
        screen.type(PLACE)
        screen.expect("3. Its time zone? [America/New_York]")
        screen.type("")
        screen.expect("4. Units, us or metric? [us]")
        screen.type("")
        screen.expect("5. Your e-mail address")
        screen.type("sawyer@yard.test")
        screen.expect("6. Where do warnings go?")
        screen.type(phone.url)
        screen.expect(f"Wrote {target}.")
        screen.expect("A test message is on its way")
        screen.expect("Stack (Enter for none)")
        screen.type("red oak somehow")
        screen.expect("how thick is it?")
        screen.expect("Stack (Enter for none)")
        screen.type("red oak 4/4 stacked yesterday in the gravel lot")
        screen.expect("RO1: red oak 4/4; at gravel lot; stacked ")
        screen.expect("Is that right? [Y/n]")
        screen.type("")
        screen.expect("RO1 at gravel lot")
        screen.expect("Stack (Enter for none)")
        screen.type("")
        screen.expect("Next: drywind watch --once --dry-run")
        assert phone.url not in screen.shown

    config = load(target, {})
    assert phone.texts == ["drywind test from Hillside: if you read this, warnings reach you."]
    assert (config.yard_name, config.zone.key, config.units) == (
        "Hillside",
        "America/New_York",
        "us",
    )
    assert [(s.lat, s.lon, round(s.altitude_m, 1)) for s in config.sites.values()] == [
        (44.5, -72.5, 243.8)
    ]
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    secret = target.parent / "secrets" / "phone.url"
    assert secret.read_text() == f"{phone.url}\n"
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert phone.url not in target.read_text()


def test_a_sentence_is_shown_back_and_registered_once_confirmed(yard: Yard) -> None:
    with terminal("--config", yard.config, "stack", "tell", "red oak 4/4 in the shed") as at:
        screen, _ = at
        screen.expect("RO1: red oak 4/4; at shed; stacked ")
        screen.expect("Is that right? [Y/n]")
        screen.type("n")
        screen.expect("Nothing was registered.")
    assert yard.sql("SELECT id FROM stack") == []

    with terminal("--config", yard.config, "stack", "tell", "red oak 4/4 in the shed") as at:
        screen, _ = at
        screen.expect("Is that right? [Y/n]")
        screen.type("")
        screen.expect("RO1 at shed")
    assert [tuple(row) for row in yard.sql("SELECT id, species, site FROM stack")] == [
        ("RO1", "red_oak", "shed")
    ]


def test_where_nobody_can_be_asked_options_answer(quick: Command, tmp_path: Path) -> None:
    target = tmp_path / "config.toml"

    lacking = quick("init", "--config", target, "--yard", "Hillside")
    assert lacking.code == 2
    assert lacking.stderr == "--place, --contact also needed where nobody can be asked\n"
    assert not target.exists()

    done = quick(
        *("init", "--config", target, "--yard", "Hillside", "--place", "61.5 10.1 200 m"),
        *("--contact", "sawyer@yard.test"),
    )
    assert (done.code, done.stderr) == (0, "")
    config = load(target, {})
    assert (config.zone.key, config.units) == ("Europe/Oslo", Units.METRIC)
    assert config.contacts == {}


@pytest.mark.parametrize("kind", [None, "text", "email"])
def test_a_first_configuration_asks_for_no_change(kind: str | None) -> None:
    text = first_config(
        Answers(
            "O'Brien & Co", 44.5, -72.5, "800 ft", "America/New_York", Units.US, "a@b.org", kind
        )
    )

    told = tomllib.loads(text)
    assert "# CHANGE" not in "\n".join(line for line in text.splitlines() if line[:1] != "#")
    assert told["yard"]["name"] == "O'Brien & Co"
    assert [site["name"] for site in told["sites"]] == ["gravel lot"]
    assert [c["kind"] for c in told.get("contacts", [])] == ([kind] if kind else [])


SAID = {
    "red oak 4/4 stacked yesterday in the gravel lot": {
        "id": "RO1",
        "species": "red_oak",
        "thickness": "4/4",
        "site": "gravel lot",
        "stacked": "2026-06-12T17:00:00+00:00",
    },
    "R7: White Oak 8/4, long shed, three days ago under a pile roof": {
        "id": "R7",
        "species": "white_oak",
        "thickness": "8/4",
        "site": "long shed",
        "stacked": "2026-06-10T17:00:00+00:00",
        "measures": "pile_roof",
    },
    "quartersawn cherry 27 mm at long shed on Monday on 3/4 in stickers, called HM-2": {
        "id": "HM-2",
        "species": "black_cherry",
        "thickness": "27mm",
        "site": "long shed",
        "stacked": "2026-06-08T17:00:00+00:00",
        "sticker": "3/4 in",
        "traits": "quartersawn",
    },
    "hard maple 6/4 gravel lot Dec 24 at 60 % with burlap": {
        "id": "HM1",
        "species": "hard_maple",
        "thickness": "6/4",
        "site": "gravel lot",
        "stacked": "2025-12-24T18:00:00+00:00",
        "green_mc": "60",
        "measures": "burlap",
    },
}


@pytest.mark.parametrize("sentence", SAID)
def test_a_sentence_tells_a_stack(sentence: str) -> None:
    told = read_sentence(sentence, SITES, (), ZONE, NOW)

    assert (dict(told.given), told.unread) == (SAID[sentence], ())


def test_today_is_never_ahead_and_a_name_is_never_taken_twice() -> None:
    early = datetime(2026, 6, 13, 11, tzinfo=UTC)

    told = read_sentence("red oak 4/4 today, gravel lot", SITES, ("RO1", "RO2"), ZONE, early)

    assert told.given["stacked"] == "2026-06-13T11:00:00+00:00"
    assert told.given["id"] == "RO3"


def test_words_that_are_not_understood_are_told() -> None:
    told = read_sentence("red oak 4/4 behind the old gravel lot", SITES, (), ZONE, NOW)

    assert told.unread == ("behind", "old")


@pytest.mark.parametrize(
    ("sentence", "asked"),
    [
        ("oak 4/4 gravel lot", "which oak is it? There are: red_oak, red_oak_lowland"),
        ("4/4 gravel lot", "which wood is it?"),
        ("red oak gravel lot", "how thick is it?"),
        ("red oak 4/4", "where does it stand? Name the site; there are: gravel lot, long shed"),
        ("red oak 4/4 gravel lot Feb 30", "'Feb 30' is no day there is"),
    ],
)
def test_what_a_sentence_lacks_is_asked_for(sentence: str, asked: str) -> None:
    with pytest.raises(UsageError, match=asked.replace("?", r"\?")):
        read_sentence(sentence, SITES, (), ZONE, NOW)


def test_sample_boards_and_how_a_stack_came_out_are_exported_and_imported(
    yard: Yard, quick: Command, tmp_path: Path
) -> None:
    wood = ("--species", "red_oak", "--thickness", "4/4", "--site", "shed")
    quick("stack", "add", "R7", *wood, "--stacked", "2026-05-01T15:00Z")
    cut = ("--weight", "1950 g", "--section", "95 g/50 g", "--position", "edge")
    assert quick("stack", "sample", "R7", "A", *cut, "--at", "2026-05-01T16:00Z").code == 0
    weighed = ("--board", "A", "--weight", "1800 g", "--at", "2026-05-04T16:00Z", "--sure")
    assert quick("stack", "weigh", "R7", *weighed).code == 0
    assert quick("stack", "end", "R7", "--checks", "some", "--at", "2026-05-09T16:00Z").code == 0
    with Store(yard.data / "drywind.db") as store:
        before = [(e.time, e.kind, e.detail) for e in store.stack("R7").events]
    file = tmp_path / "stacks.csv"
    assert quick("stack", "export", file, "--all").code == 0
    (yard.data / "drywind.db").unlink()

    done = quick("stack", "import", file)

    assert done.code == 0, done.stderr
    with Store(yard.data / "drywind.db") as store:
        assert [(e.time, e.kind, e.detail) for e in store.stack("R7").events] == before
    file.write_text(file.read_text().replace("1.95", "much"))
    (yard.data / "drywind.db").unlink()
    assert quick("stack", "import", file).code == 2


def test_what_is_exported_is_imported_as_it_was(yard: Yard, quick: Command, tmp_path: Path) -> None:
    quick(
        *("stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4", "--site", "gravel"),
        *("--stacked", "2026-05-01T15:00Z", "--sticker", "3/4 in", "--green-mc", "78.5"),
        *("--measures", "pile_roof burlap", "--quartersawn"),
    )
    for told in (
        ("moved", "shed", "--at", "2026-05-03T09:30Z"),
        ("uncovered", "burlap", "--at", "2026-05-04T09:30Z"),
        ("restickered", "1 1/4 in", "--at", "2026-05-05T09:30Z"),
        ("weighed", "55.5", "--at", "2026-05-06T09:30Z"),
        ("felled", "--at", "2026-04-20T12:00Z"),
    ):
        assert quick("stack", "event", "R7", *told).stderr == ""
    before = quick("stack", "list", "--json").json
    file = tmp_path / "stacks.csv"

    assert quick("stack", "export", file).code == 0
    yard.sql("DELETE FROM event")
    yard.sql("DELETE FROM checkpoint")
    yard.sql("DELETE FROM stack")
    assert quick("stack", "import", file).stderr == ""

    after = quick("stack", "list", "--json").json
    for row in (*before, *after):
        row.pop("age_days")
    assert after == before
    assert [row["id"] for row in csv.DictReader(file.read_text().splitlines())] == ["R7"]
    assert quick("stack", "export").stdout == file.read_text()


@pytest.mark.parametrize(
    ("events", "fault"),
    [
        ("2026-05-03 sawed", "'sawed' does not happen to a stack; allowed: felled"),
        ("yesterday moved shed", "'yesterday' is not a time"),
        ("2026-05-03 moved attic", "no site named 'attic'"),
    ],
)
def test_a_fault_among_events_is_told_by_its_line(
    events: str, fault: str, quick: Command, tmp_path: Path
) -> None:
    file = tmp_path / "stacks.csv"
    file.write_text(f"id,species,thickness,site,events\nR7,red oak,4/4,gravel,{events}\n")

    done = quick("stack", "import", file)

    assert done.code == 2
    assert done.stderr.startswith(f"{file}, line 2: {fault}")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_is_told_how_to_complete(shell: str, quick: Command) -> None:
    done = quick("completion", shell)

    assert done.code == 0
    assert "_DRYWIND_COMPLETE" in done.stdout


def test_the_names_of_stacks_are_completed(
    yard: Yard, quick: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick("stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4", "--site", "gravel")
    monkeypatch.setenv("_DRYWIND_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", f"drywind --config {yard.config} stack show R")
    monkeypatch.setenv("COMP_CWORD", "5")
    done = subprocess.run(
        [sys.executable, "-c", "from drywind.cli import drywind; drywind(prog_name='drywind')"],
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.stdout.splitlines() == ["plain,R7"]
