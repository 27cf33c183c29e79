"""The honest late word: what a contact would have been told while nothing reached it."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.manner import MANNERS
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Lines, Paragraph, Part, Row, plain
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.wording import Reader
from drywind.config import Contact
from drywind.judge.findings import Hazard

LATE = "late"
"""Stands in a decision for the hazard; the stack is `EVERY`."""

OF_USE = timedelta(days=7)
"""How long it is worth knowing that a stack went through danger unwarned (assumption)."""


def decide_late(missed: Sequence[Decision], contact: Contact, now: datetime) -> Decision | None:
    """Decide whether to tell a contact what expired before it could be reached.

    Only harm that has begun is told: what is still to come is warned of anew by itself.
    """
    begun = [d for d in missed if d.onset is not None and d.onset <= now]
    if not begun:
        return None
    return Decision(
        contact=contact.name,
        stack=EVERY,
        hazard=LATE,
        reason=Reason.FIRST,
        made_at=now,
        severity=max(d.severity for d in begun),
        onset=None,
        useful_until=now + OF_USE,
    )


def late_key(decision: Decision, missed: Sequence[Decision]) -> str:
    """Return the key of the late word: what it tells of."""
    last = max(d.made_at for d in missed)
    return f"{decision.contact}|{EVERY}|{LATE}|{last.isoformat()}|{len(missed)}"


def late_message(missed: Sequence[Decision], now: datetime, reader: Reader) -> Message:
    """Return the words: since when nothing got through, and which stacks to look at."""
    begun = [d for d in missed if d.onset is not None and d.onset <= now]
    since = reader.when(min(d.made_at for d in missed))
    names = list(dict.fromkeys(d.stack for d in begun))
    head = f"drywind could not reach you since {since}. Danger came to"
    tail = "look at the boards. What is still ahead is told anew."
    text = first_that_fits(
        [f"{head} {', '.join(names)}: {tail}"]
        + [
            f"{head} {', '.join(names[:kept])} and {len(names) - kept} more: {tail}"
            for kept in range(len(names) - 1, 0, -1)
        ]
        + [f"{head} {len(names)} stacks: {tail}"]
    )
    subject = f"drywind: late, {len(names)} {'stack' if len(names) == 1 else 'stacks'}"
    parts: list[Part] = [
        Headline(text, subject, "Look at these boards for checks, stain and wet stickers."),
        Lines("What you would have been told:", tuple(_row(d, reader) for d in begun)),
        Paragraph("What is still ahead is told in messages of its own."),
    ]
    return Message(subject, text, plain(parts), page(subject, parts))


def _row(decision: Decision, reader: Reader) -> Row:
    assert decision.onset is not None
    name = MANNERS[Hazard(decision.hazard)].name
    return Row(decision.stack, f"{name}, from {reader.when(decision.onset)}")
