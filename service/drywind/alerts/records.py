"""What was decided about telling somebody, as data."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Reason(StrEnum):
    """Why something is said now, or is not."""

    FIRST = "first"
    WORSE = "worse"
    REPEAT = "repeat"
    ALL_CLEAR = "all_clear"
    HELD_QUIET = "held_quiet"
    NOTHING_NEW = "nothing_new"

    @property
    def speaks(self) -> bool:
        """Whether a message goes out for this reason."""
        return self not in {Reason.HELD_QUIET, Reason.NOTHING_NEW}

    @property
    def stored(self) -> bool:
        """Whether a decision for this reason is kept."""
        return self is not Reason.NOTHING_NEW


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
    """

    subject: str
    text: str
    story: str
    html: str = ""
    mail_id: str = ""
