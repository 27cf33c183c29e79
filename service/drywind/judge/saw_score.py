"""How fresh stacks fare at a spot over all weathers, and what that is worth in a ranking."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drywind.climate.stack_air import Board
from drywind.judge.fresh import Tried
from drywind.judge.measures import SURE_ENOUGH, Remedy
from drywind.judge.sawing import Fare, Verdict

Array = NDArray[np.float64]

FAST_POWER, STAIN_POWER = 4, 2
"""How harm grows with a hazard (assumption). A loss within the limit is a safe one and counts
little; what wood bears of stain is known to a factor of two only, so half of it counts."""

WORST = 2.0
"""No hazard counts for more when days are ranked: what is lost is lost (assumption)."""

LESSER_SHARE = 0.25
"""What the lesser of the hazards counts beside the greatest one (assumption)."""

HASTY_SHARE, HASTIEST = 0.2, 3.0
"""What the square of the first day's loss beyond the safe one counts, and up to how much of it: a
few over-fast hours harm wood (see `hazards.fastest_hours`), how much nobody has published
(assumption)."""

WORK_PER_HOUR = 0.05
"""What an hour of work on a stack counts, where a hazard at its limit counts 1 (assumption: it
decides between days alike)."""

SLOW_PER_100_DAYS = 0.04
SLOWEST_DAYS = 400.0
"""What 100 days to 20 % count likewise, and from where on they count no more (assumption)."""

EVEN_CHANCE = 0.5


@dataclass(frozen=True)
class Hazards:
    """How boards fare, in arrays of one shape whose last axis is the weathers; see `Tried`."""

    ratio: Array
    stain: Array
    first: Array
    board: NDArray[np.intp]

    @classmethod
    def shaped(cls, found: Tried, *shape: int) -> "Hazards":
        """Return what was found at the spots of a batch."""
        ratio, stain, first = found.severity, found.stain, found.first
        return cls(
            ratio.reshape(shape),
            stain.reshape(shape),
            first.reshape(shape),
            found.board.reshape(shape),
        )

    def at(self, *where: int | slice) -> "Hazards":
        """Return a part of them."""
        return Hazards(self.ratio[where], self.stain[where], self.first[where], self.board[where])

    @property
    def is_known(self) -> bool:
        """Whether no hour was missing."""
        return bool(np.isfinite(self.ratio).all())

    @property
    def is_safe(self) -> NDArray[np.bool_]:
        """Where no limit is passed."""
        return (self.ratio < 1.0) & (self.stain < 1.0)

    @property
    def harm(self) -> Array:
        """How bad they are together: 1 or more where one of them comes to its limit.

        The first day, whose steep loss is not judged by itself, counts a little besides.
        """
        ratio, stain = np.clip(self.ratio, 0.0, WORST), np.clip(self.stain, 0.0, WORST)
        hasty = np.clip(self.first - 1.0, 0.0, HASTIEST)
        fast, stained = ratio**FAST_POWER, stain**STAIN_POWER
        lesser = LESSER_SHARE * np.minimum(fast, stained) + HASTY_SHARE * hasty**2
        harm: Array = np.maximum(fast, stained) + lesser
        return harm

    def fare(self) -> Fare | None:
        """Return how boards fare over all weathers; None where that is unknown."""
        if not self.is_known:
            return None
        middle = int(np.argsort(self.ratio)[len(self.ratio) // 2])
        return Fare(
            worst_ratio=float(self.ratio[middle]),
            board=list(Board)[self.board[middle]],
            stain_index=float(np.median(self.stain)),
            over_chance=float((self.ratio >= 1.0).mean()),
            stain_chance=float((self.stain >= 1.0).mean()),
            safe_chance=float(self.is_safe.mean()),
            harm=float(self.harm.mean()),
        )


@dataclass(frozen=True)
class Helped:
    """What would help, and how boards fare with it in each weather."""

    remedy: Remedy
    hazards: Hazards

    @property
    def rank(self) -> tuple[bool, float]:
        """The less the better: the least work that is safe, else the least harm."""
        if self.hazards.is_safe.all():
            return False, float(self.remedy.minutes)
        return True, float(self.hazards.harm.mean())


def score(fare: Fare | None, remedy: Remedy | None, to_20: float) -> float | None:
    """Return 0 to 100, the more the better; None where it is unknown."""
    if fare is None:
        return None
    work = WORK_PER_HOUR * remedy.minutes / 60.0 if remedy else 0.0
    slow = SLOW_PER_100_DAYS * min(to_20, SLOWEST_DAYS) / 100.0
    return 100.0 / (1.0 + fare.harm + work + slow)


def verdict(usual: Fare | None, helped: Fare | None) -> Verdict:
    """Return what to make of a day and a site, or a month."""
    if usual is None:
        return Verdict.UNKNOWN
    if usual.safe_chance >= SURE_ENOUGH:
        return Verdict.GOOD
    if helped is not None and helped.safe_chance >= SURE_ENOUGH:
        return Verdict.WITH_MEASURE
    best = max(fare.safe_chance for fare in (usual, helped) if fare is not None)
    return Verdict.CHANCY if best >= EVEN_CHANCE else Verdict.NO
