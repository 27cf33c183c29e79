"""Readiness in words and as JSON."""

from datetime import datetime
from zoneinfo import ZoneInfo

from drywind.cli.records import Json
from drywind.clock import iso
from drywind.learn.ready import Reached, Readiness


def readiness_json(one: Readiness) -> Json:
    """Return when a stack is ready; intervals hold nine in ten futures, null is beyond all seen."""
    weigh = one.weigh_on
    return {
        "id": one.case.stack.id,
        "readings": one.case.wood.readings,
        "mc_pct": _interval(one.mc_pct),
        "week_loss_pct": None if one.week_loss_pct is None else _interval(one.week_loss_pct),
        "goals": [
            {
                "goal": goal.goal,
                "mc_pct": goal.mc_pct,
                "reached": goal.is_reached,
                "low": _when(goal.low),
                "middle": _when(goal.middle),
                "high": _when(goal.high),
            }
            for goal in one.goals
        ],
        "weigh_on": None if weigh is None else iso(weigh[0]),
        "weigh_narrows": None if weigh is None else round(weigh[1], 2),
        "seen_until": iso(one.seen_until),
    }


def goal_words(goal: Reached, now: datetime, zone: ZoneInfo) -> str:
    """Return between which dates a goal is reached: 3 Sep-14 Sep."""
    if goal.is_reached:
        return "now" if goal.high is not None and goal.high <= now else "likely now"
    low = "?" if goal.low is None else _day(max(goal.low, now), zone)
    high = "later" if goal.high is None else _day(goal.high, zone)
    return f"{low}-{high}"


def weigh_words(one: Readiness, zone: ZoneInfo) -> str:
    """Return when to weigh next; a dash where it teaches little."""
    return "-" if one.weigh_on is None else _day(one.weigh_on[0], zone)


def _day(instant: datetime, zone: ZoneInfo) -> str:
    local = instant.astimezone(zone)
    return f"{local.day} {local:%b}"


def _when(instant: datetime | None) -> str | None:
    return iso(instant) if instant else None


def _interval(values: tuple[float, float, float]) -> Json:
    return {name: round(v, 1) for name, v in zip(("mean", "low", "high"), values, strict=True)}
