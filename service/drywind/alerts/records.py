"""What was decided about telling somebody, as data."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from drywind.alerts.parts import Part

EVERY = "*"
"""Stands for every stack, a name no stack can have; in a snooze, for every hazard too."""


class Reason(StrEnum):
    """Why something is said now, or is not."""

    FIRST = "first"
    WORSE = "worse"
    REPEAT = "repeat"
    ALL_CLEAR = "all_clear"
    NOT_YET = "not_yet"
    """Harm is so far off that a later forecast is better."""
    HELD_QUIET = "held_quiet"
    """In the contact's quiet hours, and morning is time enough."""
    ACKED = "acked"
    """Somebody has acknowledged it, or done something to the stack since."""
    SNOOZED = "snoozed"
    """Somebody wants to hear nothing of it for a while."""
    SUPERSEDED = "superseded"
    """A more urgent hazard of the same stack is said instead, and counts for this one too."""
    OVER_CAP = "over_cap"
    """The contact has had its texts of the day."""
    LAPSED = "lapsed"
    """The hours warned of are over without an all clear; what comes next is another danger."""
    NOTHING_NEW = "nothing_new"

    @property
    def speaks(self) -> bool:
        """Whether a message goes out for this reason."""
        return self in {Reason.FIRST, Reason.WORSE, Reason.REPEAT, Reason.ALL_CLEAR}

    @property
    def is_said(self) -> bool:
        """Whether what was decided for this reason counts as said from then on."""
        return self.speaks or self is Reason.SUPERSEDED

    @property
    def stored(self) -> bool:
        """Whether a pass keeps a decision for this reason."""
        kept_back = {Reason.HELD_QUIET, Reason.OVER_CAP, Reason.LAPSED}
        return self.is_said or self in kept_back


@dataclass(frozen=True)
class Decision:
    """Whether to tell one contact about one hazard of one stack, and why.

    Attributes
    ----------
    severity
        Of the worst window, 1 being the limit, as judged when this was decided; 0 when all clear.
    onset
        When harm begins; None when all clear.
    useful_until
        After this instant the message would only confuse.
    """

    contact: str
    stack: str
    hazard: str
    reason: Reason
    made_at: datetime
    severity: float
    onset: datetime | None
    useful_until: datetime


@dataclass(frozen=True)
class Message:
    """The words for one contact: a short text, and a longer story for e-mail.

    Attributes
    ----------
    html
        The story as a page; empty where there is none.
    mail_id
        The same over all attempts to send the message, and no other's; empty until it is sent.
    attached
        A file that comes with the e-mail; None until it is sent.
    parts
        What both forms of the e-mail were written from, for messages that are joined.
    """

    subject: str
    text: str
    story: str
    html: str = ""
    mail_id: str = ""
    attached: Path | None = None
    parts: tuple[Part, ...] = field(default=(), compare=False, repr=False)
