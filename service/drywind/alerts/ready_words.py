"""The one message when a stack has reached what it may be ready for."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Paragraph, Part, plain
from drywind.alerts.records import Decision, Message, Reason
from drywind.config import Contact
from drywind.learn.ready import Goal

MEANS = {
    Goal.PAST_CHECKS: "new surface checks are no longer likely",
    Goal.KILN: "ready for the kiln",
    Goal.AIR_DRY: "air-dry",
}

OF_USE = timedelta(days=7)
"""How long the message is worth sending late (assumption)."""


@dataclass(frozen=True)
class Arrival:
    """A stack that has reached a goal: which, of what wood, where, and by how many readings."""

    stack: str
    wood: str
    site: str
    goal: Goal
    mc_pct: float
    readings: int


def decide_ready(arrival: Arrival, contact: Contact, now: datetime) -> Decision:
    """Return the decision to tell a contact; it opens nothing that would have to end."""
    return Decision(
        contact=contact.name,
        stack=arrival.stack,
        hazard=f"ready_{arrival.goal}",
        reason=Reason.ALL_CLEAR,
        made_at=now,
        severity=0.0,
        onset=None,
        useful_until=now + OF_USE,
    )


def ready_message(arrival: Arrival) -> Message:
    """Return the words of the message."""
    name = f"{arrival.stack} {arrival.wood}, {arrival.site}"
    at = f"about {arrival.mc_pct:.0f}% MC, {MEANS[arrival.goal]}"
    by = "reckoned from the weather alone"
    if arrival.readings:
        by = f"by the weather and {arrival.readings} readings"
    check = "Weigh a sample board to be sure."
    head = f"drywind {name}: {at}."
    text = first_that_fits([f"{head} {check}", head])
    about = f"{name}: {MEANS[arrival.goal]}"
    parts: tuple[Part, ...] = (
        Headline(text, about, check, (("Why", f"{at}, {by}."),), calm=True),
        Paragraph(
            "Boards differ: the wettest decide, and they lie inside the lowest packs. Once it is"
            f" taken down, enter it and how it came out: drywind stack end {arrival.stack}"
            " --checks none --stain none --warp none"
        ),
    )
    return Message(f"drywind: {about}", text, plain(parts), page(f"drywind: {about}", parts))
