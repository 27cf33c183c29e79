"""Whether a reading can be: held against what the model expects, before it is kept.

A doubtful reading is a question to the person who brings it, never refused for good: wood can
surprise. What cannot be told from a swap of boards or of units is asked about by name.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from drywind.samples import SampleBoard, mc_pct

SURPRISE = 4.0
"""Standard deviations from which on a reading is asked about (assumption)."""
LEAST_PCT = 5.0
"""Points below which none is (assumption)."""
CHANGE_SHARE = 0.5
"""By what share of the expected change since a board's last reading it may differ (assumption)."""
GAIN_PCT, LOSS_PCT_PER_DAY = 8.0, 30.0
"""Where nothing is expected, for want of weather: no board gains so much, or loses so much in a
day (assumption; more than four times the highest safe loss published)."""
UNITS = {
    1 / 2.2046: "is it in pounds, not kilograms",
    2.2046: "is it in kilograms, not pounds",
    28.3495: "is it in ounces, not grams",
    1 / 28.3495: "is it in grams, not ounces",
}


@dataclass(frozen=True)
class Expected:
    """What a board should be at, in percent: mean and standard deviation."""

    mc_pct: float
    sd_pct: float

    def fits(self, seen_pct: float, sds: float = SURPRISE) -> bool:
        """Return whether a moisture content is no great surprise."""
        return abs(seen_pct - self.mc_pct) <= max(LEAST_PCT, sds * self.sd_pct)


def expected_after(last_pct: float, before: Expected, now: Expected, noise_pct: float) -> Expected:
    """Return what is expected of a board by its own last reading and the model's change since."""
    change = now.mc_pct - before.mc_pct
    return Expected(last_pct + change, abs(change) * CHANGE_SHARE / SURPRISE + noise_pct)


def doubt(
    seen_pct: float, kg: float | None, expected: Expected, board: str, others: Sequence[SampleBoard]
) -> str | None:
    """Return why a reading is doubtful, as a question; None where it is not.

    Parameters
    ----------
    kg
        The weight read; None where moisture content was told or metered.
    others
        The stack's other boards.
    """
    if expected.fits(seen_pct):
        return None
    found = f"{seen_pct:.0f} % MC, where about {expected.mc_pct:.0f} is expected"
    if kg is not None:
        dry_kg = kg / (1.0 + seen_pct / 100.0)
        for other in others:
            if other.dry_kg is not None and expected.fits(mc_pct(kg, other.dry_kg), 2.0):
                return f"{found}: did you swap the boards {board} and {other.name}?"
        for factor, question in UNITS.items():
            if expected.fits(mc_pct(kg * factor, dry_kg), 2.0):
                return f"{found}: {question}?"
    return f"{found}: is it this board, and was it read right?"


def doubt_unseen(seen_pct: float, last_pct: float, days: float) -> str | None:
    """Return why a reading is doubtful by the last one alone, where no weather is known."""
    if seen_pct > last_pct + GAIN_PCT:
        return f"{seen_pct:.0f} % MC after {last_pct:.0f}: boards gain no {GAIN_PCT:.0f} points"
    if last_pct - seen_pct > GAIN_PCT + LOSS_PCT_PER_DAY * max(days, 0.0):
        return f"{seen_pct:.0f} % MC after {last_pct:.0f} in {days:.1f} days"
    return None
