"""Outlooks and passes as plain dictionaries, for `--json` and for the tables on the terminal.

Keys are a contract: units stand in them, what is unknown is None.
"""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from drywind.alerts.wording import doing
from drywind.cli.records import Json, stack_json
from drywind.cli.told import limit_json
from drywind.cli.wood_words import wood_json
from drywind.climate.stack_air import Board
from drywind.clock import iso
from drywind.cycle import Pass
from drywind.judge.course import day_spans
from drywind.judge.findings import Finding, Hazard
from drywind.judge.hazards import FIRST_WINDOW, Window
from drywind.judge.measures import Trial
from drywind.judge.outlook import Outlook
from drywind.judge.runs import Run
from drywind.wood.emc import emc_pct
from drywind.wood.limits import Limit
from drywind.wood.species import find_species

HARMS = {Hazard.STAIN: "stain", Hazard.WETTING: "rain"}


def outlook_json(outlook: Outlook, now: datetime) -> Json:
    """Return a stack and what lies ahead of it."""
    worst, spell = outlook.pace.worst, outlook.spell
    return {
        **stack_json(outlook.case.stack, now),
        **limit_json(outlook.limit),
        "learned": wood_json(outlook.case),
        "mc_pct": _by_board(outlook, outlook.run.mc_pct[max(outlook.now, 0)]),
        "first_48h_loss_pct_per_day": _first_days(outlook),
        "complete": outlook.pace.complete,
        "unknown_hours": outlook.unknown_hours,
        "unknown_loss_pct": _maybe(outlook.unknown_loss_pct),
        "chance_over_limit": _maybe(outlook.chance),
        "verdict": _verdict(outlook),
        "severity": round(outlook.severity, 3) if worst else None,
        "onset": iso(outlook.onset) if outlook.onset else None,
        "worst": {b: _window_json(outlook, w) for b, w in outlook.pace.by_board.items()},
        "spell": None
        if spell is None
        else {
            "start": iso(spell.start),
            "end": iso(spell.end),
            "temp_c": round(spell.temp_c, 1),
            "rh_pct": round(100 * spell.rh),
            "wind_ms": round(spell.wind_ms, 1),
        },
        "findings": [finding_json(f) for f in outlook.findings],
        "advice": _trial_json(outlook.chosen) if outlook.chosen else None,
        "tried": [_trial_json(t) for t in outlook.trials],
    }


def daily_json(run: Run, limit: Limit, zone: ZoneInfo) -> list[Json]:
    """Return the course of a run gone to the end of its case, by local calendar day.

    The last and the first may be parts of a day. Moisture contents are those at its end; `emc_pct`
    is the mean of the hourly EMC of the outdoor air, one to two points above EMC at the day's mean
    temperature and humidity.
    """
    case, mc, shell = run.case, run.mc_pct, run.shell_pct
    emc = emc_pct(case.weather["temp_c"], case.weather["rh"])
    days = []
    for on, start, end in day_spans(case, zone):
        day: Json = {"date": on.isoformat()}
        known = case.known[start:end]
        for i, board in enumerate(case.counted):
            prefix = "" if board is Board.TYPICAL else f"{board}_"
            day[f"{prefix}mc_pct"] = _number(mc[end, i])
            loss = mc[start, i] - mc[end, i] if known.any() else np.nan
            day[f"{prefix}loss_pct"] = _number(loss)
        day["limit_pct"] = round(limit.value, 2)
        day["shell_mc_pct"] = _number(shell[end, 0])
        day["emc_pct"] = _number(float(np.mean(emc[start:end])))
        day["hours"] = end - start
        day["unknown_hours"] = int((~known).sum())
        days.append(day)
    return days


def pass_json(result: Pass, outcomes: list[Json]) -> Json:
    """Return a whole pass; `outcomes` tells how each message of the outbox fared."""
    return {
        "now": iso(result.now),
        "weather": [
            {
                "site": w.site,
                "issued_at": iso(w.issued_at) if w.issued_at else None,
                "source": w.source,
                "error": w.error,
            }
            for w in result.weather
        ],
        "stacks": [outlook_json(o, result.now) for o in result.outlooks],
        "decisions": [
            {
                "contact": s.decision.contact,
                "stack": s.decision.stack,
                "hazard": s.decision.hazard,
                "reason": s.decision.reason,
                "severity": round(s.decision.severity, 3),
                "onset": iso(s.decision.onset) if s.decision.onset else None,
                "new": s.is_new,
            }
            for s in result.said
        ],
        "messages": [
            {
                "contact": s.decision.contact,
                "stack": s.decision.stack,
                "reason": s.decision.reason,
                "subject": s.message.subject,
                "text": s.message.text,
                "story": s.message.story,
            }
            for s in result.said
            if s.message is not None and s.is_new
        ],
        "outcomes": outcomes,
    }


