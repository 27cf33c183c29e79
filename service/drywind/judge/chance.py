"""How likely a stack is to come over its limit, in weather that could well come of a forecast.

Every stack is dried through every member of the weather side by side, from the state it has now,
and judged in each as in the forecast itself.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from drywind.climate.stack_air import Drivers
from drywind.judge.hazards import pace
from drywind.judge.runs import Case, Run, View
from drywind.wood.drying import Boards, State, simulate


def chances(views: Sequence[View], ahead: int) -> list[float | None]:
    """Return the share of members in which each stack comes over its limit; None if unknown.

    Parameters
    ----------
    views
        Each with its run dried up to the hour from which the members are to act on it.
    ahead
        As in `drywind.judge.hazards.pace`.
    """
    which = [i for i, view in enumerate(views) for _ in view.grounds.could_come]
    if not which:
        return [None] * len(views)
    ahead_of = [_ahead(view, tables) for view in views for tables in view.grounds.could_come]
    repeated = [views[i].run for i in which]
    course = simulate(
        Boards.beside([run.case.boards for run in repeated]),
        Drivers.beside([drivers for drivers, _ in ahead_of]),
        State.beside([run.state for run in repeated]),
    )
    severities: list[list[float]] = [[] for _ in views]
    for i, run in enumerate(repeated):
        dried = run.onward(course, i, run.case.hours)
        seen = replace(dried, case=_in_weather(run, ahead_of[i][1]))
        view = views[which[i]]
        judged = pace(seen, view.hour, ahead, view.limit.value)
        if judged.worst is not None:
            severities[which[i]].append(judged.worst.severity)
    return [float(np.mean([s >= 1.0 for s in found])) if found else None for found in severities]


def _ahead(view: View, tables: Mapping[str, pd.DataFrame]) -> tuple[Drivers, pd.DataFrame]:
    case, hour = view.run.case, view.run.hour
    setup = case.stack.setup_at(view.now)
    grounds = replace(view.grounds, tables=tables)
    return grounds.air(setup, case.time_of(hour), case.time_of(case.hours))


def _in_weather(run: Run, ahead: pd.DataFrame) -> Case:
    """Return the stack's case with other weather ahead, which says what is unknown of it."""
    return replace(run.case, weather=pd.concat([run.case.weather.iloc[: run.hour], ahead]))
