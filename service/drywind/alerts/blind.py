"""The one message when drywind is blind: no service has had a new forecast for long."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from drywind.alerts.decide import Before
from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Lines, Paragraph, Part, Row, plain
from drywind.alerts.records import EVERY, Decision, Message, Reason
from drywind.alerts.wording import Reader
from drywind.config import Contact, Topic
from drywind.weather.seen import SiteWeather

BLIND = "blind"
"""Stands in a decision for the hazard; the stack is `EVERY`."""

BLIND_AFTER = timedelta(hours=24)
"""Services issue every few hours: a forecast a day old means that something is broken, and still
covers the day in which to mend it (assumption)."""

OF_USE = timedelta(hours=48)
"""How long the message is worth sending late (assumption)."""


def decide_blind(
    weather: Sequence[SiteWeather], contact: Contact, before: Before, now: datetime, zone: ZoneInfo
) -> Decision | None:
    """Decide whether to tell a contact that no new weather comes; None if there is nothing new.

    It is said once a blackout, outside quiet hours. That sight is back is noted, not said: the
    next warning says so.
    """
    seen = [w.issued_at or w.asked_since or now for w in weather]
    blind = now - min(seen, default=now) >= BLIND_AFTER
    unheard = Topic.WARNINGS not in contact.hear or contact.quiet_ends(now, zone) > now
    if blind == before.is_open or (blind and unheard):
        return None
    return Decision(
        contact=contact.name,
        stack=EVERY,
        hazard=BLIND,
        reason=Reason.FIRST if blind else Reason.ALL_CLEAR,
        made_at=now,
        severity=0.0,
        onset=None,
        useful_until=now + OF_USE,
    )


def blind_message(weather: Sequence[SiteWeather], reader: Reader) -> Message:
    """Return the words of the message."""
    issued = [w.issued_at for w in weather if w.issued_at is not None]
    newest = min(issued) if len(issued) == len(weather) else None
    last = "no forecast ever came"
    if newest is not None:
        age_h = (reader.now - newest).total_seconds() / 3600
        last = f"last forecast {reader.when(newest)}, {age_h:.0f} h old"
    blind = f"drywind is blind: {last}."
    care = "Look at the sky and cover what is fresh; check the internet of the drywind computer."
    text = first_that_fits([f"{blind} {care}", f"{blind} Check its internet."])
    faults = tuple(Row(w.site, w.error) for w in weather if w.error)
    use = "The last forecast is believed until it is 48 hours old; then no stack is watched."
    subject = "drywind is blind: no weather"
    parts: list[Part] = [
        Headline(text, subject, care, (("Why", blind),)),
        Paragraph(f"{use} What each service answered last:"),
        Lines("", faults or (Row("nothing is known"),)),
        Paragraph(
            "You hear no more of this until it works again: the next warning will say so by itself."
        ),
    ]
    return Message(subject, text, plain(parts), page(subject, parts))
