"""How texts tell hours and days, by the clock on the reader's wall."""

from dataclasses import replace
from datetime import datetime

import pytest
from tests.messages.outlooks import (
    CLOTH_HELPS,
    HOT_SATURDAY,
    LATE,
    METRIC,
    US,
    local,
    outlook,
    read,
)

from drywind.judge.outlook import Spell


@pytest.mark.parametrize(
    ("instant", "us", "metric"),
    [
        (local(13, 0), "midnight", "24:00"),
        (local(13, 0, 30), "12:30am", "00:30"),
        (local(13, 1), "1am", "01:00"),
        (local(13, 11), "11am", "11:00"),
        (local(13, 12), "noon", "12:00"),
        (local(13, 13), "1pm", "13:00"),
        (local(13, 23), "11pm", "23:00"),
    ],
)
def test_noon_and_midnight_are_told_in_words(instant: datetime, us: str, metric: str) -> None:
    assert US.clock(instant) == us
    assert METRIC.clock(instant) == metric


@pytest.mark.parametrize(
    ("first_harm", "words"),
    [
        (local(12, 15), "hang shade cloth now."),  # begun three hours ago
        (local(12, 20), "hang shade cloth now."),  # in two hours: the work takes as long
        (local(12, 20, 1), "hang shade cloth by today 8pm."),
        (local(12, 21), "hang shade cloth by today 9pm."),
        (local(13, 5), "hang shade cloth by Sat 5am."),
        (local(13, 12), "hang shade cloth by Sat noon."),
        (local(14, 13), "hang shade cloth by Sun 1pm."),
    ],
)
def test_the_deadline_is_now_today_or_a_day_by_its_name(first_harm: datetime, words: str) -> None:
    seen = outlook([LATE], CLOTH_HELPS, spell=replace(HOT_SATURDAY, first=first_harm))

    assert words in read(seen)


@pytest.mark.parametrize(
    ("spell", "us", "metric"),
    [
        (HOT_SATURDAY, "Sat 11am-7pm", "Sat 11:00-19:00"),
        (
            replace(HOT_SATURDAY, start=local(12, 19), end=local(12, 23)),
            "today 7pm-11pm",
            "today 19:00-23:00",
        ),
        (
            replace(HOT_SATURDAY, start=local(12, 20), end=local(13, 2)),
            "today 8pm-Sat 2am",
            "today 20:00-Sat 02:00",
        ),
        (
            replace(HOT_SATURDAY, start=local(13, 20), end=local(14, 3)),
            "Sat 8pm-Sun 3am",
            "Sat 20:00-Sun 03:00",
        ),
    ],
)
def test_a_spell_over_midnight_names_both_days(spell: Spell, us: str, metric: str) -> None:
    assert US.spell(spell) == us
    assert METRIC.spell(spell) == metric
    assert f"Hot dry wind {us}" in read(outlook([LATE], CLOTH_HELPS, spell=spell))


def test_midnight_is_told_by_the_day_it_ends() -> None:
    midnight = replace(HOT_SATURDAY, first=local(14, 0))
    evening = replace(HOT_SATURDAY, start=local(13, 20), end=local(14, 0))

    assert "by Sat midnight." in read(outlook([LATE], CLOTH_HELPS, spell=midnight))
    assert US.spell(evening) == "Sat 8pm-midnight"
