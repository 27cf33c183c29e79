"""What is learned of made yards, held against what is true of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from tests.learning.yards import Known, Misread, instant, weighed

from drywind.judge.cases import Case
from drywind.learn.ahead import Futures, Unsure, futures, interval, loss_interval
from drywind.learn.nodes import simulate_nodes
from drywind.learn.priors import PRIORS
from drywind.learn.weighed import Measured, ask, usable
from drywind.learn.yard import Believed, Pupil, learn, wood_of
from drywind.samples import sample_boards

Array = NDArray[np.float64]

WEEK_H = 7 * 24
STAGES: Sequence[Sequence[int]] = ((), (3,), (3, 7), (3, 7, 14))
"""The days on which boards have been weighed."""


@dataclass(frozen=True)
class Stage:
    """How well the seven days after the last weighing were foreseen; arrays of shape (stacks,).

    Attributes
    ----------
    loss_error, plain_error
        Of the points lost in the week: as learned, and by the species' table alone.
    mc_error, plain_mc_error
        Of the moisture content at its end.
    loss_inside, mc_inside
        Whether what came lay within the interval of nine in ten.
    """

    loss_error: Array
    plain_error: Array
    mc_error: Array
    plain_mc_error: Array
    loss_inside: Array
    mc_inside: Array


def rms(values: Array) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def stage(known: Sequence[Known], days: Sequence[int], misread: Misread | None = None) -> Stage:
    """Weigh every stack on these days, learn, and look a week ahead.

    `misread` is what people do wrong; without, nothing.
    """
    now = max(days, default=0)
    rng = np.random.default_rng(len(days))
    cases = [weighed(k, days, rng, misread) if days else k.case for k in known]
    believed = believed_of(known, cases, now) if days else {}
    taught = [c.taught(wood_of(believed[c.stack.id])) if days else c for c in cases]
    hours = 24 * now + WEEK_H
    ahead = futures([Unsure(_short(c, hours), 24 * now) for c in taught], PRIORS)
    plain = futures([Unsure(_short(k.case, hours), 0) for k in known], PRIORS)
    rows = [_row(*one, now) for one in zip(known, ahead, plain, strict=True)]
    return Stage(*np.array(rows).T)


def believed_of(known: Sequence[Known], cases: Sequence[Case], now: int) -> Mapping[str, Believed]:
    """Learn of each yard by itself."""
    asked, boards = [], []
    for case in cases:
        told = sample_boards(case.stack.events, instant(case, now))
        boards.append(tuple(usable(board, case) for board in told))
        asked.append(ask(case, boards[-1]))
    simulated = simulate_nodes(asked, PRIORS)
    pupils = [
        Pupil(case, case.stack.setup.site, Measured(*each))
        for case, each in zip(cases, zip(asked, boards, simulated, strict=True), strict=True)
    ]
    found: dict[str, Believed] = {}
    for yard in {k.yard for k in known}:
        mine = [p for p, k in zip(pupils, known, strict=True) if k.yard == yard]
        found |= learn(mine, (), PRIORS)
    return found


def _short(case: Case, hours: int) -> Case:
    span = slice(hours)
    return replace(case, drivers=case.drivers.hours(span), weather=case.weather.iloc[span])


def _row(known: Known, ahead: Futures, plain: Futures, now: int) -> tuple[float, ...]:
    start, end = 24 * now, 24 * now + WEEK_H
    true_mc = 100.0 * known.mc[end]
    true_loss = 100.0 * known.mc[start] - true_mc
    loss, mc = ahead.at(start) - ahead.at(end), ahead.at(end)
    usual = plain.at(start) - plain.at(end)
    return (
        float(loss.mean() - true_loss),
        float(usual.mean() - true_loss),
        float(mc.mean() - true_mc),
        float(plain.at(end).mean() - true_mc),
        _holds(loss_interval(loss), true_loss),
        _holds(interval(mc), true_mc),
    )


def _holds(within: tuple[float, float], true: float) -> float:
    return float(within[0] <= true <= within[1])
