"""The one canonical hourly table, as a pandas frame, and what keeps it honest.

The index `time_utc` is unique, sorted, in UTC, on the whole hour, and names the start of the hour;
the columns are those of `WeatherHour`. Missing is NaN, and NaN stays unknown.
"""

from collections.abc import Sequence
from datetime import datetime

import pandas as pd

from drywind.weather.hour import BOUNDS, NEEDED, VALUES, WeatherHour

__all__ = ["BOUNDS", "from_hours", "hourly", "known_hours", "to_hours", "within_bounds"]

_CLIPPED = {"rh": (0.0, 1.05), "ghi_wm2": (-5.0, 1400.0)}
"""Where a value just outside its bounds is rounding, not a fault, and is moved onto the bound."""


def from_hours(hours: Sequence[WeatherHour]) -> pd.DataFrame:
    """Build the table; of several records of one hour the one issued last stands.

    Raises
    ------
    ValueError
        If a record does not start on a whole hour.
    """
    frame = pd.DataFrame(hours, columns=list(WeatherHour._fields))
    frame = frame.astype(dict.fromkeys(VALUES, "float64"))
    for name in ("time_utc", "issued_at"):
        frame[name] = pd.to_datetime(frame[name], utc=True).dt.as_unit("us")
    if (frame["time_utc"] != frame["time_utc"].dt.floor("h")).any():
        raise ValueError("a weather hour must start on the whole hour")
    newest = frame.sort_values(["time_utc", "issued_at"]).drop_duplicates("time_utc", keep="last")
    return newest.set_index("time_utc")


def to_hours(table: pd.DataFrame) -> list[WeatherHour]:
    """Return the table's records; hours no service gave (see `hourly`) are left out."""
    given = table.loc[table["issued_at"].notna(), [*VALUES, "source", "issued_at"]]
    return [
        WeatherHour._make([row[0].to_pydatetime(), *row[1:-1], row[-1].to_pydatetime()])
        for row in given.itertuples(name=None)
    ]


def known_hours(table: pd.DataFrame) -> pd.Index:
    """Return the hours of which all of `NEEDED` is told."""
    return table.index[table[list(NEEDED)].notna().all(axis=1)]


def within_bounds(table: pd.DataFrame) -> tuple[pd.DataFrame, dict[str, int]]:
    """Make every value that cannot be (see `BOUNDS`) unknown.

    Returns
    -------
    table
        A copy with NaN in place of impossible values.
    dropped
        How many values were so lost, by column; columns that lost none are left out.
    """
    kept = table.copy()
    dropped = {}
    for name, (low, high) in BOUNDS.items():
        bad = table[name].notna() & ~table[name].between(*_CLIPPED.get(name, (low, high)))
        kept[name] = table[name].mask(bad).clip(low, high)
        if bad.any():
            dropped[name] = int(bad.sum())
    return kept, dropped


def hourly(
    table: pd.DataFrame, start: datetime, end: datetime, max_gap_hours: int = 3
) -> pd.DataFrame:
    """Return every hour of [start, end), with short gaps bridged and marked.

    Parameters
    ----------
    table
        The canonical table; hours outside the span still count as the banks of a gap.
    start, end
        Aware instants; the hours that start within them are returned.
    max_gap_hours
        The longest run of unknown hours that is bridged.

    Returns
    -------
    pandas.DataFrame
        The canonical columns plus `filled`, true where temperature, humidity or wind speed was
        interpolated linearly in time. Wind direction takes the nearest known hour. Sun, cloud,
        gust and rain are never bridged, and nothing is carried past the first or last known hour.
        An hour no service gave has no `source` and no `issued_at`.
    """
    span = pd.date_range(
        pd.Timestamp(start).ceil("h"), end, freq="h", inclusive="left", name="time_utc"
    )
    full = table.reindex(table.index.union(span)).asfreq("h")
    filled = pd.Series(data=False, index=full.index)
    for name in NEEDED:
        short, _ = _short_gaps(full[name], max_gap_hours)
        full[name] = full[name].mask(short, full[name].interpolate())
        filled |= short
    short, early = _short_gaps(full["wind_dir_deg"], max_gap_hours)
    nearest = full["wind_dir_deg"].ffill().where(early, full["wind_dir_deg"].bfill())
    full["wind_dir_deg"] = full["wind_dir_deg"].mask(short, nearest)
    return full.assign(filled=filled).reindex(span)


def _short_gaps(values: pd.Series, max_gap_hours: int) -> tuple[pd.Series, pd.Series]:
    """Say which hours lie in a gap short enough to bridge, and which are nearer its near bank."""
    place = pd.Series(range(len(values)), index=values.index)
    before = place.where(values.notna()).ffill()
    after = place.where(values.notna()).bfill()
    short = values.isna() & (after - before <= max_gap_hours + 1)
    return short, place - before <= after - place
