"""What is believed before anything is weighed, and how far measurements are trusted.

Every number is an assumption but for those that name a source; `low` and `high` are what we would
still find believable. A result is stored with the version of this table, and made anew when that
changes.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, fields
from hashlib import sha256
from math import hypot
from typing import NamedTuple


def _guess(value: float, low: float, high: float, why: str) -> float:
    return field(default=value, metadata={"low": low, "high": high, "why": why})


class Row(NamedTuple):
    """One assumption as a row to print."""

    name: str
    value: float
    low: float
    high: float
    why: str


@dataclass(frozen=True)
class Priors:
    """The table. Diffusion is counted in logarithms of the species' multiplier."""

    species_sd: float = _guess(
        0.25, 0.15, 0.35, "ln diffusion of a species here, about the table's: region, mill"
    )
    site_sd: float = _guess(
        0.14, 0.05, 0.25, "ln diffusion common to all stacks of a site: air the model has wrong"
    )
    stack_sd: float = _guess(
        0.20, 0.1, 0.3, "ln diffusion of a stack about those; with them 0.35 in all"
    )
    board_sd: float = _guess(0.10, 0.05, 0.2, "ln diffusion of a sample board about its stack")
    green_species_sd: float = _guess(
        0.06, 0.03, 0.12, "ln green MC of a species here, about the table's"
    )
    green_stack_sd: float = _guess(0.08, 0.05, 0.15, "ln green MC of a stack about that")
    green_told_sd: float = _guess(0.03, 0.01, 0.06, "ln green MC about what the owner told of it")
    green_board_sd: float = _guess(
        0.06, 0.03, 0.1, "ln green MC of a board about its stack: heart and sap, butt and top"
    )
    air_sd: float = _guess(
        0.4, 0.2, 0.7, "ln of how readily air takes water from a stack, about the model's"
    )
    edge_sd: float = _guess(0.4, 0.2, 0.7, "the same of its edge, about the stack's")
    weigh_pct: float = _guess(
        0.4, 0.1, 1.0, "points of MC that a weighing errs: scale, wet hands, stickers off"
    )
    oven_sd: float = _guess(0.004, 0.001, 0.01, "share that a board's oven-dry weight errs")
    sections_sd: float = _guess(
        0.03, 0.015, 0.06, "the same where it is reckoned from sections off the ends"
    )
    told_pct: float = _guess(2.0, 1.0, 4.0, "points that a moisture content merely told errs")
    meter_pct: float = _guess(2.0, 1.0, 4.0, "points that a meter errs below fiber saturation")
    start_share: float = _guess(
        0.7,
        0.3,
        1.0,
        "of the water lost in the first two days, that the model has wrong, for each 100 points"
        " above fiber saturation: how free water moves is known least",
    )
    common_share: float = _guess(
        0.7,
        0.3,
        1.0,
        "of the variance of what weighings say, that is the model's and so all stacks'",
    )
    model_share: float = _guess(
        0.03,
        0.01,
        0.08,
        "of the water lost so far, that the model has wrong at the true diffusion",
    )
    model_ahead: float = _guess(
        0.1,
        0.05,
        0.2,
        "by what share its pace is off ahead, times the root of ln of the stack's age over its age"
        " at the last reading",
    )
    frozen_sd: float = _guess(
        0.9, 0.4, 1.2, "ln of what leaves a frozen board, about the model's, which has ice at rest"
    )
    weather_k: float = _guess(
        0.7, 0.3, 1.3, "kelvins by which past air at a site stays off its place's"
    )
    weather_rh: float = _guess(0.03, 0.01, 0.08, "and relative humidity, the other way")
    wrong_share: float = _guess(
        0.03, 0.005, 0.1, "readings that are mistakes: another board, another unit, a wet meter"
    )
    wrong_pct: float = _guess(
        100.0,
        40.0,
        200.0,
        "points by which those are off: so many that a wild one pulls at nothing",
    )

    @property
    def version(self) -> str:
        """What results made under this table are known by."""
        return sha256(repr((METHOD, asdict(self))).encode()).hexdigest()[:12]

    @property
    def diffusion_sd(self) -> float:
        """Of a stack of which nothing is known."""
        return hypot(self.species_sd, self.site_sd, self.stack_sd)

    @property
    def green_sd(self) -> float:
        """Of ln green moisture content of a stack of which nothing is known."""
        return hypot(self.green_species_sd, self.green_stack_sd)

    @classmethod
    def rows(cls) -> Sequence[Row]:
        """Return the whole table for people to read."""
        return [
            Row(f.name, float(f.default), f.metadata["low"], f.metadata["high"], f.metadata["why"])  # type: ignore[arg-type]
            for f in fields(cls)
        ]


METHOD = 2
"""Raised whenever the same readings would teach something else."""

PRIORS = Priors()
