"""Logs that wait for the saw, and boards that wait for their stickers: stain counted from felling.

Assumptions: logs and boards are as warm as the air, which a log follows only slowly, and shade
does not help; boards not yet on stickers stay as wet as the log was. Sugar stain runs whatever is
done to logs: sprinkling keeps out fungi, not oxidation. Blue stain enters a log by its ends and
where bark is off (`drywind.wood.stain`), so none is counted on logs that are end-coated or
sprinkled, bark off or not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import nan
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from drywind.clock import floor_hour
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.wood.insects import open_hours
from drywind.wood.species import find_species
from drywind.wood.stain import BEARS_DAYS, ENZYMES_WAKE_C, blue_dose, enzymatic_dose
from drywind.yard import LogLot, Storage

Array = NDArray[np.float64]

HOUR = timedelta(hours=1)

WET_MC, SHUT_MC = 1.0, 0.0
"""Green sapwood, and a log no fungus can enter: beyond every threshold of the clocks."""

SAW_TO_STICKERS = timedelta(hours=12)
"""In warm weather boards are on stickers no later than this after the saw (FOR-128, Hardwood Dry
Kiln Operation, p. 68, seen). Assumption: so long before stain sets in logs are to be sawn."""

OLD_AFTER_DAYS = 21.0
"""Logs that lay in warmth for so many days count as old: "weeks" in the text (`wood.limits`;
assumption, believable 14 to 42)."""

WORST = 1.1
"""No severity is higher: wood that stains is stained, and a dose that grows as hours pass is no
news (assumption)."""


@dataclass(frozen=True)
class Course:
    """How far one stain of a lot has gone, by the hour since felling.

    Attributes
    ----------
    dose_days
        Shape (hours + 1,), in the unit of `sign`; the least it can be.
    bears_days
        What the wood bears: stain is expected from there on.
    unknown_hours
        How many hours might have added something and are unknown.
    """

    sign: Sign
    dose_days: Array
    bears_days: float
    unknown_hours: int

    @property
    def share(self) -> Array:
        """The dose as a share of what the wood bears, shape (hours + 1,)."""
        return self.dose_days / self.bears_days

    def is_done(self, hour: int) -> bool:
        """Return whether the stain is expected already, and so past help."""
        return bool(self.share[hour] >= 1.0)

    def sets_in(self, hour: int) -> int | None:
        """Return the hour, from `hour` on, in which the stain is first expected."""
        ahead = np.flatnonzero(self.share[hour + 1 :] >= 1.0)
        return None if self.is_done(hour) or not len(ahead) else hour + int(ahead[0])


def courses(lot: LogLot, table: pd.DataFrame, end: datetime) -> list[Course]:
    """Return how each stain known of a lot's wood goes from felling to `end`.

    Parameters
    ----------
    table
        The hourly weather of its site; what it lacks is unknown.
    """
    known = find_species(lot.species).stain
    temp_c, found = temperatures(lot, table, end), []
    if "enzymatic" in known:
        dose = enzymatic_dose(temp_c, WET_MC)
        found.append((Sign.SUGAR_STAIN, dose, BEARS_DAYS["enzymatic"][known["enzymatic"]]))
    if "blue" in known:
        dose = blue_dose(temp_c, np.where(_is_open(lot, len(temp_c)), WET_MC, SHUT_MC))
        found.append((Sign.BLUE_STAIN, dose, BEARS_DAYS["blue"][known["blue"]]))
    return [
        Course(
            sign,
            np.concatenate([[0.0], dose.known]),
            bears,
            int(dose.unknown_hours[-1]) if len(temp_c) else 0,
        )
        for sign, dose, bears in found
    ]


def waiting(lot: LogLot, table: pd.DataFrame, now: datetime, ahead_hours: int) -> Finding:
    """Return whether a lot that waits stains in the hours ahead, and until when sawing saves it.

    Where nothing is known of its wood, nothing is complete. A stain that sets in ahead is told as
    the hours from then on. One expected already is past help: its severity stays 1, so that it is
    never cleared, and `first` is None, so that nobody is told (see `is_done`).

    Parameters
    ----------
    lot
        One that waits at `now`.
    table
        The hourly weather of its site, from felling on.
    """
    end = floor_hour(now) + ahead_hours * HOUR
    found, hour = courses(lot, table, end), hour_of(lot, now)
    if not found:
        sign = Sign.SUGAR_STAIN
        return Finding(lot.id, lot.site, Hazard.WAITING, sign, 0.0, nan, 0.0, complete=False)
    at, course = _first(found, hour) or (None, max(found, key=lambda c: float(c.share[-1])))
    first = None if at is None else _time_of(lot, at)
    share = float(course.share[-1])
    return Finding(
        subject=lot.id,
        site=lot.site,
        hazard=Hazard.WAITING,
        sign=course.sign,
        value=float(course.dose_days[-1]),
        limit=course.bears_days,
        severity=min(share, 1.0 if first is None else WORST),
        first=first,
        start=first,
        end=None if first is None else end,
        act_by=None if first is None else _act_by(lot, first, now),
        helps=first is not None,
        complete=not any(c.unknown_hours for c in found),
    )


def is_done(lot: LogLot, table: pd.DataFrame, now: datetime) -> bool:
    """Return whether a stain of a lot is expected already, which sawing no longer helps."""
    return any(c.is_done(hour_of(lot, now)) for c in courses(lot, table, now))


def saw_by(lot: LogLot, table: pd.DataFrame, now: datetime) -> datetime | None:
    """Return by when to saw a lot, or to sticker its boards, before a stain sets in.

    None where none does within the forecast, or all that do have done so already.
    """
    found = _first(courses(lot, table, known_until(table, now)), hour_of(lot, now))
    return None if found is None else _act_by(lot, _time_of(lot, found[0]), now)


def known_until(table: pd.DataFrame, now: datetime) -> datetime:
    """Return the end of the hours whose temperature is known; the present one if none is ahead."""
    known = pd.DatetimeIndex(table.index[table["temp_c"].notna()])
    return max([floor_hour(now), *(at.to_pydatetime() + HOUR for at in known[-1:])])


def insect_hours(lot: LogLot, table: pd.DataFrame, now: datetime) -> int | None:
    """Return how many hours so far were open to ambrosia beetles; None if they spare the wood."""
    if "ambrosia" not in find_species(lot.species).insects:
        return None
    hours = open_hours("ambrosia", temperatures(lot, table, now), WET_MC).known
    return int(hours[-1]) if len(hours) else 0


def temperatures(lot: LogLot, table: pd.DataFrame, end: datetime) -> Array:
    """Return the temperature of each whole hour from felling to `end`, °C; NaN is unknown."""
    hours = pd.date_range(
        floor_hour(lot.felled_at), floor_hour(end), freq="h", inclusive="left", tz="UTC"
    )
    return table["temp_c"].reindex(hours).to_numpy(dtype=np.float64)


class Waited(NamedTuple):
    """How far stains and warmth have come on a lot, each in days of the unit of its clock."""

    enzymatic: Array
    blue: Array
    warm: Array


def waited(lot: LogLot, table: pd.DataFrame, now: datetime, ahead_c: Array) -> Waited:
    """Return how far a lot has come at `now`, and by the hour from then on, in many weathers.

    Parameters
    ----------
    table
        The hourly weather of its site, from felling on.
    ahead_c
        Temperature of the hours from that of `now` on, shape (hours, weathers).

    Returns
    -------
    Waited
        Shapes (hours + 1, weathers). Days are warm from the temperature on at which enzymes wake;
        logs under sprinklers have none.
    """
    past_c = temperatures(lot, table, now)
    temp_c = np.concatenate([np.repeat(past_c[:, None], ahead_c.shape[1], axis=1), ahead_c])
    is_open = _is_open(lot, len(temp_c))[:, None]
    warm = (temp_c >= ENZYMES_WAKE_C) & (lot.stored is not Storage.SPRINKLED)
    doses = (
        enzymatic_dose(temp_c, WET_MC).known,
        blue_dose(temp_c, np.where(is_open, WET_MC, SHUT_MC)).known,
        np.cumsum(warm, axis=0) / 24.0,
    )
    none = np.zeros((1, ahead_c.shape[1]))
    return Waited(*(np.concatenate([none, dose])[len(past_c) :] for dose in doses))


def hour_of(lot: LogLot, instant: datetime) -> int:
    """Return the hour since felling that `instant` lies in."""
    return (floor_hour(instant) - floor_hour(lot.felled_at)) // HOUR


def _time_of(lot: LogLot, hour: int) -> datetime:
    return floor_hour(lot.felled_at) + hour * HOUR


def _is_open(lot: LogLot, hours: int) -> NDArray[np.bool_]:
    """Say in which hours since felling blue stain gets at a lot's wood."""
    log_is_open = not lot.end_coated and lot.stored is not Storage.SPRINKLED
    sawn = hours if lot.sawn_at is None else hour_of(lot, lot.sawn_at)
    return log_is_open | (np.arange(hours) >= sawn)


def _first(found: Sequence[Course], hour: int) -> tuple[int, Course] | None:
    """Return when, from `hour` on, a stain first sets in, and which; None if none does."""
    ahead = [(at, course) for course in found if (at := course.sets_in(hour)) is not None]
    return min(ahead, key=lambda pair: pair[0], default=None)


def _act_by(lot: LogLot, first: datetime, now: datetime) -> datetime:
    """Return by when to saw logs, or to have boards on stickers, lest stain sets in."""
    return max(now, first if lot.is_sawn_at(now) else first - SAW_TO_STICKERS)
