"""From the outbox to people: each due message is handed over, one recipient at a time.

E-mails go straight to their mail server (`drywind.mail`), all else goes by Apprise, which says only
whether a message was accepted. What the retries hang on (was it refused for good, or may it have
arrived?) is read from the log it keeps of each attempt; where that tells nothing, the message is
taken as not delivered and tried again.
"""

import fcntl
import logging
import os
import re
from base64 import b32encode
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from drywind.alerts.gsm7 import LONGEST, TWO_PARTS, first_that_fits, plain, septets
from drywind.alerts.records import Message
from drywind.config import Config, Topic
from drywind.errors import UsageError
from drywind.mail import is_mail, replied, send_mail
from drywind.report import FILE_NAME
from drywind.store import LONGEST_RETRY, OutboxRow, Outcome, Store

if TYPE_CHECKING:
    from apprise import Apprise

TIMEOUT_S = 20.0
"""How long one recipient's service may take before we stop waiting."""

RETRY_AFTER = (*(timedelta(minutes=minutes) for minutes in (1, 5, 15, 30)), LONGEST_RETRY)
"""Waits after the first, second, ... attempt that failed for now; the last one stays."""

CALENDAR = frozenset({Topic.DIGEST.value, Topic.OUTLOOK.value})
"""With these the yard's page is sent."""

RETRY_UNKNOWN_AFTER = timedelta(minutes=30)
"""Wait before the one repeat of a message that may have arrived."""

Kind = Literal["text", "email"]
Send = Callable[[str, Message, Kind], tuple[Outcome, str]]

_log = logging.getLogger(__name__)

_SMTP_REPLY = re.compile(r"^Socket Exception: (?:\{.*?: )?\((\d{3}), b", re.MULTILINE)
_HTTP_STATUS = re.compile(r"\berror=(\d{3})\b")
_UNANSWERED = re.compile(
    r"^Socket Exception: .*(?:Read timed out|Connection aborted)|^Sending email to .* failed",
    re.MULTILINE,
)


@dataclass(frozen=True)
class Destination:
    """Where a contact is reached.

    Attributes
    ----------
    url
        An Apprise URL for this one recipient. It holds passwords and tokens: never shown.
    kind
        ``text`` gets the short text alone, ``email`` the subject and the story, as plain text and,
        where the URL is that of a mail server, as a page.
    page
        The file of the yard's page, which comes with what is sent by the calendar.
    """

    url: str = field(repr=False)
    kind: Kind
    page: Path | None = None


def destinations(config: Config) -> dict[str, Destination]:
    """Return where each contact is reached, by name."""
    return {
        name: Destination(
            contact.url.get_secret_value(), contact.kind.value, config.data_dir / FILE_NAME
        )
        for name, contact in config.contacts.items()
    }


@contextmanager
def sole_watcher(config: Config) -> Iterator[None]:
    """Hold the data folder for this process alone: two deliverers would send a message twice.

    Raises
    ------
    UsageError
        If another process holds it.
    """
    handle = _opened(config.data_dir / "daemon.lock")
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise UsageError(
                f"another drywind watches {config.data_dir} already; stop it first"
            ) from None
        yield
    finally:
        os.close(handle)


