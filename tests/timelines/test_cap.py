"""What a whole pass puts in the outbox: groups, the texts of a day, and nothing beyond them."""

import tempfile
from collections import Counter
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.messages.outlooks import NOW, ZONE, local
from tests.timelines.scripts import (
    AWAKE,
    FIRST,
    HOUR,
    LONG_H,
    SAFE,
    SILENT,
    TOMORROW,
    Sight,
)
from tests.timelines.yards import MAIL, Yard, messages, yard

from drywind.alerts.blind import BLIND, blindness
from drywind.alerts.records import Decision, Reason
from drywind.config import Policy
from drywind.self_watch import speak_of_self
from drywind.speaking import Said
from drywind.weather.seen import SiteWeather

FAST = Path("/dev/shm") if Path("/dev/shm").is_dir() else None
OVER_CAP, SUPERSEDED, ALL_CLEAR = Reason.OVER_CAP, Reason.SUPERSEDED, Reason.ALL_CLEAR
ONE_A_DAY = Policy(daily_texts=1)


def scattered(count: int, severity: float = 1.2) -> list[Sight]:
    """Return harm from tomorrow on at so many sites, the later ones worse."""
    return [
        Sight(severity + i / 100, harm_at=TOMORROW, lasts_h=LONG_H, name=f"R{i}", site=f"lot {i}")
        for i in range(count)
    ]


def reasons(said: list[Said], contact: str = "Ada") -> dict[str, Reason]:
    return {s.decision.stack: s.decision.reason for s in said if s.decision.contact == contact}


def test_stacks_of_a_site_share_a_text_and_are_each_recorded(tmp_path: Path) -> None:
    sights = [replace(sight, site="gravel") for sight in scattered(3)]
    with yard(tmp_path) as mine:
        said = mine.look(NOW, *sights)
        again = mine.look(NOW + HOUR, *sights)

        [told] = messages(said)
        assert told.text.startswith("drywind gravel, 3 stacks: R2, R1, R0: hang burlap by Sat 6am.")
        assert reasons(said) == dict.fromkeys(["R0", "R1", "R2"], FIRST)
        assert reasons(again) == dict.fromkeys(["R0", "R1", "R2"], SILENT)
        assert len(mine.store.last_decisions()) == 3


def test_a_pass_done_twice_puts_a_group_in_once(tmp_path: Path) -> None:
    sights = [replace(sight, site="gravel") for sight in scattered(3)]
    with yard(tmp_path) as mine:
        mine.look(NOW, *sights)

        assert messages(mine.look(NOW, *sights)) == []
        assert len(mine.store.outbox_due(NOW)) == 1


def test_a_dry_run_shows_the_messages_and_spends_none_of_them(tmp_path: Path) -> None:
    with yard(tmp_path, policy=ONE_A_DAY) as mine:
        shown = [s.message for s in mine.look(NOW, *scattered(3), dry_run=True) if s.message]
        told = messages(mine.look(NOW, *scattered(3)))

    assert shown == told
    assert len(told) == 1


def test_four_texts_are_told_on_a_day_and_the_fourth_names_all_that_are_left(
    tmp_path: Path,
) -> None:
    with yard(tmp_path) as mine:
        told = [m.text for m in messages(mine.look(NOW, *scattered(6)))]

    assert [text.split(" red")[0] for text in told[:3]] == [f"drywind R{i}" for i in (5, 4, 3)]
    assert len(told) == 4
    assert told[3] == (
        "drywind: 3 stacks need action by Sat 6am: R2, R1, R0: "
        "open the e-mail or run drywind stack show."
    )


def test_what_comes_when_no_text_is_left_is_told_the_next_local_day(tmp_path: Path) -> None:
    first, later = scattered(2)
    with yard(tmp_path, policy=ONE_A_DAY) as mine:
        mine.look(NOW, first)
        evening = [mine.look(NOW + h * HOUR, first, later) for h in range(1, 6)]  # to 11 pm
        midnight = mine.look(NOW + 6 * HOUR, first, later)

    assert [reasons(said)["R1"] for said in evening] == [OVER_CAP] * 5
    assert [messages(said) for said in evening] == [[]] * 5
    assert reasons(midnight) == {"R0": SILENT, "R1": FIRST}
    assert len(messages(midnight)) == 1


