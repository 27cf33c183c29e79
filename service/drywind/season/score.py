"""How right it was what was said of stacks: warnings held against the harm that came."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, time, timedelta
from statistics import median
from zoneinfo import ZoneInfo

from drywind.alerts.records import Decision, Reason
from drywind.judge.findings import Hazard
from drywind.season.past import Past
from drywind.season.replay import Watched
from drywind.season.truth import NEAR, Truth, truths

FIRM = 1.15
"""Harm below is borderline: the model cannot tell one side of the limit from the other."""

STILL_OF_USE = timedelta(hours=24)
"""Harm that comes so late after the warned hours makes a warning no false alarm."""

LATE_HARM = {Hazard.STAIN: timedelta(days=7)}
"""Stain sets in when it will, sooner or later than the day told (assumption)."""

HAZARDS = (Hazard.TOO_FAST, Hazard.STAIN, Hazard.WETTING)
"""Those of stacks."""

RATIOS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8)
"""Cost of protecting a stack for a day, over the loss of a harmful day without."""

_NOON = time(12)


@dataclass(frozen=True)
class Score:
    """What came of watching stacks; scores add up.

    Attributes
    ----------
    events, hits
        Harm that came, and how often a warning stood in time.
    borderline, borderline_hits
        Those of them below `FIRM`.
    warnings, false_alarms
        Warnings that began, and those after which nothing came near the limit.
    texts, weeks
        All that was said, and how long stacks were watched.
    leads_h
        Of each hit, hours from the warning to harm.
    advised, kept
        New advice called safe whose end is known, and how often it would have held.
    days_kept, days_idle, days_struck, days_calm
        Stack-days with protection on and harm, without harm; without it and harm, without.
    """

    events: int = 0
    hits: int = 0
    borderline: int = 0
    borderline_hits: int = 0
    warnings: int = 0
    false_alarms: int = 0
    texts: int = 0
    weeks: float = 0.0
    leads_h: tuple[float, ...] = ()
    advised: int = 0
    kept: int = 0
    days_kept: int = 0
    days_idle: int = 0
    days_struck: int = 0
    days_calm: int = 0

    def __add__(self, other: "Score") -> "Score":
        return Score(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    @property
    def hit_rate(self) -> float | None:
        """Share of events warned of in time; None without any."""
        return _share(self.hits, self.events)

    @property
    def firm_hit_rate(self) -> float | None:
        """The same without the borderline ones."""
        return _share(self.hits - self.borderline_hits, self.events - self.borderline)

    @property
    def false_alarm_ratio(self) -> float | None:
        """Share of warnings after which nothing came."""
        return _share(self.false_alarms, self.warnings)

    @property
    def kept_share(self) -> float | None:
        """Share of advice that held."""
        return _share(self.kept, self.advised)

    @property
    def lead_h(self) -> float | None:
        """Median hours from warning to harm."""
        return median(self.leads_h) if self.leads_h else None

    @property
    def texts_per_week(self) -> float | None:
        """Texts a week and stack."""
        return self.texts / self.weeks if self.weeks else None


@dataclass(frozen=True)
class Expense:
    """What a stack-day costs on average, the loss of a harmful day being 1.

    Attributes
    ----------
    ratio
        What a day's protection costs.
    value
        How far following the texts comes from the better of always and never, 0, toward knowing
        all beforehand, 1; below 0 it is worse than either. None where harm came never or always,
        so that nothing is to be known.
    """

    ratio: float
    follow: float
    always: float
    never: float
    value: float | None


def expenses(score: Score) -> list[Expense]:
    """Return the cost-loss table.

    Source: Richardson 2000, Quarterly Journal of the Royal Meteorological Society 126:649 (from
    memory).
    """
    harmful = score.days_kept + score.days_struck
    protected = score.days_kept + score.days_idle
    days = harmful + score.days_idle + score.days_calm
    if not days:
        return []
    rows = []
    for ratio in RATIOS:
        follow = (ratio * protected + score.days_struck) / days
        always, never, perfect = ratio, harmful / days, ratio * harmful / days
        gain = min(always, never) - perfect
        value = (min(always, never) - follow) / gain if gain > 0 else None
        rows.append(Expense(ratio, follow, always, never, value))
    return rows


def score(watched: Iterable[Watched], past: Past, hazard: Hazard = Hazard.TOO_FAST) -> Score:
    """Return the score of all that was said of one hazard of stacks."""
    total = Score()
    for one in watched:
        texts = [text for text in one.texts if text.decision.hazard == hazard]
        held = [text.kept for text in texts if text.kept is not None]
        truth = truths(one, past).get(hazard)
        if truth is not None:
            said = [text.decision for text in texts]
            total += score_of(truth, said, past.zone, LATE_HARM.get(hazard, timedelta()))
        total += Score(advised=len(held), kept=sum(held))
    return total


def score_of(
    truth: Truth, said: Sequence[Decision], zone: ZoneInfo, late: timedelta = timedelta()
) -> Score:
    """Return the score of what was said of one hazard of one stack, in the order it was said.

    Parameters
    ----------
    late
        By how much harm may come later than was told.
    """
    events = truth.events()
    warned = [_standing(said, truth.in_time(e.first), e.first - late) for e in events]
    leads = [
        (e.first - d.made_at) / timedelta(hours=1) for e, d in zip(events, warned, strict=True) if d
    ]
    borderline = [d for e, d in zip(events, warned, strict=True) if e.severity < FIRM]
    firsts = [d for d in said if d.reason is Reason.FIRST]
    return Score(
        events=len(events),
        hits=len(leads),
        borderline=len(borderline),
        borderline_hits=sum(d is not None for d in borderline),
        warnings=len(firsts),
        false_alarms=sum(_is_false(d, truth, late) for d in firsts),
        texts=len(said),
        weeks=truth.weeks,
        leads_h=tuple(leads),
    ) + _days(truth, said, zone)


def _standing(said: Sequence[Decision], by: datetime, harm: datetime) -> Decision | None:
    """Return the first word of the warning that stands `by` an instant for harm; None for none."""
    before = [d for d in said if d.made_at <= by]
    if not before or before[-1].reason is Reason.ALL_CLEAR or before[-1].useful_until <= harm:
        return None
    return next((d for d in reversed(before) if d.reason is Reason.FIRST), before[-1])


def _is_false(warning: Decision, truth: Truth, late: timedelta) -> bool:
    since = warning.made_at if late else warning.onset or warning.made_at
    return truth.worst(since, warning.useful_until + late + STILL_OF_USE) < NEAR


def _days(truth: Truth, said: Sequence[Decision], zone: ZoneInfo) -> Score:
    """Count the days by whether harm came and whether the stack was protected by then.

    One who follows the texts protects it on the days warned of, and on no others.
    """
    kept = idle = struck = calm = 0
    for day, harm in truth.days(zone).items():
        by = truth.in_time(harm) if harm else datetime.combine(day, _NOON, zone)
        protected = _is_protected(said, day, by, zone)
        kept += bool(protected and harm)
        idle += bool(protected and not harm)
        struck += bool(harm and not protected)
        calm += not harm and not protected
    return Score(days_kept=kept, days_idle=idle, days_struck=struck, days_calm=calm)


def _is_protected(said: Sequence[Decision], day: date, by: datetime, zone: ZoneInfo) -> bool:
    """Return whether a warning of that day was out by an instant, and no all clear since."""
    for decision in reversed([d for d in said if d.made_at <= by]):
        if decision.reason is Reason.ALL_CLEAR:
            return False
        first = (decision.onset or decision.made_at).astimezone(zone).date()
        last = (decision.useful_until - timedelta(seconds=1)).astimezone(zone).date()
        if first <= day <= last:
            return True
    return False


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None
