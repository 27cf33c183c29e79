"""The clocks of slow drying on one board, kept going from hour to hour: two stains and mold.

Each runs on the outer millimeter and the air at the board, as `wood.stain` and `wood.mold` say.
They carry on from where they stood, so that a saved stack need not be dried from its beginning.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from drywind.wood.emc import emc_pct
from drywind.wood.mold import mold
from drywind.wood.stain import blue_dose, enzymatic_dose

Array = NDArray[np.float64]

VERSION = 1
"""Raised whenever the same hours would come out differently."""

_RH = np.linspace(0.0, 1.0, 101)
_EMC = emc_pct(20.0, _RH) / 100.0
"""What the outer millimeter says of the humidity at the face; warmth moves it by little."""


@dataclass(frozen=True)
class Clocks:
    """How far each clock has run; arrays of shape (boards,), or (hours + 1, boards) of a course.

    Attributes
    ----------
    enzymatic, blue
        Days at 20 °C, and at the best temperature of blue stain.
    mold, dry_hours
        The index, 0-6, and how many hours in a row it has not grown.
    """

    enzymatic: Array
    blue: Array
    mold: Array
    dry_hours: Array

    @classmethod
    def clean(cls, boards: int, enzymatic: float = 0.0, blue: float = 0.0) -> "Clocks":
        """Return the clocks of boards just stacked, with what ran before."""
        none = np.zeros(boards)
        return cls(none + enzymatic, none + blue, none, none.copy())

    @classmethod
    def beside(cls, parts: "Sequence[Clocks]") -> "Clocks":
        """Put clocks of boards beside each other."""
        return cls(*(np.concatenate([getattr(p, f.name) for p in parts], -1) for f in fields(cls)))

    def columns(self, keep: slice) -> "Clocks":
        """Return those of some of the boards."""
        return Clocks(*(getattr(self, f.name)[..., keep] for f in fields(self)))

    def at(self, hours: int | slice) -> "Clocks":
        """Return where the clocks of a course stand."""
        return Clocks(*(getattr(self, f.name)[hours] for f in fields(self)))

    @classmethod
    def filled(cls, empty: Array, hour: int, at: "Clocks") -> "Clocks":
        """Return a course of which one hour is known."""
        course = cls(*(empty.copy() for _ in fields(cls)))
        return course.replaced(hour, at)

    def replaced(self, hours: int | slice, by: "Clocks") -> "Clocks":
        """Return a course of which some hours are others."""
        changed = []
        for f in fields(self):
            values = getattr(self, f.name).copy()
            values[hours] = getattr(by, f.name)
            changed.append(values)
        return Clocks(*changed)


def run(start: Clocks, temp_c: Array, rh: Array, shell_mc: Array) -> Clocks:
    """Return the course of the clocks; what is unknown stops them.

    Parameters
    ----------
    temp_c, rh
        Of the air at the boards, °C and a fraction, shape (hours, boards).
    shell_mc
        Of the outer millimeter at the end of each hour, a fraction, of that shape.
    """
    damp = np.interp(shell_mc, _EMC, _RH)
    grown = mold(temp_c, np.maximum(rh, damp), (start.mold, start.dry_hours))
    first = (getattr(start, f.name)[None] for f in fields(start))
    courses = (
        start.enzymatic + enzymatic_dose(temp_c, shell_mc).known,
        start.blue + blue_dose(temp_c, shell_mc).known,
        grown.index,
        grown.dry_hours,
    )
    return Clocks(*(np.concatenate(pair) for pair in zip(first, courses, strict=True)))
