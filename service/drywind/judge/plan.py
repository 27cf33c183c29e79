"""Which lots and stacks go where when room is short: an assignment of least harm and work.

Every stack takes one place of a site's room, and every lot as many as stacks come of it. What each
costs where is judged elsewhere, on the scale of saw days, where 1 is a limit; moving is work.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from drywind.judge.measures import MOVE_MINUTES
from drywind.judge.saw_score import WORK_PER_HOUR

WAITING_COST = 20.0
"""What it costs to leave a lot unsawn for want of room: more than any place (assumption)."""

IMPOSSIBLE = 1e6


@dataclass(frozen=True)
class Item:
    """A stack, or one of the stacks that come of a lot.

    Attributes
    ----------
    at
        Where a stack stands; None for a lot.
    harm
        What it suffers at each site, on the scale of `saw_score`; a site not named cannot be.
    known
        False where nothing is known of it: it counts the same everywhere.
    """

    name: str
    species: str
    thickness: str
    at: str | None
    harm: Mapping[str, float]
    known: bool = True


@dataclass(frozen=True)
class Placing:
    """Where an item is to go.

    Attributes
    ----------
    to
        None where there is no room for it.
    saves
        How much less it suffers there than where it stands, or for a lot than at the worst site.
    minutes
        Of moving a stack.
    """

    item: Item
    to: str | None
    saves: float
    minutes: int

    @property
    def moves(self) -> bool:
        """Whether a stack is to be moved."""
        return self.item.at is not None and self.to != self.item.at


@dataclass(frozen=True)
class Plan:
    """Where everything is to go, and how much room each site then has left; None is unbounded."""

    placings: tuple[Placing, ...]
    left: Mapping[str, int | None]

    @property
    def minutes(self) -> int:
        """The work of moving, for two people and a loader."""
        return sum(placing.minutes for placing in self.placings)


def assign(items: Sequence[Item], room: Mapping[str, int | None]) -> Plan:
    """Return the plan of least harm and work.

    Parameters
    ----------
    room
        How many stacks each site takes in all, those that stand there among them; None is no bound.
        A site that holds more than it takes keeps them.
    """
    slots = [name for name, most in room.items() for _ in range(_slots(name, most, items))]
    cost = np.array([[_cost(item, site) for site in slots] for item in items])
    waiting = np.full((len(items), len(items)), IMPOSSIBLE)
    for i, item in enumerate(items):
        if item.at is None:
            waiting[i, i] = WAITING_COST
    rows, columns = linear_sum_assignment(np.hstack([cost.reshape(len(items), -1), waiting]))
    chosen = {
        int(r): slots[c] if c < len(slots) else None for r, c in zip(rows, columns, strict=True)
    }
    placings = tuple(_placing(item, chosen.get(i)) for i, item in enumerate(items))
    taken = [placing.to for placing in placings]
    left = {
        name: None if most is None else max(0, most - taken.count(name))
        for name, most in room.items()
    }
    return Plan(placings, left)


def _slots(name: str, most: int | None, items: Sequence[Item]) -> int:
    standing = sum(item.at == name for item in items)
    return len(items) if most is None else max(most, standing)


def _cost(item: Item, site: str) -> float:
    harm = item.harm.get(site, IMPOSSIBLE)
    return harm + (WORK_PER_HOUR * MOVE_MINUTES / 60.0 if item.at not in {None, site} else 0.0)


def _placing(item: Item, to: str | None) -> Placing:
    if to is None:
        return Placing(item, None, 0.0, 0)
    before = max(item.harm.values()) if item.at is None else item.harm.get(item.at, 0.0)
    minutes = 0 if item.at in {None, to} else MOVE_MINUTES
    return Placing(item, to, max(0.0, before - item.harm[to]), minutes)
