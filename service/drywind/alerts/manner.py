"""How each hazard is spoken of: when first, whether again, whether its end is told."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from drywind.config import Contact, Policy
from drywind.judge.findings import Finding, Hazard

TELL_AT = time(16)
"""A warning is told on the day before harm begins, from this local time on: a day's forecast is
better than one of two days, and there is daylight left to put a cover on (assumption)."""

AWAKE_FOR = timedelta(hours=2)
"""A warning is told at least so long before quiet hours begin: passes are an hour or so apart
(assumption)."""

WETTING_APART = timedelta(days=7)
"""Rain on half-dried boards comes and goes; nobody is told of the same roof twice a week
(assumption)."""


@dataclass(frozen=True)
class Manner:
    """How a hazard is spoken of.

    Attributes
    ----------
    name, brief
        What it is called in messages, and where there is little room.
    worse
        Whether it is said that it gets worse.
    all_clear
        Whether its end is told; otherwise it is only noted.
    evening_before
        Whether harm begins at an hour: then it is told on the evening before, and may break a
        night. Otherwise it creeps up over days, and is told at once but never at night.
    apart
        Sooner after a warning no other is told, not even of a new danger.
    """

    name: str
    brief: str
    worse: bool = False
    all_clear: bool = False
    evening_before: bool = False
    apart: timedelta = timedelta()


MANNERS: Mapping[Hazard, Manner] = {
    Hazard.TOO_FAST: Manner(
        "drying too fast", "dry wind", worse=True, all_clear=True, evening_before=True
    ),
    Hazard.WETTING: Manner(
        "rain on half-dried boards", "rain", evening_before=True, apart=WETTING_APART
    ),
    Hazard.STAIN: Manner("drying too slowly", "stain"),
    Hazard.WAITING: Manner("waiting too long", "stain"),
}


def repeat_after(hazard: Hazard, policy: Policy) -> timedelta | None:
    """Return after how long a warning that still holds is said again; None is never."""
    known = {Hazard.TOO_FAST: timedelta(hours=policy.repeat_hours), Hazard.WETTING: WETTING_APART}
    return known.get(hazard)


def release(finding: Finding, contact: Contact, zone: ZoneInfo) -> datetime | None:
    """Return from when on a first warning is told; None is at once.

    It is the evening before harm begins, earlier by what the work needs, and earlier still where
    the contact's quiet hours would swallow that evening.
    """
    if finding.first is None:
        return None
    day = finding.first.astimezone(zone).date() - timedelta(days=1)
    evening = datetime.combine(day, TELL_AT, zone).astimezone(UTC)
    evening -= timedelta(hours=finding.lead_h)
    if contact.quiet is None:
        return evening
    latest = (evening + AWAKE_FOR).astimezone(zone)
    if not (contact.is_quiet(latest.time()) or contact.is_quiet(evening.astimezone(zone).time())):
        return evening
    quiet = datetime.combine(latest.date(), contact.quiet[0], zone)
    if quiet > latest:
        quiet -= timedelta(days=1)  # on the wall clock
    return min(evening, quiet.astimezone(UTC) - AWAKE_FOR)
