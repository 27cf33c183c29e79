"""Sheets to be drawn: one with every section there is, and names of anybody's choosing."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from drywind.alerts.parts import Bar, Curve, CurveDay, Lines, Paragraph, Row
from drywind.alerts.wording import Reader
from drywind.report.record import (
    Day,
    DayLoss,
    Entry,
    Health,
    Line,
    LotSheet,
    PlaceAhead,
    PlaceMonth,
    Plans,
    Reach,
    Reading,
    Ready,
    SawDay,
    Sight,
    SiteAhead,
    StackCurve,
    StackSheet,
    State,
    Task,
    YardSheet,
)
from drywind.units import Units

ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2026, 6, 13, 10, tzinfo=UTC)
HOURS = 240
FORECAST_H = 168
LIMIT = 3.8
LONGEST_BY_6_H = 30
"""Older stacks have fewer points, as in `sheets.curves`."""

Name = Callable[[str], str]


def plain(name: str) -> str:
    """Return a name as it is."""
    return name


def curve(days: int = 10) -> StackCurve:
    """Return the curve of a stack that has stood so many days, with a gap in its past."""
    start, step_h = NOW - timedelta(days=days), 6 if days <= LONGEST_BY_6_H else 24
    times = tuple(start + timedelta(hours=h) for h in range(0, 24 * days, step_h))
    times += tuple(NOW + timedelta(hours=6 * i) for i in range(29))
    ahead = [at > NOW for at in times]
    mc = tuple(80.0 - 0.8 * i**0.9 for i in range(len(times)))
    lines = tuple(
        Line(
            board,
            tuple(v - less for v in mc),
            tuple(v - less - 2.0 if far else None for v, far in zip(mc, ahead, strict=True)),
            tuple(v - less + 2.0 if far else None for v, far in zip(mc, ahead, strict=True)),
        )
        for board, less in (("typical", 0.0), ("edge", 5.0), ("top", 9.0))
    )
    losses = tuple(
        DayLoss(at, at + timedelta(days=1), "edge", 4.4 - 0.2 * i, LIMIT, over=i < 3)
        for i, at in enumerate(start + timedelta(days=n) for n in range(days + 7))
    )
    return StackCurve(
        times=times,
        now=NOW,
        lines=lines,
        pace_pct=tuple(max(80.0 - LIMIT / 4 * i, 25.0) for i in range(len(times))),
        days=losses,
        readings=(Reading(NOW - timedelta(days=2), 66.0, "weighed"),),
        entries=(
            Entry(NOW - timedelta(days=6), "burlap on"),
            Entry(NOW - timedelta(days=5), "moved to long shed"),
        ),
        gaps=((start + timedelta(hours=30), start + timedelta(hours=40)),),
    )


def table() -> Curve:
    """Return the days around today in words."""
    days = tuple(
        CurveDay(
            f"Sat {day}", (Bar("70", 0.9), Bar("65", 0.8)), Bar("edge 4.1", 1.0),
            Bar("safe 3.8", 0.9), over=day == 13, ahead=day >= 13,
        )
        for day in range(10, 19)
    )  # fmt: skip
    return Curve("Day by day", ("typical", "edge"), days, "From midnight to midnight.")


def stack(name: str, state: State, called: Name = plain) -> StackSheet:
    """Return the sheet of a stack with all there can be on it."""
    over = state is State.OVER
    rows = (Row("hang burlap", "3.5 pts/day, safe", advised=True), Row("tarp it", "invites stain"))
    return StackSheet(
        name=name,
        wood=called("red oak 4/4"),
        site=called("gravel lot"),
        stacked_at=NOW - timedelta(days=10),
        state=state,
        head=called("hang burlap by Sat 10am") if over else called("all clear through Mon"),
        mc_pct=66.0,
        pace=1.2 if over else 0.5,
        facts=(("Why", called("Hot dry wind Sat 11am-7pm")), ("Moisture now", "typical 66 %")),
        curve=curve(),
        table=table(),
        parts=(
            Lines("What we tried:", rows, called("Safe for this wood.")),
            Paragraph(called("Covers sail: tie them down.")),
            Lines("Enter it:", (Row(f"drywind stack event {name} covered burlap"),), typed=True),
        )
        if over
        else (),
    )


def place(called: Name = plain) -> PlaceAhead:
    """Return ten days ahead, of which seven are forecast."""

    def hourly(low: float, high: float) -> tuple[float | None, ...]:
        swing = [abs((i + 5) % 24 - 12) / 12 for i in range(FORECAST_H)]
        return (*(high + (low - high) * s for s in swing), *(None,) * (HOURS - FORECAST_H))

    days = tuple(
        Day(date(2026, 6, 13 + i), "fair", 31.0, 16.0, 0.3, 6.0, 0.4 * i, 6.5, 9.0)
        for i in range(7)
    )
    return PlaceAhead(
        start=NOW,
        sites=(
            SiteAhead(called("gravel lot"), hourly(0.0, 0.3)),
            SiteAhead("long shed", hourly(0.0, 0.2)),
        ),
        emc_pct=hourly(14.0, 7.0),
        wind_ms=hourly(1.0, 6.0),
        rain_mm=hourly(0.0, 0.4),
        sun_wm2=hourly(0.0, 900.0),
        days=(*days, Day(date(2026, 6, 20), "unknown")),
    )


def full(called: Name = plain) -> YardSheet:
    """Return a sheet with every section there is."""
    states = (State.OVER, State.OVER, State.UNKNOWN, State.WELL, State.DONE)
    stacks = tuple(stack(f"R{i}", state, called) for i, state in enumerate(states))
    return YardSheet(
        yard=called("Tamarack Bend"),
        reader=Reader(Units.US, ZONE, NOW),
        head="2 of 5 stacks need work.",
        rest=("Unknown: R2.", "Calm: R3; R3 is nearest its limit, at 50% of it."),
        tasks=(
            Task("R0", called("gravel lot"), called("hang burlap by Sat 10am"), "Hot wind", NOW),
            Task("L4", "gravel lot", called("saw and put on stickers now"), "", None),
        ),
        places=(place(called), replace(place(), sites=(SiteAhead("barn", place().emc_pct),))),
        stacks=stacks,
        lots=(LotSheet("L4", called("hard maple logs, gravel lot"), State.OVER, "saw now."),),
        health=Health(
            sights=(Sight(called("gravel lot"), "nws", NOW, called("nws: no answer")),),
            reach=(
                Reach(called("Ada phone"), "text", NOW, "accepted"),
                Reach("Office", "email", None, ""),
            ),
            backup_at=NOW - timedelta(hours=30),
            version="0.1.0",
            trouble=("No new forecast for barn in a day.",),
        ),
        credits=("Forecast: US National Weather Service",),
        plans=Plans(
            ready={"R3": (Ready(20.0, date(2026, 9, 1), date(2026, 9, 20), date(2026, 11, 2)),)},
            saw_days=(
                SawDay(date(2026, 6, 14), "L4", "maple", called("shed"), State.WELL, "good"),
                SawDay(date(2026, 6, 15), "L4", "maple", "shed", State.OVER, "no", called("wind")),
            ),
            months=(PlaceMonth(called("shed"), "red oak 4/4", 6, 80.0, 2.0, ""),),
        ),
    )


def many(count: int) -> YardSheet:
    """Return a sheet of so many stacks that have stood for months, each with all there can be."""
    sheet = full()
    each = stack("R", State.OVER)
    old = replace(each, curve=curve(120))
    return replace(sheet, stacks=tuple(replace(old, name=f"R{i}") for i in range(count)))
