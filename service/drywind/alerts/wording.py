"""The words of a text, written so that a tired person at five in the morning acts rightly.

What to do stands first, then when, how bad and why. A text fits one GSM-7 message; the e-mail
(`drywind.alerts.story`) tells the rest.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor
from zoneinfo import ZoneInfo

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.records import Reason
from drywind.climate.stack_air import Board
from drywind.judge.hazards import SHELL_CHECKS_PCT, Window
from drywind.judge.measures import READY_HOURS, THICK_M, THIN_M, Remedy, Trial
from drywind.judge.outlook import Outlook, Spell
from drywind.units import Units, temperature_text, wind_text
from drywind.wood.species import find_species
from drywind.yard import Measure

DOING = {
    Measure.PILE_ROOF: "put a pile roof on",
    Measure.SHADE_CLOTH: "hang shade cloth",
    Measure.BURLAP: "hang burlap",
    Measure.TARP: "tarp it",
    Measure.PACKS_CLOSED: "close up the packs",
}
UNDOING = {
    Measure.PILE_ROOF: "take the pile roof off",
    Measure.SHADE_CLOTH: "take the shade cloth off",
    Measure.BURLAP: "take the burlap off",
    Measure.TARP: "take the tarp off",
    Measure.PACKS_CLOSED: "open up the packs",
}
MARKS = {Reason.WORSE: "WORSE: ", Reason.REPEAT: "STILL: "}
"""How a text begins that follows another one."""
STICKERS = {THIN_M: "1/2 in", THICK_M: "1 1/4 in"}
HOT_C, COLD_C = 27.0, 10.0
DRY_RH = 0.40
WINDY_MS = 4.0
"""From where weather is called hot, cold, dry, windy (assumption, for words only)."""
FINE_LIMIT_PCT = 2.0
"""Below such a limit losses are written to two places (assumption, for words only)."""
LONG_BEFORE = timedelta(hours=24)
"""Work so long before the hours that are named asks for a reason (assumption, for words only)."""
PART_DAY_HOURS = 18
"""A day judged for less is not promised as clear (assumption)."""


@dataclass(frozen=True)
class Reader:
    """How a person reads: units, and the clock on the wall."""

    units: Units
    zone: ZoneInfo
    now: datetime

    def clock(self, instant: datetime) -> str:
        """Write the time of day: 11am, or 11:00."""
        local = instant.astimezone(self.zone)
        if self.units is Units.METRIC:
            return "24:00" if local.hour == local.minute == 0 else f"{local:%H:%M}"
        if local.hour % 12 == 0 and local.minute == 0:
            return "noon" if local.hour else "midnight"
        # Some zones lie on the half or the quarter hour; single minutes tell nobody anything.
        minutes = f":{local:%M}" if local.minute in {15, 30, 45} else ""
        return f"{local.hour % 12 or 12}{minutes}{'am' if local.hour < 12 else 'pm'}"  # noqa: PLR2004

    def day(self, instant: datetime) -> str:
        """Write the day: today, or Sat; midnight belongs to the day it ends."""
        local, today = instant.astimezone(self.zone), self.now.astimezone(self.zone)
        if local.hour == local.minute == 0:
            local -= timedelta(minutes=1)
        return "today" if local.date() == today.date() else f"{local:%a}"

    def when(self, instant: datetime) -> str:
        """Write day and time of day."""
        return f"{self.day(instant)} {self.clock(instant)}"

    def deadline(self, instant: datetime) -> str:
        """Write by when to act."""
        soonest = (instant - self.now).total_seconds() / 3600 <= READY_HOURS
        return "now" if soonest else f"by {self.when(instant)}"

    def spell(self, spell: Spell) -> str:
        """Write the hours that do the harm: Sat 11am-7pm."""
        return self.hours(spell.start, spell.end)

    def hours(self, start: datetime, end: datetime) -> str:
        """Write a stretch of hours: Sat 11am-7pm."""
        write_end = self.clock if self.day(start) == self.day(end) else self.when
        return f"{self.when(start)}-{write_end(end)}"

    def weather(self, spell: Spell) -> str:
        """Write their weather: 95F RH 25% 11 mph."""
        return (
            f"{temperature_text(spell.temp_c, self.units)} RH {100 * spell.rh:.0f}% "
            f"{wind_text(spell.wind_ms, self.units)}"
        )


def stack_name(outlook: Outlook) -> str:
    """Write which stack: R7 red oak 4/4, gravel."""
    stack = outlook.case.stack
    site = stack.setup_at(outlook.case.time_of(outlook.now)).site
    wood = find_species(stack.species).key.replace("_", " ")
    return f"{stack.id} {wood} {stack.thickness.label}, {site}"


def air_name(spell: Spell) -> str:
    """Name the weather in the trade's words: hot dry wind."""
    words = [
        "hot" if spell.temp_c >= HOT_C else "cold" if spell.temp_c <= COLD_C else "",
        "dry" if spell.rh < DRY_RH else "",
        "wind" if spell.wind_ms >= WINDY_MS else "air",
    ]
    return " ".join(w for w in words if w) if any(words[:2]) or words[2] == "wind" else "drying air"


