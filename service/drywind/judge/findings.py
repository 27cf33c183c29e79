"""What lies ahead of a stack or a log lot, as data: one finding for each hazard.

A finding says how bad it gets (1 is the limit), by which sign, when, and how likely. Words are
made of it elsewhere.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from drywind.climate.stack_air import Board


class Hazard(StrEnum):
    """What can go wrong with lumber that dries, or waits to."""

    TOO_FAST = "too_fast"
    STAIN = "stain"
    WETTING = "wetting"
    WAITING = "waiting"


class Sign(StrEnum):
    """What was measured of a hazard; in brackets the unit of `Finding.value` and `limit`."""

    LOSS = "loss"
    """Mean loss of a board [points of moisture content a day]."""
    SKIN = "skin"
    """Moisture content of the outer millimeter of a fresh board [%]; the lower the worse."""
    SUGAR_STAIN = "sugar_stain"
    """Enzymatic stain [days at 20 °C]."""
    BLUE_STAIN = "blue_stain"
    """Blue stain [days at its best temperature]."""
    MOLD = "mold"
    """Surface mold [index 0-6]."""
    RAIN = "rain"
    """Rain that reaches half-dried boards in one spell [mm]."""


@dataclass(frozen=True)
class Finding:
    """One hazard of one stack or log lot over the hours ahead.

    Attributes
    ----------
    subject, site
        The name of the stack or lot, and where it stands.
    value, limit
        The worst that `sign` comes to, and what the wood bears of it.
    severity
        How bad, whatever the sign: 1 is the limit; 0 where nothing is known.
    first
        When harm first begins; None within the limit.
    start, end
        The worst hours; None where nothing is known.
    act_by
        When the work that is advised, if any is, must be done.
    helps
        Whether there is anything to advise.
    lead_h
        Hours of notice that the work advised needs beyond an evening: a loader, a working day.
    chance
        The share of weathers that could well come in which it goes over its limit; None where it
        was not asked.
    complete
        Whether all the hours that should be judged are known; a gap is never "safe".
    """

    subject: str
    site: str
    hazard: Hazard
    sign: Sign
    value: float
    limit: float
    severity: float
    board: Board | None = None
    first: datetime | None = None
    start: datetime | None = None
    end: datetime | None = None
    act_by: datetime | None = None
    helps: bool = False
    lead_h: float = 0.0
    chance: float | None = None
    complete: bool = True

    @property
    def over(self) -> bool:
        """Whether it goes over its limit."""
        return self.first is not None
