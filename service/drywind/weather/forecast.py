"""A forecast, as one service issued it."""

from dataclasses import dataclass, field
from datetime import datetime

import pandas as pd


@dataclass(frozen=True, eq=False)
class Forecast:
    """One forecast, as one service issued it.

    Attributes
    ----------
    table
        The canonical hourly table, from some hours before `issued_at` to the last hour whose
        temperature, humidity and wind are all known.
    issued_at
        When the service issued it, by the answer's own word.
    source
        Short name of the service.
    dropped
        How many values were thrown away, by column: impossible ones, ones that cannot be read,
        and all runs of a layer whose unit is unknown.
    hourly_until
        The last hour up to which the service gave each hour by itself. Later ones lie between
        instants hours apart: an outlook, whose extremes are estimates. None where it gave all.
    """

    table: pd.DataFrame
    issued_at: datetime
    source: str
    dropped: dict[str, int] = field(default_factory=dict)
    hourly_until: datetime | None = None