def doing(remedy: Remedy) -> str:
    """Write what to do: hang burlap + close up the packs."""
    parts = [] if remedy.move_to is None else [f"move to {remedy.move_to}"]
    if remedy.sticker_m is not None:
        parts.append(f"restack on {STICKERS[remedy.sticker_m]} stickers")
    parts += [UNDOING[m] for m in remedy.off] + [DOING[m] for m in remedy.measures]
    return " + ".join(parts)


def text(outlook: Outlook, reason: Reason, reader: Reader) -> str:
    """Write the text message of a decision that speaks; never over 160 GSM-7 characters.

    What to do comes first, then when and why, then how bad; where it gets too long, the weather's
    figures go first, then the loss, then the cause.
    """
    window = outlook.pace.worst
    if window is None:
        raise ValueError("nothing is known of this stack, so there is nothing to say")
    name = f"drywind {stack_name(outlook)}:"
    if reason is Reason.ALL_CLEAR:
        cleared = f"{name} {all_clear(outlook, reader)}"
        return first_that_fits([f"{cleared}: {why_clear(outlook)}", f"{cleared}."])
    head = f"{name} {MARKS.get(reason, '')}{advice(outlook, reader)}."
    full, short = danger(window, outlook.chosen), danger(window, outlook.chosen, brief=True)
    if outlook.spell is None:
        return first_that_fits([f"{head} {full}", f"{head} {short}", head])
    cause, off, brief = when(outlook, reader), _off(outlook, reader), first_days(outlook)
    return first_that_fits(
        [
            f"{head} {cause} ({reader.weather(outlook.spell)}). {full}{off}",
            f"{head} {cause}. {full}{off}",
            f"{head} {cause}. {full}",
            f"{head} {cause}. {short}",
            *([f"{head} {brief}. {short}"] if brief else []),
            f"{head} {short}",
            head,
        ]
    )


def when(outlook: Outlook, reader: Reader) -> str:
    """Write what does the harm, and when; of a fresh stack, why to act long before.

    Empty where there are no hours that do it.
    """
    spell = outlook.spell
    if spell is None:
        return ""
    if first := first_days(outlook):
        return f"{first}, worst {reader.spell(spell)}"
    return f"{air_name(spell).capitalize()} {reader.spell(spell)}"


def first_days(outlook: Outlook) -> str:
    """Write why work on a fresh stack is due long before the worst hours; empty where it is not."""
    worst, spell, act_by = outlook.pace.worst, outlook.spell, outlook.act_by
    if worst is None or worst.shell_pct is None or spell is None or act_by is None:
        return ""
    return "Its first days count as one" if spell.start - act_by > LONG_BEFORE else ""


