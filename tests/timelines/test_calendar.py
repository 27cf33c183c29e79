"""The digest once a morning, the outlook once a week, whatever passes and clocks do."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from tests.messages.outlooks import LATE, ZONE, local, outlook
from tests.timelines.outages import (
    Climate,
    Watch,
    leave_out_chances,
    local_spell,
    services,
    stacked,
)
from tests.timelines.scripts import AWAKE, HOUR, Sight
from tests.timelines.yards import MAIL, yard

from drywind.alerts.decide import Before
from drywind.alerts.digest import calendar_key, decide_digest, decide_outlook, last_due
from drywind.alerts.records import Decision, Message, Reason
from drywind.config import HEAR, Channel, Contact, Policy, Topic, Weekday
from drywind.cycle import Pass
from drywind.judge.outlook import Outlook
from drywind.reports import Morning, report
from drywind.speaking import Said
from drywind.store import Store
from drywind.yard import Event, EventKind, Site

POLICY = Policy()
DIGEST_ONLY = replace(MAIL, hear=frozenset({Topic.DIGEST}))
SPRING, FALL = date(2026, 3, 8), date(2026, 11, 1)


def due(contact: Contact, now: datetime, policy: Policy = POLICY) -> tuple[bool, bool]:
    """Return whether digest and outlook are due to who never had one."""
    made = (f(contact, Before(None), now, policy, ZONE) for f in (decide_digest, decide_outlook))
    digest, outlook = (decision is not None for decision in made)
    return digest, outlook


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        (local(12, 5, 29), (False, False)),  # Friday
        (local(12, 5, 30), (True, False)),
        (local(12, 11, 29), (True, False)),
        (local(12, 11, 30), (False, False)),
        (local(14, 5, 29), (False, False)),  # Sunday
        (local(14, 5, 30), (True, True)),
        (local(14, 23), (False, True)),
        (local(15, 5, 29), (False, True)),
        (local(15, 5, 30), (True, False)),
    ],
)
def test_each_is_due_from_its_time_on_for_some_hours(
    now: datetime, expected: tuple[bool, bool]
) -> None:
    assert due(MAIL, now) == expected


def test_the_owner_sets_time_and_day() -> None:
    policy = Policy(digest_at=time(18), outlook_day=Weekday.WEDNESDAY)

    assert due(MAIL, local(14, 6), policy) == (False, False)
    assert due(MAIL, local(17, 18), policy) == (True, True)  # a Wednesday


@pytest.mark.parametrize("topic", [Topic.DIGEST, Topic.OUTLOOK])
def test_who_wants_neither_gets_neither(topic: Topic) -> None:
    phone = replace(MAIL, kind=Channel.TEXT, hear=HEAR[Channel.TEXT])
    both = {t: phone.hear | {t} for t in (Topic.DIGEST, Topic.OUTLOOK)}

    assert due(phone, local(14, 6)) == (False, False)
    assert due(replace(phone, hear=both[topic]), local(14, 6)) == (
        topic is Topic.DIGEST,
        topic is Topic.OUTLOOK,
    )


@pytest.mark.parametrize("change", [SPRING, FALL])
@pytest.mark.parametrize("at", [time(1, 30), time(2, 30), time(5, 30)])
def test_on_the_days_the_clocks_change_each_falls_due_once(change: date, at: time) -> None:
    """Also at a time that is skipped, or comes twice."""
    policy = Policy(digest_at=at)
    start = datetime.combine(change, time(), ZONE).astimezone(UTC)
    passes = [start + i * HOUR / 4 for i in range(96)]

    days = {
        calendar_key(decision, policy, ZONE)
        for now in passes
        if (decision := decide_digest(MAIL, Before(None), now, policy, ZONE)) is not None
        and last_due(Topic.DIGEST, now, policy, ZONE) >= start
    }

    assert days == {f"Office|*|digest|{change}"}


def test_it_is_not_made_again_the_same_morning_but_after_a_clock_that_ran_ahead() -> None:
    made = decide_digest(MAIL, Before(None), local(12, 6), POLICY, ZONE)
    assert made is not None

    def again(now: datetime, before: Decision) -> bool:
        return decide_digest(MAIL, Before(before), now, POLICY, ZONE) is not None

    assert not again(local(12, 7), made)
    assert again(local(13, 6), made)
    assert again(local(12, 7), replace(made, made_at=local(30, 6)))


UNKNOWN = outlook([], spell=None)
WELL = outlook([LATE], spell=None)
WELL = replace(
    WELL, pace=replace(WELL.pace, by_board={LATE.board: replace(LATE, loss_pct_per_day=1)})
)
"""Stacks of which one cannot be judged, and one is in no danger."""


def no_weather() -> Mapping[str, pd.DataFrame]:
    raise AssertionError("a digest needs no weather of the week")


def reported(
    folder: Path, passes: Iterable[tuple[datetime, Outlook]], contact: Contact = DIGEST_ONLY
) -> list[Said]:
    """Report at these instants, on a store that remembers."""
    with yard(folder, [contact], Policy(daily_texts=1)) as mine:
        return [
            said
            for now, seen in passes
            for said in report(mine.config, mine.store, Morning([seen], [], no_weather, dict, now))
            if said.is_new
        ]


def sent(said: Sequence[Said]) -> list[str]:
    """Return when, on the wall clock, something was sent."""
    return [f"{s.decision.made_at.astimezone(ZONE):%a %H:%M}" for s in said if s.message]


def hourly(start: datetime, hours: int, seen: Outlook = UNKNOWN) -> list[tuple[datetime, Outlook]]:
    return [(start + i * HOUR, seen) for i in range(hours)]


def test_a_digest_is_sent_once_a_morning_while_there_is_something_to_tell(tmp_path: Path) -> None:
    said = reported(tmp_path, hourly(local(12, 0), 72))

    assert sent(said) == ["Fri 06:00", "Sat 06:00", "Sun 06:00"]


def test_a_morning_on_which_all_is_well_is_not_made_up_for_at_noon(tmp_path: Path) -> None:
    said = reported(tmp_path, [*hourly(local(12, 5), 2, WELL), *hourly(local(12, 7), 20)])

    assert sent(said) == []
    assert [s.decision.reason for s in said] == [Reason.NOTHING_NEW]


def test_a_clock_that_jumps_about_gives_no_morning_two_digests(tmp_path: Path) -> None:
    passes = [local(12, 6), local(20, 6), local(12, 7), local(13, 6), local(12, 8), local(20, 7)]

    said = reported(tmp_path, [(now, UNKNOWN) for now in passes])

    assert sent(said) == ["Fri 06:00", "Sat 06:00", "Sat 06:00"]
    assert len({s.decision.made_at for s in said}) == 3


@pytest.mark.parametrize("change", [SPRING, FALL])
def test_each_of_the_days_the_clocks_change_has_its_digest(tmp_path: Path, change: date) -> None:
    eve = datetime.combine(change - timedelta(days=1), time(), ZONE).astimezone(UTC)

    said = reported(tmp_path, hourly(eve, 72))

    assert sent(said) == ["Sat 06:00", "Sun 06:00", "Mon 06:00"]


def test_a_digest_waits_for_the_end_of_quiet_hours(tmp_path: Path) -> None:
    sleeper = replace(DIGEST_ONLY, quiet=(time(21), time(7, 30)))

    assert sent(reported(tmp_path, hourly(local(12, 0), 24), sleeper)) == ["Fri 08:00"]


def test_a_digest_by_text_is_one_of_the_texts_of_the_day(tmp_path: Path) -> None:
    phone = replace(AWAKE, hear=HEAR[Channel.TEXT] | {Topic.DIGEST})
    danger = Sight(1.2, harm_at=local(12, 12))
    morning = Morning([UNKNOWN], [], no_weather, dict, local(12, 6))
    with yard(tmp_path, [phone], Policy(daily_texts=1)) as mine:
        mine.look(local(12, 5), danger)
        [capped] = report(mine.config, mine.store, morning)
        [told] = report(mine.config, mine.store, replace(morning, now=local(13, 6)))
        spent = mine.look(local(13, 7), replace(danger, harm_at=local(13, 12), name="R8"))

    assert (capped.decision.reason, capped.message) == (Reason.OVER_CAP, None)
    assert told.message is not None
    assert spent[0].decision.reason is Reason.OVER_CAP


def test_a_dry_run_shows_the_digest_and_leaves_it_to_be_sent(tmp_path: Path) -> None:
    morning = Morning([UNKNOWN], [], no_weather, dict, local(12, 6))
    with yard(tmp_path, [DIGEST_ONLY]) as mine:
        [shown] = report(mine.config, mine.store, morning, dry_run=True)
        [told] = report(mine.config, mine.store, morning)

    assert shown.message == told.message
    assert (shown.is_new, told.is_new) == (False, True)


def test_the_digest_tells_each_contact_what_it_was_told_and_what_was_kept_back(
    tmp_path: Path,
) -> None:
    sleeper = replace(MAIL, name="Bob", quiet=(time(5), time(5, 29)))
    early = local(12, 5, 15)
    sight = Sight(1.2, harm_at=local(12, 12))
    later = replace(sight, harm_at=local(14, 12), name="R8")
    with yard(tmp_path, [MAIL, sleeper]) as mine:
        mine.look(early, sight, later)
        now = local(12, 5, 30)
        said = mine.look(now, sight, later, dry_run=True)
        seen = [s.outlook(now) for s in (sight, later)]
        mails = report(mine.config, mine.store, Morning(seen, said, no_weather, dict, now))

    office, bob = (m.message.story for m in mails if m.message is not None)
    told = "120% of its limit; warned of drying too fast (told today 5:15am)\n"
    assert f"R7 red oak 4/4, gravel: 80 % MC; {told}" in office
    assert "120% of its limit\n" in bob
    for story in (office, bob):
        assert "R8 red oak 4/4, gravel: 80 % MC; 120% of its limit; kept back: " in story
        assert "kept back: drying too fast (not due yet)\n" in story


# From real weather, by whole passes: a yard by the clock of New York.
NEW_YORK = ZoneInfo("America/New_York")
SITE = Site("yard", 37.23, -80.42, 640.0)


def june(day: int, hour: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, tzinfo=NEW_YORK).astimezone(UTC)


@pytest.fixture
def watch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Watch]:
    """Watch a yard of which a mailbox hears; it is hot and dry from Monday, June 15 to 17."""
    leave_out_chances(monkeypatch)
    climate = Climate(NEW_YORK, [local_spell(NEW_YORK, june(15), 3)])
    with services(climate.hour) as told, Store(tmp_path / "drywind.db") as store:
        yield Watch(told, store, NEW_YORK, {"yard": SITE}, MAIL)


def mails(passes: Sequence[Pass], hazard: str) -> list[tuple[datetime, Message]]:
    return [
        (p.now.astimezone(NEW_YORK), s.message)
        for p in passes
        for s in p.said
        if s.is_new and s.message is not None and s.decision.hazard == hazard
    ]


def test_a_week_of_passes_brings_one_outlook_and_a_digest_only_when_there_is_cause(
    watch: Watch,
) -> None:
    """Fresh oak under a roof, in fair days first; passes are at 6, 12, 18 and 24 o'clock."""
    watch.store.add_stack(stacked("R1", "red_oak", june(12, 6)))

    passes = [watch.look(june(13, 6) + i * 6 * HOUR) for i in range(20)]

    [(sunday, week)] = mails(passes, Topic.OUTLOOK)
    assert sunday == june(14, 6)
    told = [line.split(": ") for line in week.story.splitlines()[1:8]]
    days = [(day.split()[0], what.split(";")[0]) for day, what in told]
    assert days == [
        ("Sun", "fair"),
        *((day, "hot & dry") for day in ("Mon", "Tue", "Wed")),
        *((day, "unknown") for day in ("Thu", "Fri", "Sat")),
    ]
    assert "  R1 red oak 4/4, yard: " in week.story
    assert [(f"{now:%a %H:%M}", m.text) for now, m in mails(passes, Topic.DIGEST)] == [
        ("Sat 06:00", "drywind Sat: 1 stack stands. Kept back: R1."),
        ("Sun 06:00", "drywind Sun: 1 stack stands. Warned: R1."),
        ("Mon 06:00", "drywind Mon: 1 stack stands. Warned: R1."),
        ("Tue 06:00", "drywind Tue: 1 stack stands. Warned: R1."),
    ]
    # What is advised needs a loader, and so a working day.
    assert [f"{now:%a %H:%M}" for now, _ in mails(passes, "too_fast")] == ["Sun 06:00", "Wed 18:00"]


def test_where_no_stack_stands_nothing_comes_by_the_calendar(watch: Watch) -> None:
    gone = Event("R1", june(13), EventKind.ENDED)
    watch.store.add_stack(stacked("R1", "red_oak", june(12, 6), gone))

    found = [watch.look(june(14, 6)), watch.look(june(15, 6))]

    assert [p.said for p in found] == [(), ()]
