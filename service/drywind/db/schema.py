"""The rows of the database file as records, and back; see `drywind.db.tables`."""

import sqlite3
from datetime import UTC, datetime
from math import nan

from drywind.alerts.records import Decision, Message, Reason
from drywind.units import Thickness
from drywind.weather.hour import WeatherHour
from drywind.weather.validators import Remembered, Validators
from drywind.yard import Event, EventKind, Measure, Setup, Stack, Trait

Value = str | int | float | None


def seconds(instant: datetime | None) -> int | None:
    """Return an instant as the whole unix seconds it is stored as; NULL for none."""
    return None if instant is None else int(instant.timestamp())


def instant(stored: int) -> datetime:
    """Return the instant stored as unix seconds, in UTC."""
    return datetime.fromtimestamp(stored, UTC)


def instant_or_none(stored: int | None) -> datetime | None:
    """Return the instant stored, or none for NULL."""
    return None if stored is None else instant(stored)


def hour_values(hour: WeatherHour) -> tuple[Value, ...]:
    """Return an hour of weather in the order of its columns; SQLite stores nan as NULL."""
    time_utc, *quantities, source, issued_at = hour
    return (source, seconds(time_utc), *quantities, seconds(issued_at))


def read_hour(row: sqlite3.Row) -> WeatherHour:
    """Return the hour of weather in a row of ``weather_hour``."""
    _, source, time_utc, *quantities, issued_at = row
    known = (nan if quantity is None else quantity for quantity in quantities)
    return WeatherHour._make((instant(time_utc), *known, source, instant(issued_at)))


def remembered_values(known: Remembered) -> tuple[Value, ...]:
    """Return what is remembered of a service in the order of its columns."""
    return (
        known.cell,
        known.validators.etag,
        known.validators.last_modified,
        seconds(known.validators.expires_at),
        seconds(known.first_asked_at),
        seconds(known.asked_at),
        seconds(known.answered_at),
        seconds(known.refused_until),
        known.error,
    )


def read_remembered(row: sqlite3.Row) -> Remembered:
    """Return what is remembered in a row of ``service``."""
    return Remembered(
        Validators(row["etag"], row["last_modified"], instant_or_none(row["expires_at"])),
        row["cell"],
        instant_or_none(row["first_asked_at"]),
        instant_or_none(row["asked_at"]),
        instant_or_none(row["answered_at"]),
        instant_or_none(row["refused_until"]),
        row["error"],
    )


def stack_values(stack: Stack) -> tuple[Value, ...]:
    """Return a stack, without its events, in the order of its columns."""
    return (
        stack.id,
        stack.species,
        stack.thickness.label,
        seconds(stack.stacked_at),
        stack.setup.site,
        stack.setup.sticker_m,
        stack.setup.pack_width_m,
        " ".join(sorted(stack.setup.measures)),
        stack.green_mc_pct,
        " ".join(sorted(stack.traits)),
    )


def read_stack(row: sqlite3.Row, events: tuple[Event, ...]) -> Stack:
    """Return the stack in a row of ``stack``, with its events."""
    measures = frozenset(map(Measure, row["measures"].split()))
    return Stack(
        id=row["id"],
        species=row["species"],
        thickness=Thickness.parse(row["thickness"]),
        stacked_at=instant(row["stacked_at"]),
        setup=Setup(row["site"], row["sticker_m"], row["pack_width_m"], measures),
        green_mc_pct=row["green_mc_pct"],
        traits=frozenset(map(Trait, row["traits"].split())),
        events=events,
    )


def event_values(event: Event) -> tuple[Value, ...]:
    """Return an event in the order of its columns."""
    return (event.stack, seconds(event.time), event.kind, event.detail)


def read_event(row: sqlite3.Row) -> Event:
    """Return the event in a row of ``event``."""
    return Event(
        row["stack"], instant(row["time"]), EventKind(row["kind"]), row["detail"], row["id"]
    )


def decision_values(decision: Decision) -> tuple[Value, ...]:
    """Return a decision in the order of its columns."""
    return (
        decision.contact,
        decision.stack,
        decision.hazard,
        decision.reason,
        seconds(decision.made_at),
        decision.severity,
        seconds(decision.onset),
        seconds(decision.useful_until),
    )


def read_decision(row: sqlite3.Row) -> Decision:
    """Return the decision in a row of ``decision``."""
    return Decision(
        contact=row["contact"],
        stack=row["stack"],
        hazard=row["hazard"],
        reason=Reason(row["reason"]),
        made_at=instant(row["made_at"]),
        severity=row["severity"],
        onset=instant_or_none(row["onset"]),
        useful_until=instant(row["useful_until"]),
    )


def message_values(message: Message) -> tuple[Value, ...]:
    """Return a message in the order of its columns in ``outbox``."""
    return (message.subject, message.text, message.story, message.html)


def read_message(row: sqlite3.Row) -> Message:
    """Return the message in a row of ``outbox``."""
    return Message(row["subject"], row["text"], row["story"], row["html"])
