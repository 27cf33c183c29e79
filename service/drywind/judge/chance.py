"""How likely a stack is to come over its limit, in weather that could well come of a forecast.

Every stack is dried through every member of the weather side by side, from the state it has now,
and judged in each as in the forecast itself.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd

from drywind.climate.stack_air import Drivers
from drywind.judge.hazards import pace
from drywind.judge.runs import Case, Grounds, Run
from drywind.wood.drying import Boards, State, simulate

MEMBERS = 31
"""Weathers tried for how likely harm is: chances come in steps of about 3 %."""


def chances(
    runs: Sequence[Run],
    limits: Sequence[float],
    grounds: Grounds,
    now: datetime,
    ahead: int,
) -> list[float | None]:
    """Return the share of members in which each stack comes over its limit; None if unknown.

    Parameters
    ----------
    runs
        Each stack as it has dried up to now, with the hours gone by in it.
    limits
        Safe losses, one for each.
    ahead
        As in `drywind.judge.hazards.pace`.
    """
    members = grounds.members() if runs else ()
    if not members:
        return [None] * len(runs)
    ahead_of = [
        _ahead(run, replace(grounds, tables=tables), now) for tables in members for run in runs
    ]
    repeated = list(runs) * len(members)
    course = simulate(
        Boards.beside([run.case.boards for run in repeated]),
        Drivers.beside([drivers for drivers, _ in ahead_of]),
        State.beside([run.state for run in repeated]),
    )
    severities: list[list[float]] = [[] for _ in runs]
    for i, run in enumerate(repeated):
        dried = run.onward(course, i, run.case.hours)
        seen = replace(dried, case=_in_weather(run, ahead_of[i][1]))
        which = i % len(runs)
        judged = pace(seen, run.case.hour_of(now), ahead, limits[which])
        if judged.worst is not None:
            severities[which].append(judged.worst.severity)
    return [float(np.mean([s >= 1.0 for s in found])) if found else None for found in severities]


def _ahead(run: Run, grounds: Grounds, now: datetime) -> tuple[Drivers, pd.DataFrame]:
    case = run.case
    setup = case.stack.setup_at(now)
    return grounds.air(setup, case.time_of(run.hour), case.time_of(case.hours))


def _in_weather(run: Run, ahead: pd.DataFrame) -> Case:
    """Return the stack's case with other weather ahead, which says what is unknown of it."""
    return replace(run.case, weather=pd.concat([run.case.weather.iloc[: run.hour], ahead]))