def _opened(lock: Path) -> int:
    try:
        return os.open(lock, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError:
        if not lock.exists():
            raise
    return os.open(lock, os.O_RDONLY)  # on a disk that can only be read it serves as well


def short_id(key: str) -> str:
    """Return four letters or digits by which a person can tell that two messages are the same."""
    return b32encode(sha256(key.encode()).digest())[:4].decode().lower()


def usable(destination: Destination) -> bool:
    """Tell whether Apprise can use a destination's URL, and takes it for one service alone."""
    return len(_client(destination.url)) == 1


def send_apprise(url: str, message: Message, kind: Kind) -> tuple[Outcome, str]:
    """Hand one message to one recipient; return how it ended and, in words, why.

    A text goes out as it is, without a title, which services would put in front of it; an e-mail
    that is not for a mail server as plain text. The words hold nothing of the URL.
    """
    client = _client(url)
    if kind == "email" and len(client) == 1 and is_mail(client[0]):
        return _send_mail(client[0], message)
    if kind == "email":
        url = f"{url}{'&' if '?' in url else '?'}format=text"
        title, body = message.subject, message.story
    else:
        title, body = "", message.text
    result = _client(url).notify(
        body=body,
        title=title,
        body_format="text",
        timeout=TIMEOUT_S,
        log_level=logging.DEBUG,
    )
    match result.status.name:
        case "SUCCESS":
            return Outcome.SENT, "accepted"
        case "TIMEOUT":
            return Outcome.UNKNOWN, _no_answer()
        case "NOMATCH":
            return Outcome.FAILED_FOR_GOOD, "the contact's URL is not one Apprise can use"
        case _:
            return _failure("\n".join(entry.message for entry in result.logs()))


def _send_mail(service: Any, message: Message) -> tuple[Outcome, str]:
    """Hand over a mail, without waiting for longer than `TIMEOUT_S`."""
    sender = ThreadPoolExecutor(1)
    try:
        return sender.submit(send_mail, service, message).result(TIMEOUT_S)
    except TimeoutError:
        return Outcome.UNKNOWN, _no_answer()
    finally:
        sender.shutdown(wait=False)


def _no_answer() -> str:
    return f"no answer within {TIMEOUT_S:.0f} s"


def deliver_due(
    store: Store,
    contacts: Mapping[str, Destination],
    now: datetime,
    send: Send = send_apprise,
) -> list[tuple[OutboxRow, Outcome]]:
    """Hand over every message that is due, and note how each attempt ended.

    One recipient's failure does not keep the others from getting theirs. An e-mail's subject
    gets the message's short id; a message that may have arrived before is marked ``(repeat?)``.
    All attempts at one e-mail carry the same Message-ID.

    Parameters
    ----------
    contacts
        Where each contact is reached, by name.
    send
        Hands one message over and tells the outcome and, in words, why.

    Raises
    ------
    StoreError
        If an attempt cannot be noted; nothing is sent that was not noted as begun.
    """
    outcomes = []
    for row in store.outbox_due(now):
        store.start_attempt(row.id, now)
        outcome, detail = Outcome.FAILED_FOR_GOOD, "no longer a contact"
        if (destination := contacts.get(row.contact)) is not None:
            words = _worded(row)
            if row.hazard in CALENDAR:
                words = replace(words, attached=destination.page)
            outcome, detail = send(destination.url, words, destination.kind)
        store.finish_attempt(row.id, now, outcome, detail, _next_try(row, outcome, now))
        level = logging.INFO if outcome is Outcome.SENT else logging.WARNING
        _log.log(level, "message %s to %s: %s", short_id(row.key), row.contact, detail)
        outcomes.append((row, outcome))
    return outcomes


def _client(url: str) -> "Apprise":
    """Return Apprise set up for one URL, holding no service if it cannot use it.

    What Apprise and its HTTP library say, URLs and all, is kept out of our log.
    """
    from apprise import Apprise, AppriseAsset  # noqa: PLC0415 - 0.2 s that only sending is worth

    for name in ("apprise", "urllib3"):
        logging.getLogger(name).propagate = False
    logging.getLogger("apprise").setLevel(logging.DEBUG)
    client = Apprise(asset=AppriseAsset(app_id="drywind"))
    client.add(url)
    return client


def _failure(said: str) -> tuple[Outcome, str]:
    """Tell from Apprise's log of a failed attempt whether it failed for now or for good."""
    if reply := _SMTP_REPLY.search(said):
        return replied(int(reply[1]))
    if _UNANSWERED.search(said):
        return Outcome.UNKNOWN, "handed over, but not answered"
    if status := _HTTP_STATUS.search(said):
        return Outcome.FAILED_FOR_NOW, f"not accepted by the service (error {status[1]})"
    return Outcome.FAILED_FOR_NOW, "the service could not be reached"


def _worded(row: OutboxRow) -> Message:
    mark = " (repeat?)" if row.maybe_repeat else ""
    text = row.message.text
    longest = LONGEST if septets(plain(text)) <= LONGEST else TWO_PARTS
    return replace(
        row.message,
        subject=f"{row.message.subject} [{short_id(row.key)}]{mark}",
        text=first_that_fits([f"{text}{mark}", text], longest),
        # The key alone may come again in a store begun anew, and mail programs drop what repeats.
        mail_id=sha256(f"{row.key} {row.useful_until.isoformat()}".encode()).hexdigest()[:32],
    )


def _next_try(row: OutboxRow, outcome: Outcome, now: datetime) -> datetime | None:
    if outcome is Outcome.FAILED_FOR_NOW:
        return now + RETRY_AFTER[min(row.attempts, len(RETRY_AFTER) - 1)]
    if outcome is Outcome.UNKNOWN and not row.maybe_repeat:
        return now + RETRY_UNKNOWN_AFTER
    return None
