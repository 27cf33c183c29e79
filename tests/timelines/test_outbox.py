"""What a pass puts in the outbox of contacts who want to hear different things."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from tests.messages.outlooks import NOW, ZONE
from tests.timelines.scripts import (
    AWAKE,
    HOUR,
    OVER,
    SAFE,
    WARNINGS_ONLY,
    Script,
    Sight,
    hourly,
    lasting,
)

from drywind.config import Config, Contact, Policy, WeatherSettings
from drywind.speaking import speak, stack_matters
from drywind.store import Store
from drywind.units import Units


def outbox(folder: Path, script: Script, *contacts: Contact) -> dict[str, list[str]]:
    """Do the passes on a store; return what each contact was to be told, shortened."""
    config = Config(
        "Yard",
        ZONE,
        Units.US,
        folder,
        WeatherSettings(contact="yard@example.com"),
        {},
        {contact.name: contact for contact in contacts},
        Policy(),
    )
    with Store(folder / "drywind.db") as store:
        for now, sight in script:
            speak(config, store, stack_matters(sight.outlook(now), now), now)
        rows = store.outbox_due(NOW)
    told: dict[str, list[str]] = {contact.name: [] for contact in contacts}
    for row in rows:
        words = row.message.text.removeprefix("drywind R7 red oak 4/4, gravel: ")
        told[row.contact].append(re.split(" by | now| through ", words)[0])
    return told


def test_who_wants_no_all_clear_gets_none_and_then_a_first_warning_again(tmp_path: Path) -> None:
    script = hourly(Sight(1.6), *[SAFE] * 30, Sight(1.1))

    told = outbox(tmp_path, script, AWAKE, replace(WARNINGS_ONLY, name="Bob"))

    assert told == {
        "Ada": ["hang burlap", "all clear", "hang burlap"],
        "Bob": ["hang burlap", "hang burlap"],
    }


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (lasting(1.2), lasting(1.6), "WORSE: hang burlap"),
        (lasting(1.2), lasting(1.2), "STILL: hang burlap"),
        (OVER, OVER, "hang burlap"),
    ],
    ids=["worse", "still over three days later", "over anew three days later"],
)
def test_a_danger_that_goes_on_is_told_as_worse_as_still_there_or_as_a_new_one(
    tmp_path: Path, before: Sight, after: Sight, words: str
) -> None:
    script = [(NOW, before), (NOW + 72 * HOUR, after)]

    assert outbox(tmp_path, script, AWAKE) == {"Ada": ["hang burlap", words]}


def test_a_pass_done_twice_puts_its_words_in_once(tmp_path: Path) -> None:
    script = [(NOW, OVER), (NOW, OVER)]

    assert outbox(tmp_path, script, AWAKE) == {"Ada": ["hang burlap"]}
