"""The e-mail behind a text: what happens, why, what was tried, and how sure it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import floor, isfinite

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.records import Message, Reason
from drywind.alerts.wording import (
    Reader,
    air_name,
    doing,
    points,
    stack_name,
    text,
)
from drywind.climate.stack_air import Board
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
    paragraphs = [short, _boards(outlook)]
    if reason is not Reason.ALL_CLEAR:
        paragraphs += [_cause(outlook, reader), _tried(outlook), *_cautions(outlook)]
        paragraphs.append(_enter(outlook))
    paragraphs += [_notices(told, reader), _how_sure(outlook, reader, told)]
    return Message(
        subject=f"drywind: {stack_name(outlook)}: {mark}{state}",
        text=short,
        story="\n\n".join(p for p in paragraphs if p) + "\n",
    )


def _boards(outlook: Outlook) -> str:
    lines = ["The worst ahead, in points of moisture content (MC) a day:"]
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
        lines.append(f"  {BOARD_NAMES[board]}: {loss}, from {start:.0f} % MC, where {safe}{skin}")
    lines.append(
        "Safe for this wood and thickness while wet:"
        f" {points(outlook.limit.value, outlook.limit.value)}"
        f" ({outlook.limit.basis})."
    )
    if any(w.shell_pct is not None for w in outlook.pace.by_board.values()):
        lines.append(
            "Every fresh board starts fast; it is in danger if its skin, the outer millimeter, also"
            f" falls below about {SHELL_CHECKS_PCT:.0f} % within three days (our own rule)."
        )
    return "\n".join(lines)


def _cause(outlook: Outlook, reader: Reader) -> str:
    spell = outlook.spell
    if spell is None:
        return ""
    hot = temperature_text(spell.temp_c, reader.units)
    return (
        f"Why: {air_name(spell)}, {reader.spell(spell)}: up to {hot} and"
        f" {wind_text(spell.wind_ms, reader.units)}, humidity down to {100 * spell.rh:.0f} %."
    )


def _tried(outlook: Outlook) -> str:
    if not outlook.trials:
        return ""
    lines = ["What we tried on it in the model, the least work first (the work is our estimate):"]
    shown = list(outlook.trials[:TRIED_SHOWN])
    if outlook.chosen is not None and outlook.chosen not in shown:
        shown.append(outlook.chosen)
    return "\n".join([*lines, *(_trial_line(t, outlook) for t in shown)])


def _trial_line(trial: Trial, outlook: Outlook) -> str:
    worst = trial.pace.worst
    verdict = "safe" if trial.safe else "still too fast" if trial.pace.onset else "unknown"
    mark = "  <- do this" if trial is outlook.chosen else ""
    figures = "unknown"
    if worst is not None:
        skin = "" if worst.shell_pct is None else f", skin {floor(worst.shell_pct)} %"
        figures = f"{points(worst.loss_pct_per_day, worst.safe_pct_per_day)} pts/day{skin}"
    return f"  {doing(trial.remedy)}: {figures}, {verdict} (about {trial.remedy.minutes} min){mark}"


def _enter(outlook: Outlook) -> str:
    """Return how to tell what was done, which is what ends the warning."""
    if outlook.chosen is None:
        return ""
    remedy, name = outlook.chosen.remedy, outlook.case.stack.id
    done = [f"covered {m}" for m in remedy.measures]
    if remedy.move_to is not None:
        done.insert(0, f'moved "{remedy.move_to}"')
    lines = [f"  drywind stack event {name} {what}" for what in done]
    return "\n".join(["When it is done, enter it, and the findings change by themselves:", *lines])


def _cautions(outlook: Outlook) -> list[str]:
    if outlook.chosen is None:
        return []
    remedy = outlook.chosen.remedy
    found = []
    if set(remedy.measures) - {Measure.PACKS_CLOSED}:
        found.append(CAUTION_COVER)
    if remedy.move_to is not None or Measure.PACKS_CLOSED in remedy.measures:
        found.append(CAUTION_LOADER)
    return found


def _notices(told: Told, reader: Reader) -> str:
    """Return what the US service warns of, a line each."""
    lines = []
    for notice in told.notices:
        end = notice.ends or notice.expires
        until = f" until {reader.when(end)}" if end else ""
        lines.append(f"  {notice.event}{until}")
    return "\n".join(["The weather service warns of:", *lines]) if lines else ""


def _age_h(told: Told, reader: Reader) -> float:
    return max(0.0, (reader.now - told.issued_at).total_seconds() / 3600)


def _how_sure(outlook: Outlook, reader: Reader, told: Told) -> str:
    gap = (
        f" The weather of {outlook.unknown_hours} h is missing; the stack was taken as it was"
        " before them, so it may be drier than we think."
        if outlook.unknown_hours
        else ""
    )
    chance = (
        ""
        if outlook.chance is None
        else " Of the weathers that could well come of this forecast, about"
        f" {100 * outlook.chance:.0f} % bring it over its limit."
    )
    return (
        "How sure: the model has not been weighed against your boards; take its losses as good to"
        " about 1 point a day in the first two days and half a point in the first week. How much"
        " wind and sun reach a stack, and what covers do, are assumptions."
        f"{chance}{gap}\n"
        f"{credit(told.source)}, issued {_age_h(told, reader):.0f} h ago."
    )
