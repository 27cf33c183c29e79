"""The words of a text, written so that a tired person at five in the morning acts rightly.

What to do stands first, then when, how bad and why. A text fits one GSM-7 message; the e-mail
(`drywind.alerts.story`) tells the rest.
"""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.records import Reason
from drywind.climate.stack_air import Board
from drywind.judge.hazards import FIRST_WINDOW, Window
from drywind.judge.measures import READY_HOURS, Remedy
from drywind.judge.outlook import Outlook, Spell
from drywind.units import Units, temperature_text, wind_text
from drywind.wood.species import find_species
from drywind.yard import Measure

DOING = {
    Measure.PILE_ROOF: "put a pile roof on",
    Measure.SHADE_CLOTH: "hang shade cloth",
    Measure.BURLAP: "hang burlap",
    Measure.PACKS_CLOSED: "close up the packs",
}
HOT_C, COLD_C = 27.0, 10.0
DRY_RH = 0.40
WINDY_MS = 4.0


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
            return f"{local:%H:%M}"
        return f"{local.hour % 12 or 12}{'am' if local.hour < 12 else 'pm'}"  # noqa: PLR2004

    def day(self, instant: datetime) -> str:
        """Write the day: today, or Sat."""
        local, today = instant.astimezone(self.zone), self.now.astimezone(self.zone)
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
        end = self.clock if self.day(spell.start) == self.day(spell.end) else self.when
        return f"{self.when(spell.start)}-{end(spell.end)}"

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
    return f"{stack.id} {find_species(stack.species).name} {stack.thickness.label}, {site}"


def air_name(spell: Spell) -> str:
    """Name the weather in the trade's words: hot dry wind."""
    words = [
        "hot" if spell.temp_c >= HOT_C else "cold" if spell.temp_c <= COLD_C else "",
        "dry" if spell.rh < DRY_RH else "",
        "wind" if spell.wind_ms >= WINDY_MS else "air",
    ]
    return " ".join(w for w in words if w)


def loser(window: Window) -> str:
    """Name the board that loses most."""
    over = " in its first 2 days" if window.hours == FIRST_WINDOW else ""
    return {
        Board.TYPICAL: f"loses {window.loss_pct_per_day:.1f} pts/day{over}",
        Board.EDGE: f"edges lose {window.loss_pct_per_day:.1f} pts/day{over}",
        Board.TOP: f"open top loses {window.loss_pct_per_day:.1f} pts/day{over}",
    }[window.board]


def doing(remedy: Remedy) -> str:
    """Write what to do: hang burlap + close up the packs."""
    parts = [DOING[m] for m in remedy.measures]
    if remedy.move_to is not None:
        parts.insert(0, f"move to {remedy.move_to}")
    return " + ".join(parts)


def safe_loss(window: Window) -> float:
    """Return the loss that would just be safe in a window, at the board's moisture then."""
    return window.loss_pct_per_day / window.ratio


def text(outlook: Outlook, reason: Reason, reader: Reader) -> str:
    """Write the text message of a decision that speaks; never over 160 GSM-7 characters."""
    window = outlook.pace.worst
    if window is None:
        raise ValueError("nothing is known of this stack, so there is nothing to say")
    name = stack_name(outlook)
    if reason is Reason.ALL_CLEAR:
        return _all_clear(outlook, name, window, reader)
    mark = {Reason.WORSE: "WORSE: ", Reason.REPEAT: "still: "}.get(reason, "")
    advice, effect = _advice(outlook, window, reader)
    head = f"drywind {name}: {mark}{advice}."
    loss = f"{loser(window)}, safe {safe_loss(window):.1f}{effect}."
    short = loss.replace(" in its first 2 days", "")
    cause = ""
    if outlook.spell is not None:
        spell = outlook.spell
        cause = f" {air_name(spell).capitalize()} {reader.spell(spell)}"
        full = f"{cause} ({reader.weather(spell)})"
        return first_that_fits(
            [
                f"{head}{full}: {loss}",
                f"{head}{full}: {short}",
                f"{head}{cause}: {loss}",
                f"{head}{cause}: {short}",
                f"{head} {short.capitalize()}",
            ]
        )
    return first_that_fits([f"{head} {loss.capitalize()}", f"{head} {short.capitalize()}"])


def _advice(outlook: Outlook, window: Window, reader: Reader) -> tuple[str, str]:
    """Return what to do by when, and what it will do."""
    chosen, act_by = outlook.chosen, outlook.act_by
    if chosen is None or act_by is None:
        return "no cover or move we tried is enough", ""
    with_it = chosen.ratio * safe_loss(window)
    action = f"{doing(chosen.remedy)} {reader.deadline(act_by)}"
    if chosen.safe:
        return action, f", with that {with_it:.1f}"
    return f"best is to {action}", f", with that still {with_it:.1f}"


def _all_clear(outlook: Outlook, name: str, window: Window, reader: Reader) -> str:
    through = reader.day(outlook.case.time_of(window.end))
    cleared = f"drywind {name}: all clear."
    pace = f"{window.loss_pct_per_day:.1f} pts/day at most"
    return first_that_fits(
        [
            f"{cleared} Drying {pace} through {through}, safe {outlook.limit.value:.1f}.",
            cleared,
        ]
    )
