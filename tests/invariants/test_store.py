"""What holds of the store whatever is put into it, in whatever order."""

import math
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from drywind.alerts.records import Decision, Message, Reason
from drywind.store import LONGEST_RETRY, Outcome, Store
from drywind.units import Thickness
from drywind.weather.hour import BOUNDS, VALUES, WeatherHour
from drywind.weather.validators import Remembered, Validators
from drywind.yard import Event, EventKind, Measure, Setup, Stack, Trait

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
MESSAGE = Message("Hot dry wind", "DRYWIND Sat: stack R7. Hang shade.", "The whole story.\n")

# Hundreds of fresh files, each synced many times: kept in memory where the system offers that.
FAST = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None

few = settings(max_examples=40, deadline=None)
quantities = [st.floats(*BOUNDS[name]) | st.just(math.nan) for name in VALUES]
instants = st.integers(-(10**6), 10**9).map(lambda s: NOW + timedelta(seconds=s))
names = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=8)


@contextmanager
def fresh_store() -> Iterator[Store]:
    with (
        tempfile.TemporaryDirectory(dir=FAST) as folder,
        Store(Path(folder, "drywind.db")) as store,
    ):
        yield store


@st.composite
def hours(draw: st.DrawFn) -> WeatherHour:
    values = draw(st.tuples(*quantities))
    time_utc = NOW + draw(st.integers(0, 3)) * HOUR
    issued_at = NOW + draw(st.integers(-4, 4)) * HOUR
    return WeatherHour._make((time_utc, *values, draw(names), issued_at))


def calm_hour(time_utc: datetime) -> WeatherHour:
    return WeatherHour._make((time_utc, *[0.0] * 8, "test", time_utc))


def comparable(hour: WeatherHour) -> list[object]:
    """Return an hour's fields with nan made comparable."""
    return ["nan" if isinstance(v, float) and math.isnan(v) else v for v in hour]


def values(hour: WeatherHour) -> list[object]:
    return comparable(hour)[1:9]


def over(hour: WeatherHour) -> bool:
    """Return whether an hour had passed when it was told."""
    return hour.issued_at >= hour.time_utc + HOUR


def knows(hour: WeatherHour) -> bool:
    return not any(map(math.isnan, (hour.temp_c, hour.rh, hour.wind_ms)))


@few
@given(st.lists(st.lists(hours(), max_size=6), max_size=4))
def test_each_hour_kept_is_the_last_issued_that_knows_what_is_needed_or_is_no_news(
    batches: list[list[WeatherHour]],
) -> None:
    best: dict[tuple[datetime, str], WeatherHour] = {}
    with fresh_store() as store:
        for batch in batches:
            expected_writes = 0
            for hour in batch:
                held = best.get((hour.time_utc, hour.source))
                newer = held is None or hour.issued_at >= held.issued_at
                if (
                    held is not None
                    and over(held)
                    and comparable(hour)[1:9] == comparable(held)[1:9]
                ):
                    continue
                if newer and (held is None or knows(hour) or not knows(held)):
                    best[hour.time_utc, hour.source] = hour
                    expected_writes += 1
            assert store.save_hours("creek", batch) == expected_writes
        kept = store.hours("creek", NOW, NOW + 9 * HOUR)
        newest = store.latest_issue("creek")

    assert [comparable(hour) for hour in kept] == [comparable(best[key]) for key in sorted(best)]
    assert newest == max((hour.issued_at for hour in best.values()), default=None)


def test_hours_are_those_from_the_start_up_to_the_end_of_that_site_alone() -> None:
    row = calm_hour(NOW)
    with fresh_store() as store:
        store.save_hours("creek", [row._replace(time_utc=NOW + n * HOUR) for n in range(5)])
        store.save_hours("barn", [row])

        assert [h.time_utc for h in store.hours("creek", NOW + HOUR, NOW + 3 * HOUR)] == [
            NOW + HOUR,
            NOW + 2 * HOUR,
        ]
        assert store.hours("barn", NOW, NOW + 9 * HOUR) == [row]
        assert store.hours("lot", NOW, NOW + 9 * HOUR) == []
        assert store.latest_issue("lot") is None


