"""What is learned of made yards, held against what is true of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from tests.learning.yards import Faults, Known, instant, weighed

from drywind.judge.cases import Case
from drywind.learn.ahead import Unsure, futures, interval
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
    """How well the seven days after the last weighing were foreseen, by stack.

    `loss_error` and `plain_error` are of the loss over the week, learned and by the table alone,
    in points; `mc_error` of the moisture content at its end; the others say whether what came lay
    within the interval of nine in ten.
    """

    days: Sequence[int]
    loss_error: Array
    plain_error: Array
    mc_error: Array
    plain_mc_error: Array
    loss_inside: NDArray[np.bool_]
    mc_inside: NDArray[np.bool_]
    diffusion_error: Array
    diffusion_inside: NDArray[np.bool_]


def stage(known: Sequence[Known], days: Sequence[int], faults: Faults | None = None) -> Stage:
    """Weigh every stack on these days, learn, and look a week ahead."""
    rng = np.random.default_rng(len(days))
    now = max(days, default=0)
    cases = [weighed(k, days, rng, faults or Faults()) if days else k.case for k in known]
    believed = believed_of(known, cases, now) if days else {}
    taught = [
        c.taught(wood_of(believed[c.stack.id])) if c.stack.id in believed else c for c in cases
    ]
    hours = 24 * now + WEEK_H
    unsure = [Unsure(_short(c, hours), 24 * now) for c in taught]
    ahead = futures(unsure, PRIORS)
    plain = futures([Unsure(_short(k.case, hours), 0) for k in known], PRIORS)
    rows = [
        _row(k, a, p, believed.get(k.case.stack.id), now)
        for k, a, p in zip(known, ahead, plain, strict=True)
    ]
    return Stage(days, *(np.array(column) for column in zip(*rows, strict=True)))


def believed_of(known: Sequence[Known], cases: Sequence[Case], now: int) -> dict[str, Believed]:
    """Learn of each yard by itself."""
    measured = []
    for case in cases:
        boards = tuple(
            usable(b, case) for b in sample_boards(case.stack.events, instant(case, now))
        )
        measured.append((ask(case, boards), boards))
    simulated = simulate_nodes([asked for asked, _ in measured], PRIORS)
    pupils = [
        Pupil(case, case.stack.setup.site, Measured(asked, boards, told))
        for case, (asked, boards), told in zip(cases, measured, simulated, strict=True)
    ]
    yards = {k.yard for k in known}
    found: dict[str, Believed] = {}
    for yard in yards:
        mine = [p for p, k in zip(pupils, known, strict=True) if k.yard == yard]
        found |= learn(mine, (), PRIORS)
    return found


def _short(case: Case, hours: int) -> Case:
    from dataclasses import replace

    return replace(
        case, drivers=case.drivers.hours(slice(hours)), weather=case.weather.iloc[:hours]
    )


def _row(known, ahead, plain, believed, now):
    end = 24 * now + WEEK_H
    truth = 100.0 * (known.mc[24 * now] - known.mc[end]), 100.0 * known.mc[end]
    loss, mc = ahead.at(24 * now) - ahead.at(end), ahead.at(end)
    usual_loss, usual = plain.at(24 * now) - plain.at(end), plain.at(end)

    def inside(values, true):
        low, high = interval(values)
        return low <= true <= high

    off = believed.diffusion.mean - known.ln_diffusion if believed else -known.ln_diffusion
    sd = believed.diffusion.sd if believed else PRIORS.diffusion_sd
    return (
        loss.mean() - truth[0],
        usual_loss.mean() - truth[0],
        mc.mean() - truth[1],
        usual.mean() - truth[1],
        inside(loss, truth[0]),
        inside(mc, truth[1]),
        off,
        abs(off) <= 1.645 * sd,
    )
