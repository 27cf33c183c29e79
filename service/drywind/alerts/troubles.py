"""What goes wrong with drywind itself, as one plain message a spell, by the channels that work."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from drywind.alerts.decide import Before
from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.own_words import own_message
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.wording import Reader
from drywind.config import Contact, Topic

OF_USE = timedelta(hours=48)
"""How long the message is worth sending late (assumption)."""

UNREACHABLE = "unreachable"
DISK = "disk"
UNWRITABLE = "unwritable"
RESTORED = "restored"


@dataclass(frozen=True)
class Trouble:
    """Something that may be wrong with drywind itself.

    Attributes
    ----------
    hazard
        What stands in a decision for the hazard; each has its own spells.
    stands
        Whether it is so now; None leaves what was said before as it is.
    message
        Writes the words on it.
    about
        The contact it is about, who cannot be told.
    """

    hazard: str
    stands: bool | None
    message: Callable[[Reader], Message]
    about: str = ""


def decide_trouble(
    trouble: Trouble, contact: Contact, before: Before, now: datetime, zone: ZoneInfo
) -> Decision | None:
    """Decide whether to tell a contact of a trouble; None if there is nothing new.

    It is said once a spell, outside quiet hours. That it is over is noted, not said.
    """
    unheard = Topic.WARNINGS not in contact.hear or contact.quiet_ends(now, zone) > now
    silent = unheard or contact.name == trouble.about
    if trouble.stands is None or trouble.stands == before.is_open or (trouble.stands and silent):
        return None
    return Decision(
        contact=contact.name,
        stack=EVERY,
        hazard=trouble.hazard,
        reason=Reason.FIRST if trouble.stands else Reason.ALL_CLEAR,
        made_at=now,
        severity=0.0,
        onset=None,
        useful_until=now + OF_USE,
    )


def unreachable_message(name: str, since: datetime, detail: str, reader: Reader) -> Message:
    """Return the words on a contact that gets nothing."""
    what = f"drywind cannot reach {name} since {reader.when(since)}"
    do = "Mend its URL, then: drywind send-test. Tell them yourself till then."
    text = first_that_fits([f"{what}: {detail}. {do}", f"{what}. {do}"])
    return own_message(
        text,
        f"drywind cannot reach {name}",
        "Tell them yourself what is urgent until it works again.",
        f"What was said last: {detail}.",
        "Look at the address of this contact (its Apprise URL, its password, its account with the "
        "provider), then run `drywind send-test`. Each new warning is tried there all the same; "
        "what others hear does not depend on it.",
    )


def disk_message(free_mb: float, folder: str, _reader: Reader) -> Message:
    """Return the words on a disk that is nearly full."""
    text = f"drywind: the disk is nearly full, {free_mb:.0f} MB left. Make room on its computer."
    return own_message(
        text,
        "drywind: the disk is nearly full",
        "Make room on the computer drywind runs on.",
        f"{free_mb:.0f} MB are left where drywind keeps its data ({folder}).",
        "On a full disk it goes on warning from memory, but what happens meanwhile is lost when it "
        "stops. Look for old logs and downloads first: `df -h`, `du -sh /var/log`.",
    )


def unwritable_message(folder: str, _reader: Reader) -> Message:
    """Return the words on a disk that cannot be written."""
    text = "drywind cannot write to its disk and watches on from memory. Make room, or change the"
    return own_message(
        f"{text} card, before its computer stops.",
        "drywind cannot write to its disk",
        "Make room on the computer drywind runs on, or change its card.",
        f"It is full, or can only be read ({folder}). Warnings go on from memory; if the computer "
        "stops, what was learned meanwhile is lost, and some may be said again. What you enter "
        "(stacks, events) is refused until then.",
    )


def restored_message(told: str, at: datetime, reader: Reader) -> Message:
    """Return the words on a store that was damaged; `told` says what stands in its place."""
    see = "See that all stacks and events are there: drywind stack list."
    text = first_that_fits(
        [
            f"drywind: its data was damaged {reader.when(at)}; {told}. {see}",
            f"drywind: its data was damaged; {told}. Check: drywind stack list.",
            "drywind: its data was damaged and replaced. Check: drywind stack list.",
        ]
    )
    return own_message(
        text,
        "drywind: its data was damaged",
        "See whether all stacks and what was done to them are there: drywind stack list.",
        f"Found damaged on {reader.when(at)}; {told}.",
        "Enter again what is missing since then. A damaged file mostly means that the SD card "
        "wears out, or that the power was cut: a new card, or a USB SSD, is cheaper than a stack "
        "of oak.",
    )
