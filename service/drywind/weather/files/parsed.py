"""What a reader of one kind of file hands over."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import pandas as pd


class Place(NamedTuple):
    """Where weather was measured: degrees, north and east positive, and meters above the sea."""

    lat: float
    lon: float
    altitude_m: float


@dataclass(frozen=True, eq=False)
class Parsed:
    """The hours of a file as it gives them, in our units.

    Attributes
    ----------
    hours
        Some or all of the canonical columns, by start of the hour in UTC, each hour once.
    place
        Where, if the file says so.
    dropped
        How many values the reader itself threw away, by name.
    """

    hours: pd.DataFrame
    place: Place | None = None
    dropped: Mapping[str, int] = field(default_factory=dict)
