"""Yards whose wood is known, because it is made: what is learned of it can be held against it.

The wood is drawn about the species' table as the priors say, dries by the model's own law or by
others, in air that is not quite the air that is told, and is weighed by people who err.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from tests.learning.other_laws import OtherWood, dry, dry_by_front, dry_lumped
from tests.published import years

from drywind.climate.stack_air import Drivers
from drywind.judge.cases import Case, Grounds, make_case
from drywind.learn.nodes import in_other_air, repeated, scaled
from drywind.learn.priors import PRIORS
from drywind.samples import Entry
from drywind.units import Thickness
from drywind.wood.drying import Boards, State, simulate
from drywind.wood.species import find_species
from drywind.yard import Event, EventKind, Exposure, Measure, Setup, Site, Stack

Array = NDArray[np.float64]
Law = Callable[[Boards, Array, Drivers], Array]
"""Mean moisture content by the hour of boards of some green MC in their air."""

WOODS = ("red_oak", "white_oak", "hard_maple", "black_cherry", "yellow_poplar")
DAYS = 22
STACKS_A_YARD = 10
BOARDS = 2
WEATHERS: Sequence[Callable[[], pd.DataFrame]] = (
    *(lambda year=year: years.ohare(year) for year in (2011, 2012, 2013, 2015, 2016, 2017)),
    years.greensboro,
    lambda: years.epw("Tampa"),
)
SETUP = Setup("lot", measures=frozenset({Measure.PILE_ROOF}))


@dataclass(frozen=True)
class Known:
    """A stack without its weighings, and what is true of it.

    `mc` is that of its typical board by the hour, a fraction; `weights` of its sample boards over
    their oven-dry weights.
    """

    case: Case
    yard: int
    mc: Array
    weights: Array


def own_law(boards: Boards, green: Array, air: Drivers) -> Array:
    """Dry boards by the model's own law."""
    return simulate(boards, air, State.green(green, air.air_temp_c[0])).mc


def _by(way: Callable[[OtherWood, Drivers, int], Array], share: float) -> Law:
    """Return a law that dries wood of some share of the model's diffusion."""

    def law(boards: Boards, green: Array, air: Drivers) -> Array:
        wood = OtherWood(boards.half_thickness_m, share * boards.diffusivity_m2s, green)
        return way(wood, air, len(air.air_temp_c))

    return law


LAWS: Mapping[str, Law] = MappingProxyType(
    {
        "own": own_law,
        "other": _by(dry, 0.62),
        "front": _by(dry_by_front, 1.4),
        "lumped": _by(dry_lumped, 0.62),
    }
)


