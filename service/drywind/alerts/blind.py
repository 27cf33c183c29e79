"""The one message when drywind is blind: no service has had a new forecast for long."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Lines, Paragraph, Part, Row, plain
from drywind.alerts.records import Message
from drywind.alerts.troubles import Trouble
from drywind.alerts.wording import Reader
from drywind.weather.seen import SiteWeather

BLIND = "blind"
"""Stands in a decision for the hazard; the stack is `EVERY`."""

BLIND_AFTER = timedelta(hours=24)
"""Services issue every few hours: a forecast a day old means that something is broken, and still
covers the day in which to mend it (assumption)."""


def blindness(weather: Sequence[SiteWeather], now: datetime) -> Trouble:
    """Return whether no new weather comes to some site.

    That sight is back is noted, not said: the next warning says so.
    """
    seen = [w.issued_at or w.asked_since or now for w in weather]
    blind = now - min(seen, default=now) >= BLIND_AFTER
    return Trouble(BLIND, blind, lambda reader: blind_message(weather, reader))


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
