"""What the program remembers, in one SQLite file: weather, lots, stacks, decisions, the outbox.

A decision and its message are committed together before anything is sent, and how each attempt
ended is committed after it. So a crash loses no message; at worst it sends one a second time,
which is then marked. Only one process may deliver at a time.
"""

import logging
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from drywind.alerts.records import Decision, Message
from drywind.db import schema
from drywind.db.upkeep import Upkeep
from drywind.errors import UsageError, unknown_name
from drywind.yard import Event, EventKind, Stack

LONGEST_RETRY = timedelta(minutes=60)
"""No message that failed waits longer for its next attempt."""

_log = logging.getLogger(__name__)

_INSERT_STACK = (
    "INSERT INTO stack (id, species, thickness, stacked_at, site, sticker_m, pack_width_m,"
    " measures, green_mc_pct, traits) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
    " ON CONFLICT (id) DO NOTHING"
)
_INSERT_EVENT = "INSERT INTO event (stack, time, kind, detail) VALUES (?, ?, ?, ?)"


class Outcome(StrEnum):
    """How an attempt to hand a message over ended."""

    SENT = "sent"
    FAILED_FOR_NOW = "failed_for_now"
    FAILED_FOR_GOOD = "failed_for_good"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class OutboxRow:
    """A message waiting to be handed over.

    Attributes
    ----------
    key
        The idempotency key of the decision behind it.
    maybe_repeat
        Whether it may have arrived already: an attempt ended unknown, or the program stopped
        in the middle of one.
    """

    id: int
    key: str
    contact: str
    hazard: str
    message: Message
    useful_until: datetime
    attempts: int
    maybe_repeat: bool


@dataclass(frozen=True)
class Fruitless:
    """Attempts to reach a contact, none of which succeeded.

    Attributes
    ----------
    for_good
        Whether one of them was refused for good.
    detail
        How the last one ended, in words.
    """

    since: datetime
    until: datetime
    attempts: int
    for_good: bool
    detail: str


