"""What could be done for a stack that dries too fast: every measure tried in the model.

Measures and moves are data with the work they cost. Each is put on the stack at the hour it can
be in place, the stack is simulated anew to the end of the forecast, and judged like the stack as
it stands. Chosen is the least work that brings the stack under its limit; where nothing does, the
one that helps most, said so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from drywind.climate.stack_air import has_roof
from drywind.judge.hazards import Pace, pace
from drywind.judge.runs import Grounds, Run, advance, branch
from drywind.yard import Measure, Setup, Site

WORK_MINUTES: Mapping[Measure, int] = {
    Measure.PILE_ROOF: 20,
    Measure.SHADE_CLOTH: 20,
    Measure.BURLAP: 30,
    Measure.PACKS_CLOSED: 45,
}
MOVE_MINUTES = 60
"""Work for one stack, two people; closing packs up and moving need a loader (assumption)."""

READY_HOURS = 2
"""From the message to the measure in place, at the earliest (assumption)."""

WORTH_SHARE = 0.9
"""A remedy that leaves more than this share of the severity is not worth its work (assumption)."""


@dataclass(frozen=True)
class Remedy:
    """Covers to put on, and perhaps another site to move to."""

    measures: tuple[Measure, ...]
    move_to: str | None = None

    @property
    def minutes(self) -> int:
        """The work it costs."""
        return sum(WORK_MINUTES[m] for m in self.measures) + (
            MOVE_MINUTES if self.move_to is not None else 0
        )

    def applied(self, setup: Setup) -> Setup:
        """Return the setup after the work."""
        return replace(
            setup,
            site=self.move_to or setup.site,
            measures=setup.measures | set(self.measures),
        )


@dataclass(frozen=True)
class Trial:
    """A remedy, how the stack fares with it, and whether all judged without it is known."""

    remedy: Remedy
    pace: Pace
    known: bool = True

    @property
    def severity(self) -> float:
        """Of the worst window with the remedy; 1 is the limit."""
        return self.pace.worst.severity if self.pace.worst else float("inf")

    @property
    def safe(self) -> bool:
        """Whether every window judged without the remedy is within its limit with it."""
        return self.known and self.pace.worst is not None and self.pace.onset is None


def remedies(setup: Setup, sites: Mapping[str, Site], full: frozenset[str]) -> list[Remedy]:
    """Return what could be done for a stack set up so, the least work first.

    Covers one at a time and in pairs; every other site with room, also with one cover more.
    """
    site = sites[setup.site]

    def useful(at: Site) -> list[Measure]:
        roofed = has_roof(at, setup)
        return [
            m
            for m in Measure
            if m not in setup.measures and not (m is Measure.PILE_ROOF and roofed)
        ]

    here = useful(site)
    found = [Remedy((m,)) for m in here] + [Remedy(pair) for pair in combinations(here, 2)]
    for name, other in sites.items():
        if name != setup.site and name not in full:
            found.append(Remedy((), name))
            found += [Remedy((m,), name) for m in useful(other)]
    return sorted(found, key=lambda r: r.minutes)


def try_remedies(
    run: Run,
    options: Sequence[Remedy],
    grounds: Grounds,
    ahead: int,
    limit: float,
    without: Pace,
) -> list[Trial]:
    """Simulate a stack with each remedy from the hour the run has come to, and judge it.

    Parameters
    ----------
    run
        The stack at the hour the work could be done.
    ahead, limit
        As in `drywind.judge.hazards.pace`.
    without
        The pace of the stack as it stands.
    """
    case = run.case
    setup = case.stack.setup_at(case.time_of(run.hour))
    branches = [branch(run, option.applied(setup), grounds) for option in options]
    dried = advance(branches, [case.hours] * len(branches))
    now = run.hour - READY_HOURS
    paces = [pace(done, now, ahead, limit) for done in dried]
    return [
        Trial(option, judged, judged.judged >= without.judged)
        for option, judged in zip(options, paces, strict=True)
    ]


def choose(trials: Sequence[Trial], severity_now: float) -> Trial | None:
    """Return the least work that is safe, else what helps most, else None."""
    safe = [t for t in trials if t.safe]
    if safe:
        return min(safe, key=lambda t: (t.remedy.minutes, t.severity))
    helping = [t for t in trials if t.severity < WORTH_SHARE * severity_now]
    # Within a few hundredths the model cannot tell remedies apart: then the least work.
    return min(helping, key=lambda t: (round(t.severity, 1), t.remedy.minutes), default=None)
