"""Weathers that could well come of a forecast: a real ensemble if there is one, else made ones."""

import io
from collections.abc import Sequence
from datetime import datetime
from itertools import cycle, islice

import numpy as np
import pandas as pd

from drywind.weather.hour import VALUES
from drywind.weather.spread import ErrorModel, members, widened
from drywind.yard import Site

OWN = "open_meteo"
"""The source whose ensemble goes with its forecast; another one's would pull the weather away."""


def packed(tables: Sequence[pd.DataFrame]) -> bytes:
    """Return an ensemble's tables, all of the same hours, as bytes to keep."""
    buffer = io.BytesIO()
    np.savez_compressed(
        buffer,
        hours=tables[0].index.as_unit("s").asi8,  # type: ignore[attr-defined]
        values=np.stack([t[list(VALUES)].to_numpy(np.float32) for t in tables]),
    )
    return buffer.getvalue()


def unpacked(blob: bytes) -> list[pd.DataFrame]:
    """Return the tables that `packed` was given, to single precision."""
    with np.load(io.BytesIO(blob), allow_pickle=False) as arrays:
        index = pd.DatetimeIndex(pd.to_datetime(arrays["hours"], unit="s", utc=True))
        return [
            pd.DataFrame(values.astype(float), index=index, columns=list(VALUES))
            for values in arrays["values"]
        ]


def likely(
    ahead: pd.DataFrame,
    ensemble: Sequence[pd.DataFrame],
    site: Site,
    now: datetime,
    model: ErrorModel,
) -> list[pd.DataFrame]:
    """Return an ensemble's members over the hours ahead, spread as wide as the model.

    The first is the forecast itself. What a member does not know the forecast tells.
    """
    tables = [ahead]
    for member in ensemble[1:]:
        told = member.reindex(ahead.index)[list(VALUES)]
        tables.append(ahead.assign(**{name: told[name].fillna(ahead[name]) for name in VALUES}))
    return widened(tables, site, now, model)


def weathers(
    ahead: pd.DataFrame,
    ensemble: Sequence[pd.DataFrame],
    site: Site,
    now: datetime,
    count: int,
    model: ErrorModel,
) -> list[pd.DataFrame]:
    """Return so many weathers; see `drywind.weather.spread.members` where there is no ensemble."""
    if not ensemble:
        return members(ahead, site, now, count, model)
    return list(islice(cycle(likely(ahead, ensemble, site, now, model)), count))
