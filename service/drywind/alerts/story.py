"""The e-mail behind a text: what happens, why, what was tried, and how sure it is."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor, isfinite

from drywind.alerts.curve import curve
from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.page import page
from drywind.alerts.parts import Headline, Lines, Paragraph, Part, Row, plain
from drywind.alerts.records import Message, Reason
from drywind.alerts.wording import (
    Reader,
    advice,
    air_name,
    all_clear,
    danger,
    doing,
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
from drywind.judge.hazards import SHELL_CHECKS_PCT
from drywind.judge.measures import Trial
from drywind.judge.outlook import Outlook
from drywind.units import temperature_text, wind_text
from drywind.weather.credit import credit
from drywind.weather.nws_alerts import Notice
from drywind.yard import Measure

BOARD_NAMES = {
    Board.TYPICAL: "typical board",
    Board.EDGE: "windward edge board",
    Board.TOP: "open top course",
}
CAUTION_COVER = (
    "Covers sail: tie cloth and burlap down, weight or strap roofs, and leave them alone once it"
    " blows hard."
)
CAUTION_LOADER = (
    "Stacks tip: lift only what the loader is rated for, on level ground, with nobody beside it;"
    " your local rules come first."
)
TRIED_SHOWN = 10
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


def message(outlook: Outlook, reason: Reason, reader: Reader, told: Told) -> Message:
    """Return the words of a decision that speaks."""
    short = text(outlook, reason, reader)
    age_h = _age_h(told, reader)
    if age_h >= OLD_H:
        short = first_that_fits([f"{short} (Forecast {age_h:.0f} h old.)", short])
    state = "all clear" if reason is Reason.ALL_CLEAR else "drying too fast"
    mark = {Reason.WORSE: "worse: ", Reason.REPEAT: "still "}.get(reason, "")
    about = f"{stack_name(outlook)}: {mark}{state}"
    headline = Headline(
        text=short,
        about=about,
        advice=_upper(_to_do(outlook, reason, reader)),
        facts=_facts(outlook, reason, reader),
        calm=reason is Reason.ALL_CLEAR,
    )
    parts = [headline, *_at_length(outlook, reason, reader, told)]
    subject = f"drywind: {about}"
    return Message(subject=subject, text=short, story=plain(parts), html=page(subject, parts))


def _at_length(outlook: Outlook, reason: Reason, reader: Reader, told: Told) -> Iterator[Part]:
    """Yield what is told after the headline, in the order it is read."""
    parts: list[Part | None] = [_boards(outlook)]
    if reason is not Reason.ALL_CLEAR:
        parts += [_cause(outlook, reader), _tried(outlook), *_cautions(outlook), _enter(outlook)]
    parts += [curve(outlook, reader), _notices(told, reader), _how_sure(outlook, reader, told)]
    yield from (part for part in parts if part is not None)


def _to_do(outlook: Outlook, reason: Reason, reader: Reader) -> str:
    if reason is Reason.ALL_CLEAR:
        return all_clear(outlook, reader)
    return advice(outlook, reader)


def _facts(outlook: Outlook, reason: Reason, reader: Reader) -> tuple[tuple[str, str], ...]:
    """Return what stands behind the headline, each with its name."""
    if reason is Reason.ALL_CLEAR:
        return (("Why", _upper(why_clear(outlook))),)
    facts = []
    if outlook.spell is not None:
        facts.append(("When", f"{when(outlook.spell, reader)}."))
    if outlook.pace.worst is not None:
        facts.append(("How bad", danger(outlook.pace.worst, outlook.chosen)))
    if outlook.chance is not None:
        of = f"{share(outlook.chance)} of {MEMBERS} weathers"
        facts.append(("How likely", f"{_upper(likely(outlook.chance))}: {of}."))
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
    return Paragraph(
        f"Why: {air_name(spell)}, {reader.spell(spell)}: up to {hot} and"
        f" {wind_text(spell.wind_ms, reader.units)}, humidity down to {100 * spell.rh:.0f} %."
    )


def _tried(outlook: Outlook) -> Lines | None:
    if not outlook.trials:
        return None
    shown = list(outlook.trials[:TRIED_SHOWN])
    if outlook.chosen is not None and outlook.chosen not in shown:
        shown.append(outlook.chosen)
    head = "What we tried on it in the model, the least work first (the work is our estimate):"
    return Lines(head, tuple(_trial_row(t, outlook) for t in shown))


def _trial_row(trial: Trial, outlook: Outlook) -> Row:
    worst = trial.pace.worst
    verdict = "safe" if trial.safe else "still too fast" if trial.pace.onset else "unknown"
    figures = "unknown"
    if worst is not None:
        skin = "" if worst.shell_pct is None else f", skin {floor(worst.shell_pct)} %"
        figures = f"{points(worst.loss_pct_per_day, worst.safe_pct_per_day)} pts/day{skin}"
    told = f"{figures}, {verdict} (about {trial.remedy.minutes} min)"
    return Row(doing(trial.remedy), told, advised=trial is outlook.chosen)


def _enter(outlook: Outlook) -> Lines | None:
    """Return how to tell what was done, which is what ends the warning."""
    if outlook.chosen is None:
        return None
    remedy, name = outlook.chosen.remedy, outlook.case.stack.id
    done = [f"covered {m}" for m in remedy.measures]
    if remedy.move_to is not None:
        done.insert(0, f'moved "{remedy.move_to}"')
    rows = tuple(Row(f"drywind stack event {name} {what}") for what in done)
    head = "When it is done, enter it, and the findings change by themselves:"
    return Lines(head, rows, typed=True)


def _cautions(outlook: Outlook) -> list[Paragraph]:
    if outlook.chosen is None:
        return []
    remedy = outlook.chosen.remedy
    found = []
    if set(remedy.measures) - {Measure.PACKS_CLOSED}:
        found.append(Paragraph(CAUTION_COVER))
    if remedy.move_to is not None or Measure.PACKS_CLOSED in remedy.measures:
        found.append(Paragraph(CAUTION_LOADER))
    return found


def _notices(told: Told, reader: Reader) -> Lines | None:
    """Return what the US service warns of, a line each."""
    rows = []
    for notice in told.notices:
        end = notice.ends or notice.expires
        until = f" until {reader.when(end)}" if end else ""
        rows.append(Row(f"{notice.event}{until}"))
    return Lines("The weather service warns of:", tuple(rows)) if rows else None


def _age_h(told: Told, reader: Reader) -> float:
    return max(0.0, (reader.now - told.issued_at).total_seconds() / 3600)


def _how_sure(outlook: Outlook, reader: Reader, told: Told) -> Paragraph:
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
        f"{_chance(outlook.chance)}{gap}\n"
        f"{credit(told.source)}, issued {_age_h(told, reader):.0f} h ago."
    )


def _chance(chance: float | None) -> str:
    if chance is None:
        return ""
    return (
        f" That it goes over its limit is {likely(chance)}: {share(chance)} of the {MEMBERS}"
        " weathers tried, which could well come of this forecast, bring it there."
    )
