"""The yard plan: what each lot and each stack would suffer at each site, and who goes where."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from math import ceil

import numpy as np

from drywind.climate.stack_air import has_roof
from drywind.clock import floor_hour
from drywind.config import Config
from drywind.cycle import HORIZON_HOURS, look_ahead, make_grounds
from drywind.judge.assess import at_work
from drywind.judge.cases import Grounds
from drywind.judge.measures import Remedy, Span, Trial, try_remedies
from drywind.judge.outlook import Outlook
from drywind.judge.plan import Item, Plan, assign
from drywind.judge.runs import Run, View, advance
from drywind.judge.saw_score import FAST_POWER, LESSER_SHARE, WORST
from drywind.judge.sawing import LotDays
from drywind.planning import Asked, saw_board
from drywind.store import Store
from drywind.units import parse_board_feet
from drywind.wood.limits import NO_WEIGHT_MC_PCT

STACK_BOARD_FEET = 1000.0
"""So much makes a stack (assumption)."""

REWETTED = 1.0
"""What it costs to take half-dried lumber out from under a roof (assumption)."""


def yard_plan(config: Config, store: Store, now: datetime) -> Plan:
    """Return which lots and stacks should go where, moving counted.

    Lots are judged by their best coming day at each site, stacks by the week ahead.

    Raises
    ------
    WeatherError
        If there is no forecast.
    """
    lots = [lot for lot in store.lots(include_ended=True) if lot.waits_at(now)]
    lots = [lot for lot in lots if lot.site in config.sites]
    board = saw_board(config, store, now, Asked(lots, even_full=True))
    items = [item for lot in board.lots for item in _of_lot(lot)]
    items += _of_stacks(config, store, now)
    return assign(items, {name: site.room for name, site in config.sites.items()})


def _of_lot(lot: LotDays) -> list[Item]:
    """Return the stacks that come of a lot; shared evenly among its thicknesses."""
    harm: dict[str, float] = {}
    for day in lot.days:
        if day.score is not None:
            harm.setdefault(day.site, 100.0 / day.score - 1.0)
    parcel = lot.parcel
    feet = parse_board_feet(parcel.lot.volume) or STACK_BOARD_FEET
    sizes = max(1, len(parcel.lot.thicknesses))
    count = ceil(feet / sizes / STACK_BOARD_FEET)
    size = parcel.thickness.label
    item = Item(parcel.lot.id, parcel.lot.species, size, None, harm, known=bool(harm))
    return [item] * count


def _of_stacks(config: Config, store: Store, now: datetime) -> list[Item]:
    """Return the stacks that stand, with what a week at each site would do to them."""
    outlooks = look_ahead(config, store, now)
    if not outlooks:
        return []
    start = min(outlook.case.start for outlook in outlooks)
    end = floor_hour(now) + timedelta(hours=HORIZON_HOURS)
    grounds = make_grounds(config, store, start, end, now)
    ahead = config.policy.warn_hours_ahead
    return [_of_stack(outlook, grounds, now, ahead) for outlook in outlooks]


def _of_stack(outlook: Outlook, grounds: Grounds, now: datetime, ahead: int) -> Item:
    stack, here = outlook.case.stack, outlook.site_now
    item = Item(stack.id, stack.species, stack.thickness.label, here, {})
    mc_pct = float(outlook.run.mc_pct[max(outlook.now, 0), 0])
    if outlook.pace.worst is None or not np.isfinite(mc_pct):
        return replace(item, harm=dict.fromkeys(grounds.sites, 0.0), known=False)
    if mc_pct < NO_WEIGHT_MC_PCT:
        return replace(item, harm=_dry(outlook, grounds))
    run = Run.fresh(outlook.case)
    (run,) = advance([run], [max(outlook.now, run.hour)])
    (view,) = at_work([View(run, outlook.limit, grounds, now)])
    others = [name for name in grounds.sites if name != here]
    span = Span(outlook.now, ahead, outlook.limit.value)
    moves = [Remedy((), name) for name in others]
    trials = try_remedies(view.run, moves, grounds, span, outlook.pace)
    harm = {here: _harm(*(finding.severity for finding in outlook.findings))}
    harm |= {name: _harm_of(trial) for name, trial in zip(others, trials, strict=True)}
    return replace(item, harm=harm)


def _dry(outlook: Outlook, grounds: Grounds) -> Mapping[str, float]:
    """Return the harm to wood that only rain can hurt any more."""
    setup = outlook.case.stack.setup_at(outlook.case.time_of(outlook.now))
    return {
        name: 0.0 if has_roof(site, replace(setup, site=name)) else REWETTED
        for name, site in grounds.sites.items()
    }


def _harm_of(trial: Trial) -> float:
    return _harm(trial.severity, *(finding.severity for finding in trial.others))


def _harm(*severities: float) -> float:
    worst, *lesser = sorted((min(s, WORST) for s in severities), reverse=True)
    return worst**FAST_POWER + LESSER_SHARE * sum(s**FAST_POWER for s in lesser)
