"""The curve of a stack for the page: its days, past and as far as they are forecast."""

from math import isfinite

from drywind.alerts.decide import SPEAK_FROM
from drywind.alerts.parts import Bar, Curve, CurveDay
from drywind.alerts.wording import Reader, points
from drywind.climate.stack_air import Board
from drywind.judge.course import Day, course
from drywind.judge.hazards import FIRST_WINDOW
from drywind.judge.outlook import Outlook

PAST_DAYS = 3
"""Days gone by that are shown (assumption: what lies ahead matters more)."""

SHORT_NAMES = {Board.TYPICAL: "typical", Board.EDGE: "edge", Board.TOP: "top"}
UNKNOWN = Bar("unknown", 0.0)
NOTHING = Bar("", 0.0)


def curve(outlook: Outlook, reader: Reader) -> Curve | None:
    """Return the curve; None where no day is known."""
    days = course(outlook.run, outlook.limit.value, reader.zone)
    today = sum(day.end <= outlook.now for day in days)
    days = days[max(today - PAST_DAYS, 0) :]
    if not days:
        return None
    wettest = max(b.mc_pct for day in days for b in day.boards.values())
    most_lost = max(b.loss_pct for day in days for b in day.boards.values())
    scales = (wettest, max(most_lost, outlook.limit.value))
    note = (
        "Lost is told of the board that loses most for what is safe, from midnight to midnight; the"
        " worst 24 hours may lie across two days."
    )
    if days[0].start < FIRST_WINDOW:
        note += " The first two days are judged as one, and by the skin of the boards."
    return Curve(
        head="Day by day: moisture content at its end, in %, and points lost",
        boards=tuple(SHORT_NAMES[board] for board in days[0].boards),
        days=tuple(_curve_day(day, outlook, reader, scales) for day in days),
        note=note,
    )


def _curve_day(day: Day, outlook: Outlook, reader: Reader, scales: tuple[float, float]) -> CurveDay:
    """Return a day in words and bars; `scales` are those of moisture content and of losses."""
    today = reader.now.astimezone(reader.zone).date()
    blank = day.unknown_hours == day.hours
    mc = [
        UNKNOWN if blank else Bar(f"{b.mc_pct:.0f}", b.mc_pct / scales[0])
        for b in day.boards.values()
    ]
    loss, safe = _lost(day, scales[1])
    return CurveDay(
        name="today" if day.date == today else f"{day.date:%a} {day.date.day}",
        mc=tuple(mc),
        loss=loss,
        safe=safe,
        over=not day.unknown_hours and day.severity > SPEAK_FROM,
        ahead=day.end > outlook.now,
    )


def _lost(day: Day, scale: float) -> tuple[Bar, Bar]:
    """Return what is lost in a day by the board nearest its limit, and what would be safe."""
    if day.unknown_hours:
        return UNKNOWN, NOTHING
    board = day.boards[day.fastest]
    loss = points(board.loss_pct, board.safe_pct)
    words = f"{SHORT_NAMES[day.fastest]} {loss}"
    if not day.is_whole:
        return Bar(f"{words} in {day.hours} h", 0.0), NOTHING
    share = max(board.loss_pct, 0.0) / scale
    if not isfinite(board.safe_pct):
        return Bar(words, share), Bar("too dry to be harmed", 0.0)
    safe = f"safe {points(board.safe_pct, board.safe_pct)}"
    return Bar(words, share), Bar(safe, min(board.safe_pct / scale, 1.0))