def test_what_is_remembered_of_a_service_comes_back_as_it_was() -> None:
    known = Remembered(
        Validators('"abc"', "Sat, 13 Jun 2026 10:00:00 GMT", NOW + HOUR),
        "https://weather.test/1,2",
        NOW - 9 * HOUR,
        NOW,
        NOW - HOUR,
        NOW + 24 * HOUR,
        "it answered 403",
    )
    with fresh_store() as store:
        assert store.remembered("creek", "nws") == Remembered()
        store.remember("creek", "nws", Remembered(cell="https://weather.test/9,9"))
        store.remember("creek", "nws", known)

        assert store.remembered("creek", "nws") == known
        assert store.remembered("creek", "met_norway") == Remembered()
        assert store.remembered("barn", "nws") == Remembered()


def test_two_services_words_about_an_hour_are_both_kept() -> None:
    row = calm_hour(NOW)
    other = row._replace(source="other", temp_c=9.0)
    with fresh_store() as store:
        store.save_hours("creek", [row, other])

        assert store.hours("creek", NOW, NOW + HOUR) == [other, row]
        assert store.latest_issue("creek", "other") == NOW
        assert store.latest_issue("creek", "nobody") is None


def test_some_hours_of_each_issue_are_kept_to_score_it_by() -> None:
    midnight = NOW.replace(hour=0)
    issue = [calm_hour(midnight + n * HOUR)._replace(issued_at=midnight) for n in range(9)]
    past = calm_hour(midnight - 3 * HOUR)._replace(issued_at=midnight)
    with fresh_store() as store:
        store.note_foretold("creek", [past, *issue])
        store.note_foretold("creek", issue)

        rows = store.foretold("creek", "test", midnight)
    hours = [int(row["time_utc"] - midnight.timestamp()) // 3600 for row in rows]
    assert hours == [0, 3, 6]


def test_of_issues_hours_apart_one_in_six_hours_is_kept_to_score_by() -> None:
    midnight = NOW.replace(hour=0)
    with fresh_store() as store:
        for hour in range(24):
            issued = midnight + hour * HOUR
            store.note_foretold(
                "creek", [calm_hour(midnight + 24 * HOUR)._replace(issued_at=issued)]
            )
        rows = store.foretold("creek", "test", midnight)

    kept = sorted(int(row["issued_at"] - midnight.timestamp()) // 3600 for row in rows)
    assert kept == [0, 6, 12, 18]


stacks = st.builds(
    Stack,
    id=st.from_regex(r"[A-Za-z0-9._-]{1,12}", fullmatch=True),
    species=names,
    thickness=st.sampled_from(["4/4", "8/4", "27mm", "34.5mm"]).map(Thickness.parse),
    stacked_at=instants,
    setup=st.builds(
        Setup,
        site=names,
        sticker_m=st.floats(0.01, 0.1),
        pack_width_m=st.floats(0.5, 3),
        measures=st.frozensets(st.sampled_from(Measure)),
    ),
    green_mc_pct=st.none() | st.floats(20, 200),
    traits=st.frozensets(st.sampled_from(Trait)),
)


@few
@given(
    st.lists(stacks, max_size=4, unique_by=lambda s: s.id),
    st.lists(st.tuples(instants, st.sampled_from(EventKind), names), max_size=8),
    st.randoms(use_true_random=False),
)
def test_stacks_come_back_as_they_went_in_with_every_event_in_order_of_time(
    yard: list[Stack], happenings: list[tuple[datetime, EventKind, str]], chance: Random
) -> None:
    expected: dict[str, list[Event]] = {stack.id: [] for stack in yard}
    with fresh_store() as store:
        for stack in yard:
            store.add_stack(stack)
        for happening in happenings if yard else []:
            event = Event(chance.choice(sorted(expected)), *happening)
            store.add_event(event)
            expected[event.stack].append(event)
        found = {stack.id: stack for stack in store.stacks(include_ended=True)}
        standing = {stack.id for stack in store.stacks()}

    for stack in yard:
        in_order = tuple(sorted(expected[stack.id], key=lambda event: event.time))
        assert found[stack.id] == replace(stack, events=in_order)
    assert set(found) == set(expected)
    assert standing == {name for name, stack in found.items() if stack.ended_at is None}


def test_a_stack_brings_its_events_along() -> None:
    event = Event("R7", NOW, EventKind.COVERED, "pile_roof")
    stack = Stack("R7", "red_oak", Thickness.parse("4/4"), NOW, Setup("creek"), events=(event,))
    with fresh_store() as store:
        store.add_stack(stack)

        assert store.stack("R7") == stack


decisions = st.builds(
    Decision,
    contact=st.sampled_from(["Amos", "Ruth"]),
    stack=st.sampled_from(["R7", "R8"]),
    hazard=st.sampled_from(["too_fast", "wetting"]),
    reason=st.sampled_from(Reason),
    made_at=instants,
    severity=st.floats(0, 9),
    onset=st.none() | instants,
    useful_until=instants,
)


@few
@given(st.lists(st.tuples(decisions, st.booleans(), st.integers(0, 5)), max_size=12))
def test_a_key_is_recorded_once_and_the_last_for_each_reason_is_remembered(
    entries: list[tuple[Decision, bool, int]],
) -> None:
    keys: set[int] = set()
    last: dict[tuple[str, str, str, str], Decision] = {}
    messages = []
    with fresh_store() as store:
        for decision, with_message, key in entries:
            is_new = store.record(decision, MESSAGE if with_message else None, str(key))
            assert is_new == (key not in keys)
            keys.add(key)
            if is_new:
                what = (decision.contact, decision.stack, decision.hazard, decision.reason)
                last.pop(what, None)
                last[what] = decision
            if is_new and with_message and decision.useful_until > NOW:
                messages.append(str(key))
        found = store.last_decisions()
        due = store.outbox_due(NOW)

    assert list(map(repr, found)) == list(map(repr, last.values()))
    assert [row.key for row in due] == messages


def test_a_stack_keeps_its_last_checkpoint() -> None:
    stack = Stack("R7", "red_oak", Thickness.parse("4/4"), NOW, Setup("creek"))
    with fresh_store() as store:
        store.add_stack(stack)
        assert store.checkpoint("R7") is None
        store.save_checkpoint("R7", NOW, "v1", b"\0\xff")
        store.save_checkpoint("R7", NOW - HOUR, "v2", b"")

        assert store.checkpoint("R7") == (NOW - HOUR, "v2", b"")


def test_pruning_drops_what_is_past_400_days_and_the_checkpoints_of_ended_stacks_alone() -> None:
    old, young = NOW - timedelta(days=401), NOW - timedelta(days=399)
    with fresh_store() as store:
        for name in ("R7", "R8"):
            store.add_stack(Stack(name, "oak", Thickness.parse("4/4"), old, Setup("creek")))
            store.save_checkpoint(name, old, "v1", b"state")
        store.add_event(Event("R8", old, EventKind.ENDED))
        for name, made_at in (("R7", old), ("R8", young)):
            decision = Decision(
                "Amos", name, "wetting", Reason.FIRST, made_at, 1.5, None, NOW + HOUR
            )
            store.record(decision, MESSAGE, name)
            row = store.outbox_due(NOW)[-1]
            store.start_attempt(row.id, NOW)
            store.finish_attempt(row.id, NOW, Outcome.FAILED_FOR_NOW, "", NOW)
        store.save_hours("creek", [calm_hour(old)])

        store.prune(NOW)

        assert store.checkpoint("R7") is not None
        assert store.checkpoint("R8") is None
        assert [row.key for row in store.outbox_due(NOW)] == ["R8"]
        assert [d.stack for d in store.last_decisions()] == ["R8"]
        assert len(store.stacks(include_ended=True)) == 2
        assert len(store.hours("creek", old, NOW)) == 1


@dataclass
class Letter:
    """What the model of the outbox knows of one message."""

    useful_until: datetime
    next_try_at: datetime | None
    attempts: int = 0
    in_doubt: bool = False


class Outbox(RuleBasedStateMachine):
    """Messages recorded, tried, interrupted and expired in any order, against a plain model."""

    @initialize()
    def open(self) -> None:
        """Start with an empty store."""
        self.folder = tempfile.TemporaryDirectory(dir=FAST)
        self.path = Path(self.folder.name, "drywind.db")
        self.store = Store(self.path)
        self.now = NOW
        self.letters: dict[str, Letter] = {}

    def teardown(self) -> None:
        """Close what `open` opened."""
        self.store.close()
        self.folder.cleanup()

    def due(self) -> list[str]:
        """Return the keys the model takes for due, the oldest first.

        A wait longer than any is that of a clock that ran ahead, and does not count.
        """
        return [
            key
            for key, letter in self.letters.items()
            if letter.next_try_at is not None
            and not self.now < letter.next_try_at <= self.now + LONGEST_RETRY
            and self.now < letter.useful_until
        ]

    @rule(useful_hours=st.integers(1, 6))
    def record(self, useful_hours: int) -> None:
        """Put a new message into the outbox."""
        key = str(len(self.letters))
        useful_until = self.now + useful_hours * HOUR
        decision = Decision(
            "Amos", "R7", "wetting", Reason.FIRST, self.now, 1.5, None, useful_until
        )
        self.store.record(decision, MESSAGE, key)
        self.letters[key] = Letter(useful_until, self.now)

    @precondition(lambda self: self.due())
    @rule(data=st.data(), outcome=st.sampled_from(Outcome), again_in=st.integers(0, 3))
    def attempt(self, data: st.DataObject, outcome: Outcome, again_in: int) -> None:
        """Try a due message, to whatever end."""
        letter = self.start(data)
        retry = outcome in {Outcome.FAILED_FOR_NOW, Outcome.UNKNOWN}
        letter.next_try_at = self.now + again_in * HOUR if retry else None
        letter.in_doubt |= outcome is Outcome.UNKNOWN
        self.store.finish_attempt(self.row_id, self.now, outcome, "", letter.next_try_at)

    @precondition(lambda self: self.due())
    @rule(data=st.data())
    def crash(self, data: st.DataObject) -> None:
        """Die in the middle of an attempt, and come back."""
        letter = self.start(data)
        letter.next_try_at = self.now
        letter.in_doubt = True
        self.store.close()
        self.store = Store(self.path)

    def start(self, data: st.DataObject) -> Letter:
        """Start an attempt at a due message; return the model's record of it."""
        row = data.draw(st.sampled_from(self.store.outbox_due(self.now)))
        self.store.start_attempt(row.id, self.now)
        self.row_id = row.id
        letter = self.letters[row.key]
        letter.attempts += 1
        return letter

    @rule(hours=st.integers(1, 4))
    def wait(self, hours: int) -> None:
        """Let time pass."""
        self.now += hours * HOUR

    @rule()
    def expire(self) -> None:
        """Give up, once, the messages that are of no use any more."""
        gone = [
            letter
            for letter in self.letters.values()
            if letter.next_try_at is not None and letter.useful_until <= self.now
        ]
        for letter in gone:
            letter.next_try_at = None
        assert self.store.expire(self.now) == len(gone)

    @invariant()
    def nothing_is_lost_and_nothing_comes_back(self) -> None:
        """Hold what is due, how often it was tried and whether it is in doubt against the model."""
        found = [
            (row.key, row.attempts, row.maybe_repeat) for row in self.store.outbox_due(self.now)
        ]
        assert found == [
            (key, self.letters[key].attempts, self.letters[key].in_doubt) for key in self.due()
        ]


def test_the_outbox_loses_nothing_and_repeats_nothing_unmarked() -> None:
    run_state_machine_as_test(
        Outbox, settings=settings(max_examples=40, stateful_step_count=25, deadline=None)
    )
