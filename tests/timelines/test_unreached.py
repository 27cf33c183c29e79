"""Contacts that nothing reaches for a while, and what they and the others are told of it."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from tests.messages.outlooks import NOW
from tests.timelines.scripts import AWAKE, HOUR, SAFE, Sight, lasting
from tests.timelines.yards import MAIL, Yard, yard

from drywind.alerts.gsm7 import septets
from drywind.alerts.records import Message
from drywind.config import Contact, Topic
from drywind.delivery import Destination, Kind, deliver_due
from drywind.self_watch import (
    Seen,
    speak_of_self,
    speak_of_the_missed,
    troubles,
    unreached,
    with_stand_ins,
)
from drywind.speaking import speak, stack_matters
from drywind.store import Outcome

SENT, LATER, NEVER = Outcome.SENT, Outcome.FAILED_FOR_NOW, Outcome.FAILED_FOR_GOOD
DIGEST_ONLY = replace(MAIL, name="Shop", hear=frozenset({Topic.DIGEST}))

Line = Callable[[str, int], Outcome]
"""How an attempt at a contact ends, by its name and the hour."""


class Told:
    """What reached each contact, with the hour."""

    def __init__(self, line: Line) -> None:
        self.by_contact: dict[str, list[tuple[int, str]]] = defaultdict(list)
        self.attempts = 0
        self.hour = 0
        self._line = line

    def send(self, url: str, message: Message, _kind: Kind) -> tuple[Outcome, str]:
        """Hand over a message, as the line is at this hour."""
        self.attempts += 1
        outcome = self._line(url, self.hour)
        if outcome is SENT:
            self.by_contact[url].append((self.hour, message.text))
        return outcome, "put off by the mail server (451)" if outcome is LATER else "refused (550)"

    def hours(self, contact: Contact = AWAKE, words: str = "") -> list[int]:
        """Return at which hours a contact was told something with these words."""
        return [hour for hour, text in self.by_contact[contact.name] if words in text]


def watch(
    mine: Yard,
    hours: int,
    sight: Callable[[datetime], Sight],
    line: Line,
    free_mb: Callable[[int], float] = lambda _hour: 1e4,
) -> Told:
    """Do a pass and a round of deliveries each hour."""
    told = Told(line)
    ways = {c.name: Destination(c.name, c.kind.value) for c in mine.config.contacts.values()}
    for told.hour in range(hours):
        now = NOW + told.hour * HOUR
        speak_of_the_missed(mine.config, mine.store, now)
        lost = unreached(mine.store, mine.config)
        config = with_stand_ins(mine.config, lost)
        speak(config, mine.store, stack_matters(sight(now).outlook(now), now), now)
        state = Seen((), lost, free_mb(told.hour))
        speak_of_self(config, mine.store, troubles(config, state, now), now)
        deliver_due(mine.store, ways, now, told.send)
    return told


def once(severity: float = 1.6) -> Callable[[datetime], Sight]:
    """Return harm twelve hours from the start that lasts for six, and safety after it."""
    harm = NOW + 12 * HOUR

    def sight(now: datetime) -> Sight:
        if now >= harm + 6 * HOUR:
            return SAFE
        return Sight(severity, harm_at=max(harm, now + HOUR), lasts_h=6)

    return sight


def calm(_now: datetime) -> Sight:
    return SAFE


def up(_name: str, _hour: int) -> Outcome:
    return SENT


def failing(*names: str, hours: Sequence[int], how: Outcome = LATER) -> Line:
    """Return a line on which attempts at some contacts fail at some hours."""
    return lambda name, hour: how if name in names and hour in hours else SENT


def test_a_phone_that_refuses_for_good_is_told_to_the_others_once(tmp_path: Path) -> None:
    with yard(tmp_path, [AWAKE, MAIL]) as mine:
        told = watch(mine, 30, once(), failing("Ada", hours=range(99), how=NEVER))

    assert told.hours(MAIL, "cannot reach") == [1]
    [text] = [text for _, text in told.by_contact["Office"] if "cannot reach" in text]
    assert text == (
        "drywind cannot reach Ada since today 6pm: refused (550). Mend its URL, then: drywind"
        " send-test. Tell them yourself till then."
    )
    assert septets(text) <= 160


def test_an_outage_of_minutes_is_no_news(tmp_path: Path) -> None:
    with yard(tmp_path, [AWAKE, MAIL]) as mine:
        told = watch(mine, 30, once(), failing("Ada", hours=[0, 1]))

    assert told.hours(MAIL, "cannot reach") == []
    assert told.hours(words="hang burlap") == [2]


def test_each_outage_is_told_once(tmp_path: Path) -> None:
    """Six hours from the start, and again three days later."""
    days = [range(6), range(72, 78)]
    harm = [NOW + 3 * HOUR, NOW + 75 * HOUR]

    def sight(now: datetime) -> Sight:
        ahead = [at for at in harm if at - 4 * HOUR < now < at + 4 * HOUR]
        return Sight(1.6, harm_at=max(ahead[0], now + HOUR), lasts_h=5) if ahead else SAFE

    with yard(tmp_path, [AWAKE, MAIL]) as mine:
        told = watch(mine, 90, sight, failing("Ada", hours=[h for d in days for h in d]))

    hours = told.hours(MAIL, "cannot reach")
    assert [any(hour in day for day in days) for hour in hours] == [True, True]


def test_where_all_who_hear_warnings_are_lost_the_others_are_warned(tmp_path: Path) -> None:
    with yard(tmp_path, [AWAKE, DIGEST_ONLY]) as mine:
        told = watch(mine, 10, once(), failing("Ada", hours=range(99), how=NEVER))

    assert told.hours(DIGEST_ONLY, "hang burlap") == [1]
    assert told.hours(DIGEST_ONLY, "cannot reach") == [1]


def test_who_wants_no_warnings_gets_none_while_somebody_hears_them(tmp_path: Path) -> None:
    with yard(tmp_path, [AWAKE, MAIL, DIGEST_ONLY]) as mine:
        told = watch(mine, 30, once(), failing("Ada", hours=range(99), how=NEVER))

    assert told.by_contact["Shop"] == []
    assert told.hours(MAIL, "hang burlap") == [0]


def test_danger_that_came_unwarned_is_told_when_the_phone_is_back(tmp_path: Path) -> None:
    with yard(tmp_path) as mine:
        told = watch(mine, 60, once(), failing("Ada", hours=range(40)))

    [(hour, text)] = told.by_contact["Ada"]
    assert text == (
        "drywind could not reach you since Fri 6pm. Danger came to R7: look at the boards."
        " What is still ahead is told anew."
    )
    assert hour in {40, 41}


def test_what_is_still_ahead_is_warned_of_anew_when_the_phone_is_back(tmp_path: Path) -> None:
    """The first warning expired; the danger of the next days is told like any."""
    harms = [NOW + 12 * HOUR, NOW + 60 * HOUR]

    def sight(now: datetime) -> Sight:
        ahead = [at for at in harms if now < at + 6 * HOUR]
        return Sight(1.6, harm_at=max(ahead[0], now + HOUR), lasts_h=6) if ahead else SAFE

    with yard(tmp_path) as mine:
        told = watch(mine, 60, sight, failing("Ada", hours=range(30)))

    assert len(told.hours(words="could not reach you")) == 1
    assert len(told.hours(words="hang burlap")) == 1


def test_a_warning_that_lasts_reaches_the_phone_late_but_in_time_and_without_more_words(
    tmp_path: Path,
) -> None:
    with yard(tmp_path) as mine:
        told = watch(mine, 60, lambda _now: lasting(1.6), failing("Ada", hours=range(10)))

    assert told.hours(words="could not reach you") == []
    assert told.hours(words="hang burlap")[0] <= 11


def test_what_may_have_arrived_is_not_called_missed(tmp_path: Path) -> None:
    with yard(tmp_path) as mine:
        told = watch(mine, 60, once(), failing("Ada", hours=range(40), how=Outcome.UNKNOWN))

    assert told.hours(words="could not reach you") == []


def test_attempts_at_a_dead_phone_stay_few(tmp_path: Path) -> None:
    with yard(tmp_path) as mine:
        told = watch(mine, 24 * 7, once(), failing("Ada", hours=range(24 * 7)))

    assert told.attempts <= 24 * 7 + 8


def test_a_disk_that_fills_is_told_once_until_it_has_room_again(tmp_path: Path) -> None:
    free = [1000.0, 190.0, 150.0, 210.0, 190.0, 350.0, 450.0, 1000.0, 100.0, 90.0]
    with yard(tmp_path) as mine:
        told = watch(mine, len(free), calm, up, lambda hour: free[hour])

    assert told.by_contact["Ada"] == [
        (hour, f"drywind: the disk is nearly full, {mb} MB left. Make room on its computer.")
        for hour, mb in [(1, 190), (8, 100)]
    ]


def test_a_yard_where_all_is_well_is_silent(tmp_path: Path) -> None:
    with yard(tmp_path, [AWAKE, MAIL]) as mine:
        assert watch(mine, 100, calm, up).by_contact == {}
