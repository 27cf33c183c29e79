"""The words on the hazards beside drying too fast: stain and mold, and rain on half-dried boards.

As in `drywind.alerts.wording`, what to do stands first in a text, and by when; it fits one message.
"""

from datetime import timedelta

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.parts import Lines, Row
from drywind.alerts.records import Reason
from drywind.alerts.wording import MARKS, Reader, doing, stack_name
from drywind.climate.stack_air import Board
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.hazards import PEAK_HOURS, fastest_hours
from drywind.judge.outlook import Outlook
from drywind.units import rain_text
from drywind.wood.degrade import Level, end_checks

SOON_H = 48
"""How far ahead the fastest hours are looked for (assumption)."""

_NAMES = {Hazard.STAIN: "stain and mold", Hazard.WETTING: "rain"}
STAINS = {
    Sign.SUGAR_STAIN: "sugar stain",
    Sign.BLUE_STAIN: "blue stain",
    Sign.MOLD: "mold",
}
SIDE_EFFECTS = STAINS | {Sign.RAIN: "rain gets in"}


def other_text(outlook: Outlook, finding: Finding, reason: Reason, reader: Reader) -> str:
    """Write the text message on a finding of stain or wetting that is over its limit."""
    if finding.first is None:
        raise ValueError("within its limit there is nothing to say")
    what = other_advice(outlook, finding, reader)
    head = f"drywind {stack_name(outlook)}: {MARKS.get(reason, '')}{what}."
    causes = _causes(outlook, finding, reader)
    return first_that_fits([*(f"{head} {cause}" for cause in causes), head])


def other_advice(outlook: Outlook, finding: Finding, reader: Reader) -> str:
    """Return what to do, and by when."""
    chosen = outlook.chosen
    if chosen is None or finding.act_by is None:
        stays = {Hazard.STAIN: "nothing we tried dries it in time"}
        return stays.get(finding.hazard, "no cover or move we tried keeps it dry")
    action = f"{doing(chosen.remedy)} {reader.deadline(finding.act_by)}"
    helped = all(f.severity < finding.severity for f in chosen.others if f.hazard is finding.hazard)
    return action if helped and chosen.spared else f"not enough, but best: {action}"


def other_cause(outlook: Outlook, finding: Finding, reader: Reader) -> str:
    """Return what is about to happen."""
    return _causes(outlook, finding, reader)[0]


def others(outlook: Outlook, reader: Reader) -> Lines | None:
    """Return what else lies ahead: how far stains and mold have come, and rain."""
    rows = [Row(_NAMES[f.hazard], _state(f, reader)) for f in outlook.others]
    if not rows:
        return None
    rows += [*_fastest(outlook, reader), *_ends(outlook)]
    return Lines("The other dangers, as it stands:", tuple(rows))


def _fastest(outlook: Outlook, reader: Reader) -> list[Row]:
    """Return the fastest hours, which harm even on a day that is fine."""
    found = fastest_hours(outlook.run, outlook.now, SOON_H, outlook.limit.value)
    if found is None or found[1] <= 1.0:
        return []
    start = outlook.case.time_of(found[0])
    hours = reader.hours(start, start + timedelta(hours=PEAK_HOURS))
    return [Row("fastest hours", f"{hours}, at {found[1]:.1f} times the safe pace")]


def _ends(outlook: Outlook) -> list[Row]:
    """Return what becomes of ends that nobody coated."""
    worst = outlook.pace.worst
    if worst is None:
        return []
    mc_pct = float(outlook.run.mc_pct[max(outlook.now, 0), 0])
    risk = end_checks(worst.ratio, mc_pct, coated=False)
    if risk.level not in {Level.SOME, Level.HIGH}:
        return []
    return [Row("end checks", f"unless they were coated when fresh, {risk.reason}")]


def _state(finding: Finding, reader: Reader) -> str:
    """Return a finding in plain words."""
    if finding.hazard is Hazard.WETTING:
        if finding.start is None or finding.value == 0.0:
            dry = "none foreseen on half-dried boards"
            return dry if finding.complete else f"{dry}, as far as is known"
        much = rain_text(finding.value, reader.units)
        return f"{much} on half-dried boards, {reader.when(finding.start)}"
    share = f"{100 * finding.severity:.0f} % of the way to {STAINS[finding.sign]}"
    if finding.first is not None:
        return f"{STAINS[finding.sign]} by {reader.day(finding.first)}"
    if finding.severity:
        return f"{share} at the end of the forecast"
    return "likely already" if finding.value >= finding.limit else "none to be feared"


def _causes(outlook: Outlook, finding: Finding, reader: Reader) -> list[str]:
    """Return what is about to happen, at length first."""
    if finding.hazard is Hazard.STAIN:
        return _slow(outlook, finding, reader)
    return _wet(finding, reader)


def _slow(outlook: Outlook, finding: Finding, reader: Reader) -> list[str]:
    assert finding.first is not None
    cause = f"Dries too slowly: {STAINS[finding.sign]} likely by {reader.day(finding.first)}"
    return [f"{cause}{_done(outlook, finding)}.", f"{cause}."]


def _done(outlook: Outlook, finding: Finding) -> str:
    """Write how it will be when that is done."""
    chosen = outlook.chosen
    if chosen is None:
        return ""
    after = next((f for f in chosen.others if f.hazard is finding.hazard), None)
    if after is None or chosen.safe:
        return "; done that, ok"
    return "; that only slows it" if after.over else "; done that, likely ok"


def _wet(finding: Finding, reader: Reader) -> list[str]:
    assert finding.start is not None
    assert finding.end is not None
    rain = "Driven rain" if finding.board is Board.EDGE else "Rain"
    hours = reader.hours(finding.start, finding.end)
    much = rain_text(finding.value, reader.units)
    half_dried = "on half-dried boards: they check inside"
    return [f"{rain} {hours} ({much}) {half_dried}.", f"{rain} {hours} {half_dried}."]
