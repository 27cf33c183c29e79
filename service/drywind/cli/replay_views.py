"""A replayed season as a plain dictionary, for `--json`, and as words for the terminal.

Keys are a contract: units stand in them, what is unknown is None.
"""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from drywind.cli.records import Json
from drywind.cli.told import paragraph
from drywind.cli.views import daily_json, finding_json
from drywind.clock import iso
from drywind.judge.findings import Hazard
from drywind.judge.runs import Run, advance
from drywind.season.past import Past
from drywind.season.replay import Seen, Text, Watched, dried_to
from drywind.season.score import Score, expenses

AIR_DRY_PCT = 20.0
WEEK = 7
HARMS = {
    Hazard.TOO_FAST: "Drying too fast",
    Hazard.STAIN: "Stain and mold",
    Hazard.WETTING: "Rain on half-dried boards",
}
LOSSES = ("loss_pct", "edge_loss_pct")


def replay_json(one: Watched, past: Past, scores: Mapping[Hazard, Score], days: int) -> Json:
    """Return the course of a stack over so many days, what was found and said, and the score."""
    end = one.run.case.hour_of(one.stack.stacked_at + timedelta(days=days))
    (gone,) = advance([one.run], [end])
    return {
        "daily": daily_json(gone.within(end), one.limit, past.zone),
        "days_to_20_pct": _days_to(dried_to(gone, AIR_DRY_PCT), AIR_DRY_PCT),
        "findings": [_seen_json(seen) for seen in one.seen],
        "messages": [_text_json(text) for text in one.texts],
        "score": {hazard: score_json(score) for hazard, score in scores.items()},
    }


def score_json(score: Score) -> Json:
    """Return a score, and the cost-loss table that goes with it."""
    counted = {f.name: getattr(score, f.name) for f in fields(score) if f.name != "leads_h"}
    return {
        **counted,
        "weeks": round(score.weeks, 2),
        "misses": score.events - score.hits,
        "hit_rate": _rounded(score.hit_rate),
        "firm_hit_rate": _rounded(score.firm_hit_rate),
        "false_alarm_ratio": _rounded(score.false_alarm_ratio),
        "texts_per_week": _rounded(score.texts_per_week),
        "lead_h": _rounded(score.lead_h),
        "kept_share": _rounded(score.kept_share),
        "expenses": [
            {
                "cost_loss_ratio": row.ratio,
                "follow": round(row.follow, 4),
                "always": round(row.always, 4),
                "never": round(row.never, 4),
                "value": _rounded(row.value),
            }
            for row in expenses(score)
        ],
    }


def replay_words(told: Json, one: Watched, zone: ZoneInfo) -> str:
    """Return the same to read: the course by week, the texts, and the score."""
    return "\n".join([*_course(told), "", *_texts(one, zone), "", *_scores(told["score"])])


def _course(told: Json) -> Iterator[str]:
    yield "week from     MC %  loss   edge  loss  safe   EMC"
    for i in range(0, len(told["daily"]), WEEK):
        week = told["daily"][i : i + WEEK]
        most = [max((d[k] for d in week if d[k] is not None), default=None) for k in LOSSES]
        emc = [d["emc_pct"] for d in week if d["emc_pct"] is not None]
        yield f"{week[0]['date']:<11} " + " ".join(
            [
                _cell(week[-1]["mc_pct"], 6),
                _cell(most[0], 5),
                _cell(week[-1]["edge_mc_pct"], 6),
                _cell(most[1], 5),
                _cell(week[-1]["limit_pct"], 5),
                _cell(float(np.mean(emc)) if emc else None, 5),
            ]
        )
    yield "MC at the end of the week; loss: its worst day, in points."
    days = told["days_to_20_pct"]
    yield (
        "Not at 20 % when the weather ends." if days is None else f"At 20 % after {days:.0f} days."
    )


def _texts(one: Watched, zone: ZoneInfo) -> Iterator[str]:
    yield f"Texts, to one who sleeps from 21:00 to 5:30: {len(one.texts)}"
    for text in one.texts:
        at = text.decision.made_at.astimezone(zone)
        yield paragraph(f"{at:%m-%d %H:%M} {text.words.text}")


def _scores(scores: Json) -> Iterator[str]:
    for hazard, score in scores.items():
        if score["events"] or score["texts"] or hazard == Hazard.TOO_FAST:
            yield f"{HARMS[Hazard(hazard)]}:"
            yield from (f"  {line}" for line in _score(score))


def _score(score: Json) -> Iterator[str]:
    hits, events, near = score["hits"], score["events"], score["borderline"]
    borderline = f" ({near} of them borderline)" if near else ""
    yield f"Harm that came: {events}{borderline}; warned of in time: {hits}."
    yield f"Warnings: {score['warnings']}; false alarms: {score['false_alarms']}."
    if score["lead_h"] is not None:
        yield f"Hours from warning to harm, the median: {score['lead_h']:.0f}."
    if score["advised"]:
        yield f"Advice called ok: {score['advised']}; it would have held: {score['kept']}."
    if score["texts_per_week"] is not None:
        yield f"Texts a week until it was at 25 %: {score['texts_per_week']:.1f}."


def _seen_json(seen: Seen) -> Json:
    return {"at": iso(seen.now)} | finding_json(seen.finding)


def _text_json(text: Text) -> Json:
    decision, words = text.decision, text.words
    return {
        "at": iso(decision.made_at),
        "reason": decision.reason,
        "hazard": decision.hazard,
        "text": words.text,
        "subject": words.subject,
        "story": words.story,
        "severity": round(decision.severity, 3),
        "onset": _when(decision.onset),
        "useful_until": iso(decision.useful_until),
        "advice_kept": text.kept,
    }


def _days_to(run: Run, mc_pct: float) -> float | None:
    there = np.flatnonzero(run.mc_pct[:, 0] <= mc_pct)
    return round(int(there[0]) / 24.0, 1) if len(there) else None


def _when(instant: datetime | None) -> str | None:
    return iso(instant) if instant else None


def _rounded(value: float | None) -> float | None:
    return round(float(value), 2) if value is not None and np.isfinite(value) else None


def _cell(value: float | None, width: int) -> str:
    return f"{'?':>{width}}" if value is None else f"{value:>{width}.1f}"
