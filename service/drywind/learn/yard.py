"""All stacks of a yard learned from together: their weighings, then what they teach each other."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drywind.judge.cases import UNTAUGHT, Case, Wood
from drywind.learn.pooling import Member, Normal, Spread, expected
from drywind.learn.priors import Priors
from drywind.learn.weighed import DIFFUSIONS, EASES, GREENS, Measured, log_likelihood

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Believed:
    """What is believed of a stack's wood, in logarithms about the species' table and the model.

    Attributes
    ----------
    diffusion, green
        Of the diffusion multiplier, and of green moisture content.
    correlation
        Of the two: a wetter start and slower drying may come to the same weight.
    ease
        Of how readily air takes water at the edge; None where it cannot be told.
    readings
        How many of the stack's own it rests on.
    seen
        What they alone say of diffusion and green moisture content, to teach other stacks.
    """

    diffusion: Normal
    green: Normal
    correlation: float = 0.0
    ease: Normal | None = None
    readings: int = 0
    seen: tuple[Normal | None, Normal | None] = (None, None)

    @property
    def is_learned(self) -> bool:
        """Whether anything was learned, of it or of others like it."""
        return self.readings > 0 or abs(self.diffusion.mean) > 0.0

    def as_json(self) -> dict[str, Any]:
        """Return it as it is stored."""
        return asdict(self)

    @classmethod
    def of_json(cls, told: dict[str, Any]) -> "Believed":
        """Return what `as_json` gave."""

        def normal(value: dict[str, float] | None) -> Normal | None:
            return None if value is None else Normal(**value)

        diffusion, green = (Normal(**told[name]) for name in ("diffusion", "green"))
        seen_diffusion, seen_green = map(normal, told["seen"])
        return cls(
            diffusion,
            green,
            told["correlation"],
            normal(told["ease"]),
            told["readings"],
            (seen_diffusion, seen_green),
        )


@dataclass(frozen=True)
class Pupil:
    """A stack to learn of; `measured` is None where it has no readings that can be used."""

    case: Case
    site: str
    measured: Measured | None = None


def spreads(priors: Priors) -> tuple[Spread, Spread]:
    """Return how diffusion and green moisture content lie about the table's."""
    return (
        Spread(priors.species_sd, priors.site_sd, priors.stack_sd, priors.common_share),
        Spread(priors.green_species_sd, 0.0, priors.green_stack_sd),
    )


def learn(
    pupils: Sequence[Pupil], before: Sequence[tuple[Member, Member]], priors: Priors
) -> dict[str, Believed]:
    """Return what is believed of each stack, by name.

    Parameters
    ----------
    before
        What stacks that are gone taught: of diffusion, and of green moisture content.
    """
    likely = {
        p.case.stack.id: log_likelihood(p.measured, priors)
        for p in pupils
        if p.measured is not None
    }
    seen = {name: _seen(table, priors) for name, table in likely.items()}
    own = [
        tuple(
            Member(p.case.stack.species, p.site, seen.get(p.case.stack.id, (None, None))[which])
            for which in (0, 1)
        )
        for p in pupils
    ]
    wide = spreads(priors)
    members = [[pair[which] for pair in before] + [pair[which] for pair in own] for which in (0, 1)]
    believed = {}
    for pupil, mine in zip(pupils, own, strict=True):
        name = pupil.case.stack.id
        diffusion, green = (expected(members[w], mine[w], wide[w]) for w in (0, 1))
        if pupil.case.stack.green_mc_pct is not None:
            green = Normal(0.0, priors.green_told_sd)
        prior = Believed(diffusion, green)
        if pupil.measured is None:
            believed[name] = prior
            continue
        found = posterior(likely[name], prior, priors, edge=pupil.measured.at_edge)
        believed[name] = replace(found, readings=pupil.measured.readings, seen=seen[name])
    return believed


def posterior(likely: Array, prior: Believed, priors: Priors, *, edge: bool) -> Believed:
    """Return what is believed after a log likelihood of shape (diffusion, green, ease)."""
    weight = likely + _log(DIFFUSIONS, prior.diffusion)[:, None, None]
    weight = weight + _log(GREENS, prior.green)[None, :, None]
    weight = weight + _log(EASES, Normal(0.0, priors.edge_sd))[None, None, :]
    share = np.exp(weight - weight.max())
    share /= share.sum()
    pair = share.sum(axis=2)
    diffusion, green = (_moments(g, pair.sum(1 - i)) for i, g in enumerate((DIFFUSIONS, GREENS)))
    away = np.outer(DIFFUSIONS - diffusion.mean, GREENS - green.mean)
    correlation = float((pair * away).sum()) / (diffusion.sd * green.sd)
    ease = _moments(EASES, share.sum(axis=(0, 1))) if edge else None
    return Believed(diffusion, green, correlation, ease)


def _seen(likely: Array, priors: Priors) -> tuple[Normal | None, Normal | None]:
    """Return what a stack's readings alone say of it."""
    green_sd = float(np.hypot(priors.green_species_sd, priors.green_stack_sd))
    prior = Believed(Normal(0.0, priors.diffusion_sd), Normal(0.0, green_sd))
    after = posterior(likely, prior, priors, edge=False)
    return after.diffusion.without(prior.diffusion), after.green.without(prior.green)


def _log(grid: Array, belief: Normal) -> Array:
    return np.asarray(-0.5 * ((grid - belief.mean) / belief.sd) ** 2, np.float64)


def _moments(grid: Array, share: Array) -> Normal:
    mean = float(share @ grid)
    step = float(grid[1] - grid[0])
    return Normal(mean, float(np.sqrt(share @ (grid - mean) ** 2 + step**2 / 12.0)))


def wood_of(believed: Believed) -> Wood:
    """Return a belief as a stack's case carries it."""
    if not believed.is_learned:
        return UNTAUGHT
    diffusion, green, ease = believed.diffusion, believed.green, believed.ease
    return Wood(
        diffusion=round(float(np.exp(diffusion.mean)), DIGITS),
        diffusion_sd=diffusion.sd,
        green=round(float(np.exp(green.mean)), DIGITS),
        green_sd=green.sd,
        correlation=believed.correlation,
        edge_ease=1.0 if ease is None else round(float(np.exp(ease.mean)), DIGITS),
        edge_ease_sd=None if ease is None else ease.sd,
        readings=believed.readings,
    )


DIGITS = 3
"""A saved state holds until what is believed changes by as much: a thousandth is nothing."""


def members_of(species: str, site: str, believed: Believed) -> tuple[Member, Member]:
    """Return a stack as others learn from it."""
    diffusion, green = (Member(species, site, seen) for seen in believed.seen)
    return diffusion, green
