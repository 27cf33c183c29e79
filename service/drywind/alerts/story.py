"""The e-mail behind a text: what happens, why, what was tried, and how sure it is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor, isfinite

from drywind.alerts.curve import curve
from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.manner import MANNERS
from drywind.alerts.other_words import other_advice, other_cause, other_text, others
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Lines, Paragraph, Part, Picture, Row, plain
from drywind.alerts.records import Message, Reason
from drywind.alerts.tried import what_to_do
from drywind.alerts.wording import (
    Reader,
    advice,
    air_name,
    all_clear,
    danger,
    first_days,
    likely,
    points,
    share,
    stack_name,
    text,
    when,
    why_clear,
)
from drywind.climate.stack_air import Board
from drywind.judge.chance import MEMBERS
from drywind.judge.findings import Finding, Hazard
from drywind.judge.hazards import SHELL_CHECKS_PCT
from drywind.judge.outlook import Outlook
from drywind.units import temperature_text, wind_text
from drywind.weather.credit import credit
from drywind.weather.nws_alerts import Notice

BOARD_NAMES = {
    Board.TYPICAL: "typical board",
    Board.EDGE: "windward edge board",
    Board.TOP: "open top course",
}
OLD_H = 12.0
"""From so many hours on a text says how old its forecast is (assumption)."""


@dataclass(frozen=True)
class Told:
    """What the weather services say of the hours ahead.

    Attributes
    ----------
    issued_at, source
        When the forecast was issued, and by which service.
    notices
        What the US service warns of.
    """

    issued_at: datetime
    source: str
    notices: Sequence[Notice] = ()

    def age_h(self, now: datetime) -> float:
        """Return how old the forecast is."""
        return max(0.0, (now - self.issued_at).total_seconds() / 3600)


def message(
    outlook: Outlook,
    reason: Reason,
    reader: Reader,
    told: Told,
    hazard: Hazard = Hazard.TOO_FAST,
    also: Sequence[Hazard] = (),
) -> Message:
    """Return the words of a decision that speaks.

    Parameters
    ----------
    hazard
        The one that is over its limit, or cleared.
    also
        Others the stack is warned of by the same message.
    """
    finding = outlook.finding(hazard)
    if hazard is Hazard.TOO_FAST:
        short = text(outlook, reason, reader)
    else:
        short = other_text(outlook, finding, reason, reader)
    if also:
        names = " and ".join(MANNERS[other].brief for other in also)
        short = first_that_fits([f"{short} And {names}.", short])
    short = with_age(short, told, reader)
    state = "all clear" if reason is Reason.ALL_CLEAR else MANNERS[hazard].name
    mark = {Reason.WORSE: "worse: ", Reason.REPEAT: "still "}.get(reason, "")
    about = f"{stack_name(outlook)}: {mark}{state}"
    headline = Headline(
        text=short,
        about=about,
        advice=_upper(_to_do(outlook, finding, reason, reader)),
        facts=_facts(outlook, finding, reason, reader),
        calm=reason is Reason.ALL_CLEAR,
    )
    parts = (headline, *_at_length(outlook, finding, reason, reader, told))
    return composed(f"drywind: {about}", short, parts)


def in_short(
    outlook: Outlook, reason: Reason, reader: Reader, hazard: Hazard = Hazard.TOO_FAST
) -> tuple[str, str]:
    """Return what to do, and what is behind it, for a text about several stacks."""
    if reason is Reason.ALL_CLEAR:
        return all_clear(outlook, reader), ""
    finding = outlook.finding(hazard)
    if hazard is not Hazard.TOO_FAST:
        cause = other_cause(outlook, finding, reader).removesuffix(".")
        return other_advice(outlook, finding, reader), cause
    return advice(outlook, reader), when(outlook, reader)


def composed(subject: str, short: str, parts: Sequence[Part]) -> Message:
    """Return a message of these words and parts, the e-mail in both its forms."""
    html = page(subject, parts)
    return Message(subject=subject, text=short, story=plain(parts), html=html, parts=tuple(parts))


def illustrated(message: Message, picture: Picture) -> Message:
    """Return a message with a picture after its headline: people look before they read."""
    headline, *rest = message.parts
    return composed(message.subject, message.text, (headline, picture, *rest))


def with_age(short: str, told: Told, reader: Reader) -> str:
    """Return a text that says how old its forecast is if it is old."""
    age_h = told.age_h(reader.now)
    return (
        first_that_fits([f"{short} (Forecast {age_h:.0f} h old.)", short])
        if age_h >= OLD_H
        else short
    )


def _at_length(
    outlook: Outlook, finding: Finding, reason: Reason, reader: Reader, told: Told
) -> Iterator[Part]:
    """Yield what is told after the headline, in the order it is read."""
    parts: list[Part | None] = [_boards(outlook), others(outlook, reader)]
    if reason is not Reason.ALL_CLEAR:
        dry = finding.hazard is Hazard.TOO_FAST
        parts += [_cause(outlook, reader) if dry else None, *what_to_do(outlook, reader)]
    parts += [
        curve(outlook, reader),
        _notices(told, reader),
        _how_sure(outlook, finding, reader, told),
    ]
    yield from (part for part in parts if part is not None)


def _to_do(outlook: Outlook, finding: Finding, reason: Reason, reader: Reader) -> str:
    if reason is Reason.ALL_CLEAR:
        return all_clear(outlook, reader)
    if finding.hazard is Hazard.TOO_FAST:
        return advice(outlook, reader)
    return other_advice(outlook, finding, reader)


def _facts(
    outlook: Outlook, finding: Finding, reason: Reason, reader: Reader
) -> tuple[tuple[str, str], ...]:
    """Return what stands behind the headline, each with its name."""
    if reason is Reason.ALL_CLEAR:
        return (("Why", _upper(why_clear(outlook))),)
    facts = []
    if finding.hazard is not Hazard.TOO_FAST:
        facts.append(("What", _upper(other_cause(outlook, finding, reader))))
    elif outlook.spell is not None:
        facts.append(("When", f"{when(outlook, reader)}."))
    if finding.hazard is Hazard.TOO_FAST and outlook.pace.worst is not None:
        facts.append(("How bad", danger(outlook.pace.worst, outlook.chosen)))
    if finding.chance is not None:
        of = f"{share(finding.chance)} of {MEMBERS} weathers"
        facts.append(("How likely", f"{_upper(likely(finding.chance))}: {of}."))
    return tuple(facts)


def _upper(words: str) -> str:
    """Return words with the first letter a capital one."""
    return words[:1].upper() + words[1:]


def _boards(outlook: Outlook) -> Lines:
    rows = []
    for board, window in outlook.pace.by_board.items():
        start = outlook.run.mc_pct[window.start, list(Board).index(board)]
        skin = ""
        if window.shell_pct is not None:
            skin = f"; its skin comes to {floor(window.shell_pct)} % in its first 3 days"
        limit = window.safe_pct_per_day
        safe = f"{points(limit, limit)} is safe"
        if not isfinite(window.safe_pct_per_day):
            safe = "it is too dry to be harmed"
        loss = points(window.loss_pct_per_day, limit)
        rows.append(Row(BOARD_NAMES[board], f"{loss}, from {start:.0f} % MC, where {safe}{skin}"))
    after = (
        "Safe for this wood and thickness while wet:"
        f" {points(outlook.limit.value, outlook.limit.value)}"
        f" ({outlook.limit.basis})."
    )
    if any(w.shell_pct is not None for w in outlook.pace.by_board.values()):
        after += (
            "\nEvery fresh board starts fast; it is in danger if its skin, the outer millimeter,"
            f" also falls below about {SHELL_CHECKS_PCT:.0f} % within three days (our own rule)."
        )
    head = "The worst ahead, in points of moisture content (MC) a day:"
    return Lines(head, tuple(rows), after)


def _cause(outlook: Outlook, reader: Reader) -> Paragraph | None:
    spell = outlook.spell
    if spell is None:
        return None
    hot = temperature_text(spell.temp_c, reader.units)
    fresh = first_days(outlook).lower()
    first = f"{fresh}, the worst of them in " if fresh else ""
    return Paragraph(
        f"Why: {first}{air_name(spell)}, {reader.spell(spell)}: up to {hot} and"
        f" {wind_text(spell.wind_ms, reader.units)}, humidity down to {100 * spell.rh:.0f} %."
    )


def _notices(told: Told, reader: Reader) -> Lines | None:
    """Return what the US service warns of, a line each."""
    rows = []
    for notice in told.notices:
        end = notice.ends or notice.expires
        until = f" until {reader.when(end)}" if end else ""
        rows.append(Row(f"{notice.event}{until}"))
    return Lines("The weather service warns of:", tuple(rows)) if rows else None


def _how_sure(outlook: Outlook, finding: Finding, reader: Reader, told: Told) -> Paragraph:
    gap = (
        f" The weather of {outlook.unknown_hours} h is missing; the stack was taken as it was"
        " before them, so it may be drier than we think."
        if outlook.unknown_hours
        else ""
    )
    return Paragraph(
        "How sure: the model has not been weighed against your boards; take its losses as good to"
        " about 1 point a day in the first two days and half a point in the first week. How much"
        " wind and sun reach a stack, and what covers do, are assumptions."
        f"{_chance(finding.chance)}{gap}\n"
        f"{credit(told.source)}, issued {told.age_h(reader.now):.0f} h ago."
    )


def _chance(chance: float | None) -> str:
    if chance is None:
        return ""
    return (
        f" That it goes over its limit is {likely(chance)}: {share(chance)} of the {MEMBERS}"
        " weathers tried, which could well come of this forecast, bring it there."
    )