def danger(window: Window, trial: Trial | None, *, brief: bool = False) -> str:
    """Write how bad it is, and how it will be with the remedy.

    In the first days the loss alone tells little: there the outer millimeter, the skin, speaks.
    """
    who, whose, loses = {
        Board.TYPICAL: ("Boards", "Boards'", "lose"),
        Board.EDGE: ("Edges", "Edges'", "lose"),
        Board.TOP: ("Top course", "Top course's", "loses"),
    }[window.board]
    safe = window.safe_pct_per_day
    loss = f"{who} {loses} {points(window.loss_pct_per_day, safe)} pts/day"
    if window.shell_pct is None:
        over = f"{loss}, safe {points(safe, safe)}"
        if points(window.loss_pct_per_day, safe) == points(safe, safe):
            over = f"{loss}, just over what is safe"
        return f"{over}{_then(trial, lambda w: points(w.loss_pct_per_day, safe))}."
    then = _then(trial, lambda w: "" if w.shell_pct is None else f"{floor(w.shell_pct)}%")
    skin = f"skin to {floor(window.shell_pct)}% (safe {SHELL_CHECKS_PCT:.0f}){then}"
    if brief:
        return f"{whose} {skin}."
    return f"{loss} (safe {points(safe, safe)}), {skin}."


def _off(outlook: Outlook, reader: Reader) -> str:
    """Write when the covers that are advised can come off again."""
    chosen = outlook.chosen
    if chosen is None or chosen.off_at is None or not chosen.safe:
        return ""
    return f" Off {reader.when(chosen.off_at)}."


def points(loss: float, safe: float) -> str:
    """Write a loss; where limits are small a tenth of a point is much."""
    return f"{loss:.2f}" if safe < FINE_LIMIT_PCT else f"{loss:.1f}"


def _then(trial: Trial | None, figure: Callable[[Window], str]) -> str:
    """Write how it will be with the remedy, and whether that is enough."""
    if trial is None or trial.pace.worst is None:
        return ""
    verdict = "ok" if trial.safe else "likely ok" if trial.spared else "still risky"
    value = figure(trial.pace.worst)
    return f"; done that {value}, {verdict}" if value else f"; done that {verdict}"


def advice(outlook: Outlook, reader: Reader) -> str:
    """Write what to do, and by when."""
    chosen, act_by = outlook.chosen, outlook.act_by
    if chosen is None or act_by is None:
        if not outlook.trials:
            return "all covers are on and no other site has room"
        return "no cover or move we tried helps"
    action = f"{doing(chosen.remedy)} {reader.deadline(act_by)}"
    return action if chosen.spared else f"not enough, but best: {action}"


def all_clear(outlook: Outlook, reader: Reader) -> str:
    """Write how long nothing is to be feared."""
    # A day that was judged only in part is not promised.
    last = reader.day(outlook.case.time_of(outlook.pace.until) - timedelta(hours=PART_DAY_HOURS))
    if outlook.lift is not None:
        return f"all clear through {last}, {doing(outlook.lift.remedy)}"
    return f"all clear through {last} as it stands"


def why_clear(outlook: Outlook) -> str:
    """Write why nothing is to be feared, without the covers that can come off."""
    pace = outlook.pace if outlook.lift is None else outlook.lift.pace
    windows = pace.by_board.values()
    loss = max(0.0, *(w.loss_pct_per_day for w in windows))
    if loss < outlook.limit.value:
        limit = outlook.limit.value
        return f"loses {points(loss, limit)} pts/day at most, safe {points(limit, limit)}."
    if skins := [w.shell_pct for w in windows if w.shell_pct is not None]:
        return f"its skin stays at {floor(min(skins))}% or wetter."
    return "it is dry enough to stand it."


def likely(chance: float) -> str:
    """Write how likely something is that comes in this share of the weathers that could well."""
    steps = ((0.9, "nearly certain"), (0.66, "likely"), (0.33, "about an even chance"))
    return next((words for least, words in steps if chance >= least), "unlikely")


def share(chance: float) -> str:
    """Write a share of many: about 7 in 10."""
    tenths = round(10 * chance)
    if 0 < tenths < 10:  # noqa: PLR2004 - tenths
        return f"about {tenths} in 10"
    if chance in {0.0, 1.0}:
        return "all" if chance else "none"
    return "nearly all" if tenths else "hardly any"