class Store(Upkeep):
    """The database, open; a context manager, used by the thread that opened it.

    Every method raises `StoreError`, naming the file and the trouble, where the database cannot
    be used. A method writes all it has to write or, failing, nothing.
    """

    def add_stack(self, stack: Stack) -> None:
        """Register a stack, together with the events it brings along; see `add_stacks`."""
        self.add_stacks([stack])

    def add_stacks(self, stacks: Iterable[Stack]) -> None:
        """Register stacks, each with the events it brings along: all of them or none.

        Raises
        ------
        UsageError
            If there is a stack or a lot of one of their names, ended or not.
        """
        with self._transaction() as db:
            for stack in stacks:
                added = db.execute(_INSERT_STACK, schema.stack_values(stack)).rowcount
                if not added:
                    raise UsageError(f"there already is a stack {stack.id}; take another name")
                if db.execute("SELECT 1 FROM lot WHERE id = ?", (stack.id,)).fetchone():
                    raise UsageError(f"there already is a lot {stack.id}; take another name")
                db.executemany(_INSERT_EVENT, map(schema.event_values, stack.events))

    def stacks(self, *, include_ended: bool = False) -> list[Stack]:
        """Return the stacks by name, each with its events in order of time.

        A row that is damaged (see `damage`) or makes no sense is left out, and logged: it must not
        silence the others.
        """
        events = defaultdict(list)
        for event in self._events():
            events[event.stack].append(event)
        rows = self._read_sound("stack", "id")
        stacks = []
        for row in rows:
            try:
                stacks.append(schema.read_stack(row, tuple(events[row["id"]])))
            except (UsageError, ValueError, OverflowError, OSError) as error:
                _log.error("stack %s cannot be read: %s", row["id"], error)
        return [s for s in stacks if include_ended or s.ended_at is None]

    def stack(self, stack_id: str) -> Stack:
        """Return one stack, ended or not.

        Raises
        ------
        UsageError
            If there is none of that name; the nearest names are given.
        """
        known = {stack.id: stack for stack in self.stacks(include_ended=True)}
        if stack_id not in known:
            raise unknown_name("stack", stack_id, known)
        return known[stack_id]

    def _events(self) -> list[Event]:
        """Return what happened, in order of time; what was struck later is left out."""
        told = []
        for row in self._read_sound("event", "time, id"):
            try:
                told.append(schema.read_event(row))
            except (ValueError, OverflowError, OSError) as error:
                _log.error("event %s of stack %s cannot be read: %s", *row[:2], error)
        struck = {(e.stack, e.detail) for e in told if e.kind is EventKind.STRUCK}
        return [
            e for e in told if e.kind is not EventKind.STRUCK and (e.stack, str(e.id)) not in struck
        ]

    def add_event(self, event: Event) -> None:
        """Add something that happened to a stack; what was entered before stays as it is.

        Raises
        ------
        UsageError
            If there is no such stack.
        """
        self.add_events([event])

    def add_events(self, events: Iterable[Event]) -> None:
        """Add events as `add_event` does, all of them or none."""
        told = list(events)
        for name in {event.stack for event in told}:
            self.stack(name)
        with self._transaction() as db:
            db.executemany(_INSERT_EVENT, map(schema.event_values, told))

    def save_checkpoint(self, stack_id: str, at: datetime, fingerprint: str, state: bytes) -> None:
        """Keep the computed state of a stack at an instant, in place of the one kept before.

        `fingerprint` says what the state was computed from, so that a stale one can be told.
        """
        self._write(
            "INSERT OR REPLACE INTO checkpoint VALUES (?, ?, ?, ?)",
            *(stack_id, schema.seconds(at), fingerprint, state),
        )

    def checkpoint(self, stack_id: str) -> tuple[datetime, str, bytes] | None:
        """Return the instant, fingerprint and state kept of a stack, or None."""
        rows = self._read(
            "SELECT at, fingerprint, state FROM sound_checkpoint WHERE stack = ?", stack_id
        )
        return (schema.instant(rows[0]["at"]), *rows[0][1:]) if rows else None

    def record(self, decision: Decision, message: Message | None, key: str) -> bool:
        """Write one decision; see `record_all`."""
        return self.record_all([(decision, message, key)])[0]

    def record_all(self, entries: Iterable[tuple[Decision, Message | None, str]]) -> list[bool]:
        """Write decisions, with the messages of those that carry one, in one transaction.

        Return for each whether it is new; one whose key was recorded before is left out, message
        and all.
        """
        are_new = []
        with self._transaction() as db:
            for decision, message, key in entries:
                cursor = db.execute(
                    "INSERT INTO decision (key, contact, stack, hazard, reason, made_at, severity,"
                    " onset, useful_until) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
                    " ON CONFLICT (key) DO NOTHING",
                    (key, *schema.decision_values(decision)),
                )
                are_new.append(cursor.rowcount == 1)
                if are_new[-1] and message is not None:
                    db.execute(
                        "INSERT INTO outbox (id, subject, text, story, html)"
                        " VALUES (?, ?, ?, ?, ?)",
                        (cursor.lastrowid, *schema.message_values(message)),
                    )
        return are_new

    def last_decisions(self) -> list[Decision]:
        """Return, for each contact, stack, hazard and reason, the last decision, oldest first.

        Last and oldest are by the order of writing, which a clock set back cannot upset. What
        never reached its contact while it was of use does not count.
        """
        rows = self._read(
            "SELECT * FROM sound_decision WHERE id IN"
            " (SELECT max(id) FROM decision WHERE NOT unheard"
            " GROUP BY contact, stack, hazard, reason) ORDER BY id"
        )
        return [schema.read_decision(row) for row in rows]

    def count_messages(self, contact: str, start: datetime, end: datetime) -> int:
        """Return how many messages to a contact were decided from one instant up to another."""
        rows = self._read(
            "SELECT count(*) FROM outbox JOIN decision USING (id)"
            " WHERE contact = ? AND made_at >= ? AND made_at < ?",
            *(contact, schema.seconds(start), schema.seconds(end)),
        )
        return int(rows[0][0])

    def outbox_due(self, now: datetime) -> list[OutboxRow]:
        """Return the messages to try now that are still of use, the oldest first.

        One whose attempt never ended, because the program was stopped, is due at once; so is one
        that is to wait for longer than any does: the clock was ahead when that was noted.
        """
        rows = self._read(
            "SELECT * FROM sound_outbox JOIN sound_decision USING (id)"
            " WHERE (next_try_at <= ?1 OR next_try_at > ?2) AND useful_until > ?1 ORDER BY id",
            *(schema.seconds(now), schema.seconds(now + LONGEST_RETRY)),
        )
        return [
            OutboxRow(
                id=row["id"],
                key=row["key"],
                contact=row["contact"],
                hazard=row["hazard"],
                message=schema.read_message(row),
                useful_until=schema.instant(row["useful_until"]),
                attempts=row["attempts"],
                maybe_repeat=bool(row["in_doubt"]),
            )
            for row in rows
        ]

    def expire(self, now: datetime) -> int:
        """Give up the open messages that are of no use any more; return how many.

        The warnings of one that cannot have arrived count as unheard from then on, together with
        those that were to share it: they are no part of what was said.
        """
        with self._transaction() as db:
            late = db.execute(
                "UPDATE outbox SET maybe_repeat = in_doubt, state = 'expired', next_try_at = NULL"
                " WHERE next_try_at IS NOT NULL"
                " AND id IN (SELECT id FROM decision WHERE useful_until <= ?)"
                " RETURNING id, maybe_repeat",
                (schema.seconds(now),),
            ).fetchall()
            for row_id in (row["id"] for row in late if not row["maybe_repeat"]):
                # The key is given up as well: the same may have to be said once more.
                db.execute(
                    "UPDATE decision SET unheard = 1, key = key || '|unheard ' || id"
                    " WHERE reason IN ('first', 'worse', 'repeat', 'superseded')"
                    " AND (contact, made_at) ="
                    " (SELECT contact, made_at FROM decision WHERE id = ?1)"
                    " AND (id = ?1 OR id NOT IN (SELECT id FROM outbox))",
                    (row_id,),
                )
        return len(late)

    def missed(self) -> dict[str, list[Decision]]:
        """Return, by contact, the warnings that expired unheard since it was last reached."""
        rows = self._read(
            "SELECT * FROM decision AS missed WHERE unheard AND id > ("
            " SELECT coalesce(max(id), 0) FROM outbox JOIN decision USING (id)"
            " WHERE contact = missed.contact AND state = 'sent') ORDER BY id"
        )
        found = defaultdict[str, list[Decision]](list)
        for row in rows:
            found[row["contact"]].append(schema.read_decision(row))
        return dict(found)

    def withdraw(self, contact: str, hazard: str, but: str) -> int:
        """Give up the open messages on a hazard to a contact, all but that of one key."""
        return self._write(
            "UPDATE outbox SET state = 'withdrawn', next_try_at = NULL"
            " WHERE next_try_at IS NOT NULL AND id IN"
            " (SELECT id FROM decision WHERE contact = ? AND hazard = ? AND key != ?)",
            *(contact, hazard, but),
        )

    def fruitless(self) -> dict[str, Fruitless]:
        """Return, by contact, its attempts since the last that succeeded, if there are any."""
        rows = self._read(
            "SELECT *, (SELECT detail FROM outcome WHERE id = last) AS detail FROM ("
            " SELECT contact, min(at) AS since, max(at) AS until, count(*) AS attempts,"
            " max(outcome = 'failed_for_good') AS for_good, max(outcome.id) AS last"
            " FROM outcome JOIN decision AS made ON made.id = outbox"
            " WHERE outcome.id > (SELECT coalesce(max(o.id), 0)"
            " FROM outcome AS o JOIN decision AS d ON d.id = o.outbox"
            " WHERE d.contact = made.contact AND o.outcome = 'sent')"
            " GROUP BY contact)"
        )
        return {
            row["contact"]: Fruitless(
                schema.instant(row["since"]),
                schema.instant(row["until"]),
                row["attempts"],
                bool(row["for_good"]),
                row["detail"],
            )
            for row in rows
        }

    def start_attempt(self, row_id: int, now: datetime) -> None:
        """Note, before anything is sent, that a message is about to be."""
        self._write(
            "UPDATE outbox SET maybe_repeat = in_doubt, state = 'sending', attempts = attempts + 1,"
            " tried_at = ?, next_try_at = 0 WHERE id = ?",
            *(schema.seconds(now), row_id),
        )

    def finish_attempt(
        self,
        row_id: int,
        now: datetime,
        outcome: Outcome,
        detail: str,
        next_try_at: datetime | None,
    ) -> None:
        """Note how an attempt ended, and when to try again; None is never."""
        with self._transaction() as db:
            db.execute(
                "INSERT INTO outcome VALUES (NULL, ?, ?, ?, ?)",
                (row_id, schema.seconds(now), outcome, detail),
            )
            db.execute(
                "UPDATE outbox SET state = ?, next_try_at = ? WHERE id = ?",
                (outcome, schema.seconds(next_try_at), row_id),
            )

    def last_outcomes(self) -> dict[str, tuple[datetime, str, str]]:
        """Return when the last attempt at a message to each contact ended, how, and in words."""
        rows = self._read(
            "SELECT decision.contact, outcome.at, outcome.outcome, outcome.detail,"
            " max(outcome.id) FROM outcome JOIN decision ON decision.id = outcome.outbox"
            " GROUP BY decision.contact"
        )
        return {row[0]: (schema.instant(row[1]), row[2], row[3]) for row in rows}