def test_what_is_over_by_the_next_day_is_never_told(tmp_path: Path) -> None:
    first, later = scattered(2)
    with yard(tmp_path, policy=ONE_A_DAY) as mine:
        mine.look(NOW, first)
        mine.look(NOW + HOUR, first, later)
        said = mine.look(NOW + 6 * HOUR, first, replace(SAFE, name="R1"))

    assert reasons(said)["R1"] is SILENT


def test_emails_are_not_counted_and_each_contact_has_texts_of_its_own(tmp_path: Path) -> None:
    bob = replace(AWAKE, name="Bob")
    with yard(tmp_path, [AWAKE, MAIL, bob], ONE_A_DAY) as mine:
        said = mine.look(NOW, *scattered(6))

    assert [len(messages(said, contact)) for contact in (AWAKE, MAIL, bob)] == [1, 6, 1]


def test_all_clears_wait_for_the_next_day_if_no_text_is_left(tmp_path: Path) -> None:
    danger = Sight(1.2, harm_at=local(12, 10))  # until 6 pm; told at 6 pm, for six hours
    with yard(tmp_path, policy=Policy(daily_texts=1, repeat_hours=6)) as mine:
        mine.look(local(12, 12), danger)
        evening = mine.look(local(12, 20), SAFE)
        midnight = mine.look(local(13, 0), SAFE)

    assert reasons(evening) == {"R7": OVER_CAP}
    assert reasons(midnight) == {"R7": ALL_CLEAR}


def test_the_blind_message_is_one_of_the_texts_of_the_day(tmp_path: Path) -> None:
    weather = [SiteWeather("gravel", NOW - 30 * HOUR, "nws: down")]
    with yard(tmp_path, [AWAKE, MAIL], ONE_A_DAY) as mine:
        mine.look(NOW, *scattered(1))

        def sight(now: datetime) -> dict[str, Reason]:
            said = speak_of_self(mine.config, mine.store, [blindness(weather, now)], now)
            assert {s.decision.hazard for s in said} <= {BLIND}
            return {s.decision.contact: s.decision.reason for s in said}

        assert sight(NOW) == {"Ada": OVER_CAP, "Office": FIRST}
        assert sight(NOW + HOUR) == {"Ada": OVER_CAP}
        assert sight(NOW + 6 * HOUR) == {"Ada": FIRST}
        assert sight(NOW + 7 * HOUR) == {}


@pytest.mark.parametrize("change", [date(2026, 3, 8), date(2026, 11, 1)])
def test_a_day_of_23_or_25_hours_has_its_texts_too(tmp_path: Path, change: date) -> None:
    """Danger is told at 1 am and 11 pm of the day, and at midnight after it."""
    one, eleven = (datetime.combine(change, time(h), ZONE) for h in (1, 23))
    midnight = datetime.combine(change + timedelta(days=1), time(), ZONE)
    sights = [Sight(1.2, name=f"R{i}") for i in range(3)]
    with yard(tmp_path, policy=ONE_A_DAY) as mine:
        told = [
            len(messages(mine.look(now.astimezone(local(1, 0).tzinfo), *sights[:n])))
            for n, now in enumerate((one, eleven, midnight), 1)
        ]

    assert told == [1, 0, 1]


def test_two_hazards_of_a_stack_are_one_text_and_both_count_as_told(tmp_path: Path) -> None:
    both = Sight(1.2, harm_at=TOMORROW, rain=1.3)
    with yard(tmp_path) as mine:
        said = mine.look(NOW, both)
        again = mine.look(NOW + HOUR, both)

    assert {s.decision.hazard: s.decision.reason for s in said} == {
        "too_fast": SUPERSEDED,
        "wetting": FIRST,
    }
    [told] = messages(said)
    assert told.text.endswith(" And dry wind.")
    assert {s.decision.reason for s in again} == {SILENT}


