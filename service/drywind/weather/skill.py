"""The score kept of forecasts: how far off they were by lead time, and what that teaches."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from drywind.weather.spread import LEAD_EDGES_H, VARIABLES, ErrorModel, to_scale

Floats = NDArray[np.float64]

PRIOR_DAYS = 60
"""A yard's own errors count for half after so many days (assumption: two months; fewer would let
one odd month rule, and a season of drying is 100-200 days)."""

FLOOR = 0.5
"""No error is believed to be smaller than this share of the model's own at the shortest lead
(assumption, 0.3-0.8): the same service's later word about an hour is no measurement at the yard,
and agrees with the forecast too well."""


def scores(forecasts: pd.DataFrame, came: pd.DataFrame) -> pd.DataFrame:
    """Return how far forecasts were off, by variable and lead time.

    Parameters
    ----------
    forecasts
        One row for each hour and issue: `time_utc`, `issued_at` and the columns of `VARIABLES`.
    came
        The canonical hourly table of what came. An hour counts only if issued no earlier than it
        began: a forecast must not be held to a later forecast, nor to itself.

    Returns
    -------
    pandas.DataFrame
        Indexed by `variable` and `from_h`, the lead time in hours after which a bin of
        `LEAD_EDGES_H` begins (its end belongs to it); a bin without a pair of known values is
        left out. Errors are forecast minus what came, in the units of the columns: their mean
        `bias`, mean size `mae` and root mean square `rmse`; `scaled_rmse` is on the scale of
        `ErrorModel`. `count` is the number of pairs, `days` of the UTC days they fall on.
    """
    pairs = forecasts.merge(
        came[[*VARIABLES, "issued_at"]],
        left_on="time_utc",
        right_index=True,
        suffixes=("", "_came"),
    )
    pairs = pairs[pairs["issued_at_came"] >= pairs["time_utc"]]
    lead_h = (pairs["time_utc"] - pairs["issued_at"]).dt.total_seconds() / 3600.0
    bins = pd.cut(lead_h, list(LEAD_EDGES_H), labels=list(LEAD_EDGES_H[:-1]))
    by_variable = {
        name: _by_bin(
            pd.DataFrame(
                {
                    "from_h": bins.astype("Int64"),
                    "day": pairs["time_utc"].dt.floor("D"),
                    "error": pairs[name] - pairs[f"{name}_came"],
                    "scaled": to_scale(name, pairs[name]) - to_scale(name, pairs[f"{name}_came"]),
                }
            ).dropna()
        )
        for name in VARIABLES
    }
    return pd.concat(by_variable, names=["variable"])


def _by_bin(errors: pd.DataFrame) -> pd.DataFrame:
    grouped = errors.assign(
        size=errors["error"].abs(), square=errors["error"] ** 2, scaled=errors["scaled"] ** 2
    ).groupby("from_h")
    return pd.DataFrame(
        {
            "bias": grouped["error"].mean(),
            "mae": grouped["size"].mean(),
            "rmse": np.sqrt(grouped["square"].mean()),
            "scaled_rmse": np.sqrt(grouped["scaled"].mean()),
            "count": grouped["error"].size(),
            "days": grouped["day"].nunique(),
        }
    )


def updated(model: ErrorModel, scored: pd.DataFrame) -> ErrorModel:
    """Return the model moved toward a yard's own errors, as far as there are days of them.

    The mean squares of both are averaged, the model's counting for `PRIOR_DAYS` and the yard's
    for its days; a bias so counts as error. Errors are never below `FLOOR`, and never shrink with
    lead time.

    Parameters
    ----------
    scored
        What `scores` returns; bins it lacks keep the model's errors.
    """
    return ErrorModel(
        {name: _moved(model.sd[name], scored, name) for name in VARIABLES},
        model.memory_h,
        model.temp_rh,
    )


def _moved(sd: tuple[float, ...], scored: pd.DataFrame, name: str) -> tuple[float, ...]:
    wanted = pd.MultiIndex.from_product([[name], LEAD_EDGES_H[:-1]])
    seen = scored[["scaled_rmse", "days"]].reindex(wanted).fillna(0.0)
    days, rmse = seen["days"].to_numpy(float), seen["scaled_rmse"].to_numpy(float)
    squares = (PRIOR_DAYS * np.square(sd) + days * rmse**2) / (PRIOR_DAYS + days)
    floored = np.maximum(np.sqrt(squares), FLOOR * sd[0])
    return tuple(float(value) for value in np.maximum.accumulate(floored))


def crps(members: ArrayLike, came: ArrayLike) -> Floats:
    """Return the continuous ranked probability score of ensembles, in the unit of the values.

    0 is best; of a single member it is the absolute error.

    Source: T. Gneiting and A. E. Raftery, "Strictly proper scoring rules, prediction, and
    estimation", Journal of the American Statistical Association 102 (2007) 359-378, eq. 21 (from
    memory): E|X - y| - E|X - X'| / 2 with X, X' drawn from the members.

    Parameters
    ----------
    members
        Shape (..., members); a NaN makes its score NaN.
    came
        Shape (...).
    """
    ranked = np.sort(np.asarray(members, np.float64), axis=-1)
    count = ranked.shape[-1]
    off = np.abs(ranked - np.asarray(came, np.float64)[..., None]).mean(axis=-1)
    # The sum of |x - x'| over all pairs, from the ranks.
    apart = (ranked * (2 * np.arange(count) - count + 1)).sum(axis=-1) / count**2
    return np.asarray(off - apart, np.float64)


def brier(probability: ArrayLike, happened: ArrayLike) -> Floats:
    """Return the Brier score of each forecast probability (0-1): 0 is best, 1 worst.

    Source: G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly
    Weather Review 78 (1950) 1-3, in the half form common now (from memory).

    Parameters
    ----------
    happened
        1 where the event came, 0 where not, NaN where nobody knows.
    """
    return np.square(np.asarray(probability, np.float64) - np.asarray(happened, np.float64))
