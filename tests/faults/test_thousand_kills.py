"""A thousand kill -9 at random instants of passes and deliveries: nothing lost, little twice.

The mail server and the store are real. Lost is danger that nobody was told of; a message that
comes again is worth one kill at most.
"""

import json
import re
import sqlite3
import subprocess
import sys
from collections import Counter
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.conftest import Mailbox, Yard
from tests.faults.lives import EVERY_H, STACKS, harms

HOUR = timedelta(hours=1)


def killed(yard: Yard, kind: str, kills: int, longest_s: float) -> dict[str, Any]:
    """Kill lives of the yard's watch; return what the harness told."""
    ended = subprocess.run(
        [
            *(sys.executable, "-W", "ignore", "-m", "tests.faults.lives"),
            *(kind, str(yard.config), str(kills), str(longest_s), "2026"),
        ],
        cwd=Path(__file__).parents[2],
        check=True,
        capture_output=True,
        text=True,
    )
    found: dict[str, Any] = json.loads(ended.stdout)
    return found


def copies(mailbox: Mailbox) -> Counter[str]:
    """Return how often each mail came, by its identity."""
    return Counter(mail["Message-ID"] for mail in mailbox.mails)


def hold_sound(yard: Yard, mailbox: Mailbox, kills: int, record: Any) -> None:
    """Hold the store and what came to what is promised."""
    rows = yard.sql("SELECT count(*), sum(state = 'sent') FROM outbox")
    came = copies(mailbox)
    twice = sum(count - 1 for count in came.values())
    record("kills", f"{kills}: {rows[0][0]} messages, {twice} of them came twice, 0 lost")
    with closing(sqlite3.connect(yard.data / "drywind.db")) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert rows[0] == (len(came), len(came)), "a message that was decided never came"
    assert twice <= kills
    assert max(came.values()) <= 1 + kills
    unmarked = Counter(m["Message-ID"] for m in mailbox.mails if "(repeat?)" not in m["Subject"])
    assert max(unmarked.values(), default=1) == 1, "what comes again is marked"


def only_mail(yard: Yard) -> None:
    """Leave a mailbox alone, which hears of every danger and its end."""
    text = yard.config.read_text()
    yard.config.write_text(re.sub(r"\[\[contacts\]\]\nname = \"Ada phone\"[^[]*", "", text))
    yard.data.mkdir()


def test_950_kills_of_scripted_passes_and_real_deliveries(
    yard: Yard, mailbox: Mailbox, monkeypatch: pytest.MonkeyPatch, record_property: Any
) -> None:
    monkeypatch.delenv("DRYWIND_URL_ADA")
    only_mail(yard)

    told = killed(yard, "scripted", 950, 0.12)

    hold_sound(yard, mailbox, 950, record_property)
    until = datetime.fromisoformat(told["until"])
    begun = {(f"R{i}", at) for i in range(STACKS) for at in harms(i, until)}
    assert len(begun) > 20, "too little happened"
    warned = {
        (stack, onset)
        for stack, onset in yard.sql(
            "SELECT stack, onset FROM decision JOIN outbox USING (id) WHERE reason = 'first'"
        )
    }
    unwarned = {
        (stack, at)
        for stack, at in begun
        if not any(s == stack and abs(on - at.timestamp()) < EVERY_H / 2 * 3600 for s, on in warned)
    }
    assert unwarned == set()


@pytest.mark.usefixtures("oak")
def test_50_kills_of_whole_passes(
    yard: Yard, mailbox: Mailbox, monkeypatch: pytest.MonkeyPatch, record_property: Any
) -> None:
    monkeypatch.delenv("DRYWIND_URL_ADA")
    text = yard.config.read_text()
    yard.config.write_text(re.sub(r"\[\[contacts\]\]\nname = \"Ada phone\"[^[]*", "", text))

    killed(yard, "whole", 50, 2.0)

    hold_sound(yard, mailbox, 50, record_property)
    assert any("R7" in mail["Subject"] for mail in mailbox.mails)