def verdict_lines(outlook: Outlook) -> str:
    """Return how a stack fares, and on a line of its own what to do; 80 columns wide."""
    stack = outlook.case.stack
    head = f"{stack.id:<12} {find_species(stack.species).name} {stack.thickness.label}"
    if outlook.case.is_lost(outlook.now):
        return (
            f"{head}: unknown, {outlook.unknown_hours} h of weather missing;\n"
            f"    enter its moisture content: drywind stack event {stack.id} weighed 35"
        )
    if outlook.pace.worst is None:
        return f"{head}: unknown, no weather for the hours ahead"
    head = f"{head}: {outlook.run.mc_pct[max(outlook.now, 0), 0]:.0f} % MC"
    gap = "" if outlook.pace.complete else ", part unknown"
    others = "".join(f", {HARMS[f.hazard]} {f.severity:.0%}" for f in outlook.others if f.over)
    line = f"{head}, danger {outlook.severity:.0%} of the limit{others}{gap}"
    return f"{line}\n    {doing(outlook.chosen.remedy)}" if outlook.chosen else line


def finding_json(finding: Finding) -> Json:
    """Return what lies ahead of one hazard; `value` and `limit` are in the unit of `sign`."""
    return {
        "hazard": finding.hazard,
        "sign": finding.sign,
        "value": _number(finding.value),
        "limit": _number(finding.limit),
        "severity": round(finding.severity, 3),
        "board": finding.board,
        "first": _when(finding.first),
        "start": _when(finding.start),
        "end": _when(finding.end),
        "act_by": _when(finding.act_by),
        "chance": _maybe(finding.chance),
        "complete": finding.complete,
    }


def _when(instant: datetime | None) -> str | None:
    return iso(instant) if instant else None


def _verdict(outlook: Outlook) -> str:
    """Return the first hazard that is over its limit, in the order of `Hazard`."""
    over = next((hazard for hazard in Hazard if hazard in outlook.over), None)
    if over is not None:
        return over
    return "safe" if outlook.pace.complete else "unknown"


def _by_board(outlook: Outlook, row: Sequence[float]) -> Json:
    columns = dict(zip(Board, row, strict=True))
    return {board: _number(columns[board]) for board in outlook.case.counted}


def _first_days(outlook: Outlook) -> Json | None:
    mc = outlook.run.mc_pct
    if not outlook.case.known[:FIRST_WINDOW].all() or len(mc) <= FIRST_WINDOW:
        return None
    return _by_board(outlook, (mc[0] - mc[FIRST_WINDOW]) / 2.0)


def _window_json(outlook: Outlook, window: Window) -> Json:
    return {
        "start": iso(outlook.case.time_of(window.start)),
        "hours": window.hours,
        "loss_pct_per_day": round(window.loss_pct_per_day, 2),
        "safe_pct_per_day": _number(window.safe_pct_per_day),
        "ratio": round(window.ratio, 3),
        "shell_mc_pct": _shell(window),
        "severity": round(window.severity, 3),
    }


def _trial_json(trial: Trial) -> Json:
    worst = trial.pace.worst
    return {
        "do": doing(trial.remedy),
        "measures": list(trial.remedy.measures),
        "move_to": trial.remedy.move_to,
        "off": list(trial.remedy.off),
        "sticker_m": trial.remedy.sticker_m,
        "minutes": trial.remedy.minutes,
        "severity": round(trial.severity, 3) if worst else None,
        "loss_pct_per_day": round(worst.loss_pct_per_day, 2) if worst else None,
        "shell_mc_pct": _shell(worst),
        "side_effects": [f.sign for f in trial.others if f.over],
        "chance_safe": _maybe(trial.chance),
        "covers_off_at": _when(trial.off_at),
        "safe": trial.safe,
    }


def _shell(window: Window | None) -> float | None:
    return None if window is None or window.shell_pct is None else _number(window.shell_pct)


def _maybe(value: float | None) -> float | None:
    return None if value is None else _number(value)


def _number(value: float) -> float | None:
    return round(float(value), 2) if np.isfinite(value) else None