def made(count: int, law: Law, seed: int) -> list[Known]:
    """Return so many stacks, ten to a yard."""
    rng = np.random.default_rng(seed)
    drawn = [one for yard in range(-(-count // STACKS_A_YARD)) for one in _yard(yard, rng)][:count]
    boards = Boards.beside([scaled(d.case, np.exp(d.ln_diffusion), 0) for d in drawn])
    green = np.concatenate([d.green for d in drawn])
    mc = law(boards, green, Drivers.beside([d.air for d in drawn]))
    each = 1 + BOARDS
    return [
        Known(
            d.case,
            d.yard,
            mc[:, i * each],
            1.0 + mc[:, i * each + 1 : (i + 1) * each],
        )
        for i, d in enumerate(drawn)
    ]


@dataclass(frozen=True)
class _Drawn:
    """A stack's typical board and its sample boards before they dry; arrays of shape (boards,)."""

    case: Case
    yard: int
    ln_diffusion: Array
    green: Array
    air: Drivers


def _yard(yard: int, rng: np.random.Generator) -> list[_Drawn]:
    table = WEATHERS[yard % len(WEATHERS)]()
    species = {w: rng.normal(0.0, [PRIORS.species_sd, PRIORS.green_species_sd]) for w in WOODS}
    sites = {s: (rng.normal(0.0, PRIORS.site_sd), rng.normal()) for s in ("lot", "shed")}
    woods = rng.choice(WOODS, 3, replace=False)
    drawn = []
    for number in range(STACKS_A_YARD):
        wood, site = str(rng.choice(woods)), str(rng.choice(list(sites)))
        case = _case(f"S{yard}-{number}", wood, site, table, rng)
        (ln_species, ln_green_species), (ln_site, warmer) = species[wood], sites[site]
        ln_f = ln_species + ln_site + rng.normal(0.0, PRIORS.stack_sd)
        ln_g = ln_green_species + rng.normal(0.0, PRIORS.green_stack_sd)
        boards_f = ln_f + np.append(0.0, rng.normal(0.0, PRIORS.board_sd, BOARDS))
        boards_g = ln_g + np.append(0.0, rng.normal(0.0, PRIORS.green_board_sd, BOARDS))
        air = repeated(case.drivers.boards(slice(0, 1)), 1 + BOARDS)
        air = in_other_air(air, np.full(1 + BOARDS, warmer), PRIORS)
        air = air.eased(np.full(1 + BOARDS, np.exp(rng.normal(0.0, PRIORS.air_sd))))
        drawn.append(_Drawn(case, yard, boards_f, case.green_mc * np.exp(boards_g), air))
    return drawn


def _case(name: str, wood: str, site: str, table: pd.DataFrame, rng: np.random.Generator) -> Case:
    first = int(rng.integers(24, len(table) - 24 * (DAYS + 2)))
    start = table.index[first].to_pydatetime()
    stack = Stack(
        name, find_species(wood).key, Thickness.parse("4/4"), start, replace(SETUP, site=site)
    )
    end = start + timedelta(days=DAYS)
    place = Site(site, 41.98, -87.92, 201.0, Exposure.OPEN if site == "lot" else Exposure.SHED)
    hours = table.loc[start : end - timedelta(hours=1)]
    return make_case(stack, Grounds({site: place}, {site: hours}), end, end)


Misread = Callable[[Sequence[Entry], int], Sequence[Entry]]
"""What people enter instead of the true weights of the boards, on which weighing."""


def _swapped(entries: Sequence[Entry], which: int) -> Sequence[Entry]:
    kilograms = [e.kg for e in reversed(entries)]
    read = [replace(e, kg=kg) for e, kg in zip(entries, kilograms, strict=True)]
    return read if which == 1 else entries


def _off(share: float, on: int) -> Misread:
    """Weigh so many times as much on one weighing."""

    def read(entries: Sequence[Entry], which: int) -> Sequence[Entry]:
        return [replace(e, kg=share * (e.kg or 0.0)) for e in entries] if which == on else entries

    return read


def _metered(shown_pct: float) -> Misread:
    """Put a meter on wet boards on the second weighing; it shows the same of all."""

    def read(entries: Sequence[Entry], which: int) -> Sequence[Entry]:
        shown = [Entry(e.board, meter_pct=shown_pct, mc_pct=shown_pct) for e in entries]
        return shown if which == 1 else entries

    return read


MISTAKES: Mapping[str, Misread] = MappingProxyType(
    {
        "none": lambda entries, _which: entries,
        "boards swapped on day 7": _swapped,
        "pounds for kilograms on day 7": _off(2.2046, on=1),
        "rain on the boards on day 3": _off(1.08, on=0),
        "a meter on wet boards on day 7 says 29 %": _metered(29.0),
    }
)


def weighed(
    known: Known, days: Sequence[int], rng: np.random.Generator, misread: Misread | None = None
) -> Case:
    """Return a stack's case with its boards weighed after so many days, each off by a little."""
    case, name = known.case, known.case.stack.id
    dry = rng.uniform(0.9, 2.5, BOARDS)
    off = rng.normal(0.0, PRIORS.sections_sd, BOARDS)
    # The sections say that the boards were a little wetter or drier than they were.
    cut = known.weights[0] * (1.0 + off)
    told = [
        Entry(board="AB"[i], kg=float(dry[i] * known.weights[0, i]), sections=((0.1 * s, 0.1),))
        for i, s in enumerate(map(float, cut))
    ]
    events = [Event(name, case.start, EventKind.SAMPLED, entry.detail) for entry in told]
    for which, day in enumerate(days):
        error = rng.normal(0.0, PRIORS.weigh_pct / 100.0, BOARDS)
        read = dry * (known.weights[24 * day] + error)
        told = [Entry("AB"[i], kg=float(kg)) for i, kg in enumerate(read)]
        for entry in told if misread is None else misread(told, which):
            kind = EventKind.WEIGHED if entry.meter_pct is None else EventKind.METERED
            events.append(Event(name, instant(case, day), kind, entry.detail))
    return replace(case, stack=replace(case.stack, events=tuple(events)))


def instant(case: Case, day: int) -> datetime:
    """Return when a day since stacking begins."""
    return case.start + timedelta(days=day)