def test_no_all_clear_is_told_of_a_stack_that_is_warned_of_something_else(tmp_path: Path) -> None:
    with yard(tmp_path) as mine:
        mine.look(NOW, Sight(1.5, harm_at=TOMORROW, rain=0.9))
        said = mine.look(NOW + 20 * HOUR, Sight(0.5, harm_at=local(13, 20), rain=2.0))
        dry_again = mine.look(NOW + 24 * HOUR, Sight(1.5, rain=0.9))

    assert {s.decision.hazard: s.decision.reason for s in said} == {
        "too_fast": ALL_CLEAR,
        "wetting": FIRST,
    }
    assert [m.text.split(": ")[1][:12] for m in messages(said)] == ["hang burlap "]
    after = {s.decision.hazard: s.decision.reason for s in dry_again}
    assert after == {"too_fast": FIRST, "wetting": SILENT}  # as the end was noted


# Random scripts: three stacks at two sites, and a phone with two texts a day beside a mailbox.
PLACES = [("R7", "gravel"), ("R8", "gravel"), ("W1", "shed")]
EVERY = 3 * HOUR
sight = st.builds(
    Sight,
    st.sampled_from([0.5, 0.9, 1.1, 1.4, 1.8, 2.2]),
    harm_at=st.sampled_from([None, local(13, 9), local(14, 11), local(15, 11)]),
    helps=st.booleans(),
)
scripts = st.lists(st.tuples(sight, sight, sight), min_size=4, max_size=30)


def watch(mine: Yard, script: list[tuple[Sight, ...]]) -> list[tuple[datetime, list[Said]]]:
    passes = []
    for i, sights in enumerate(script):
        named = [
            replace(s, name=name, site=site) for s, (name, site) in zip(sights, PLACES, strict=True)
        ]
        now = NOW + i * EVERY
        passes.append((now, mine.look(now, *named)))
    return passes


@settings(max_examples=30, deadline=None)
@given(scripts)
def test_whatever_comes_the_texts_of_a_day_last_and_every_danger_is_told_while_they_do(
    script: list[tuple[Sight, ...]],
) -> None:
    with (
        tempfile.TemporaryDirectory(dir=FAST) as folder,
        yard(Path(folder), [AWAKE, MAIL], Policy(daily_texts=2)) as mine,
    ):
        passes = watch(mine, script)

    texts: Counter[date] = Counter()
    told: dict[tuple[str, str], Decision | None] = {}
    for now, said in passes:
        today = now.astimezone(ZONE).date()
        left = 2 - texts[today]
        words = messages(said)
        texts[today] += len(words)
        assert texts[today] <= 2
        assert len({m.text for m in words}) == len(words)
        for one in (s.decision for s in said):
            if one.reason is OVER_CAP and one.onset is not None:
                assert one.contact == "Ada"
                assert left == 0
            if one.contact == "Ada" and one.reason in {FIRST, Reason.WORSE, Reason.REPEAT}:
                assert any(one.stack in m.text for m in words)
            # No two texts for one cause: a first one follows an end, or three days.
            before = told.get((one.contact, one.stack))
            if one.reason is FIRST and before is not None:
                assert now - before.made_at >= 72 * HOUR
            if one.reason.speaks:
                told[one.contact, one.stack] = None if one.reason is ALL_CLEAR else one
            elif one.reason is Reason.LAPSED:
                told[one.contact, one.stack] = None


@settings(max_examples=20, deadline=None)
@given(scripts, st.integers(1, 4))
def test_a_danger_with_time_to_act_reaches_somebody_on_the_day_it_is_due(
    script: list[tuple[Sight, ...]], daily_texts: int
) -> None:
    """Whatever was told of the other stacks, while a text of that day is left."""
    danger = Sight(1.3, harm_at=local(16, 11))
    due = local(15, 16)
    with (
        tempfile.TemporaryDirectory(dir=FAST) as folder,
        yard(Path(folder), policy=Policy(daily_texts=daily_texts)) as mine,
    ):
        passes = watch(mine, [(*sights[:2], danger) for sights in (script * 30)[:30]])

    made = [(now, s.decision) for now, said in passes for s in said if s.decision.stack == "W1"]
    early = {d.reason for now, d in made if now < due}
    first = min(now for now, d in made if d.reason is FIRST)
    capped = [now for now, d in made if d.reason is OVER_CAP]
    assert early <= {Reason.NOT_YET}
    assert first == min(now for now, _ in made if now >= due) or capped
    assert all(
        now.astimezone(ZONE).date() == local(15, 16).astimezone(ZONE).date() for now in capped
    )
    assert first < local(16, 11) - 8 * HOUR
