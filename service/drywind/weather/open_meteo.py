"""Open-Meteo: the forecast, its ensembles and the past of any place, with sun and gusts.

Its own hosts are free for non-commercial use alone, or take a customer's key; its server is open
and may be one's own. A yard that sells lumber is not non-commercial by its terms, so nothing is
asked here but by the user's word, which is `Access`. Hosts and parameters: the service's
documentation (open-meteo.com/en/docs) and its server's source (github.com/open-meteo/open-meteo),
both seen in copies of 2026. `open_meteo_answer` reads what comes back.
"""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Literal
from urllib.parse import urlencode

from drywind.weather.forecast import Forecast
from drywind.weather.http import Getter
from drywind.weather.open_meteo_answer import (
    LAYERS,
    Ensemble,
    parse_ensemble,
    parse_forecast,
    parse_past,
)

ATTRIBUTION = (
    "Weather data by Open-Meteo.com (https://open-meteo.com/), CC BY 4.0 "
    "(https://creativecommons.org/licenses/by/4.0/), put into our own tables"
)
"""What its license wants shown beside anything made of its data."""

_HOSTS = {"forecast": "api", "ensemble": "ensemble-api", "archive": "archive-api"}

_FORECAST_DAYS = 16
_ENSEMBLE_DAYS = 14
"""A request of 15 days or more counts for more in the service's limits."""


class Kind(StrEnum):
    """By what right the service is asked."""

    NONCOMMERCIAL = "noncommercial"
    CUSTOMER_KEY = "customer_key"
    SELF_HOSTED = "self_hosted"


@dataclass(frozen=True)
class Access:
    """Where the service may be asked, by the user's word.

    Attributes
    ----------
    kind
        By what right.
    base_url
        Where one's own server is; the service's own hosts need none.
    api_key
        A customer's key; one's own server may want one too. The free hosts take none: with a key
        they send every request on to the customers' hosts.

    Raises
    ------
    ValueError
        If these do not belong together.
    """

    kind: Kind
    base_url: str | None = None
    api_key: str | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        if bool(self.base_url) != (self.kind is Kind.SELF_HOSTED):
            raise ValueError("one's own Open-Meteo server needs a base URL, and nothing else does")
        if self.api_key and self.kind is Kind.NONCOMMERCIAL:
            raise ValueError("Open-Meteo's free hosts take no key")
        if not self.api_key and self.kind is Kind.CUSTOMER_KEY:
            raise ValueError("Open-Meteo's hosts for customers need a key")

    def url(self, what: Literal["forecast", "ensemble", "archive"], **query: str) -> str:
        """Return the whole address of a request; it holds the key, so it is not for showing."""
        prefix = "customer-" if self.kind is Kind.CUSTOMER_KEY else ""
        base = self.base_url or f"https://{prefix}{_HOSTS[what]}.open-meteo.com"
        if self.api_key:
            query["apikey"] = self.api_key
        return f"{base.rstrip('/')}/v1/{what}?{urlencode(query, safe=',')}"


def fetch_forecast(
    getter: Getter, access: Access, lat: float, lon: float, now: datetime, past_days: int = 2
) -> Forecast:
    """Get the forecast of a place for 16 days, and the hours of some days before.

    Parameters
    ----------
    getter
        Does the HTTP.
    access
        The user's word that the service may be asked.
    lat, lon
        Degrees.
    now
        Stands for the time of issue, which the service does not tell: a run that is late, as some
        are by 12 hours, looks fresh.
    past_days
        Whole UTC days before today, 0-92.

    Raises
    ------
    WeatherError
        If the service cannot be had or its answer cannot be used.
    """
    url = access.url(
        "forecast",
        **_wanted(lat, lon),
        forecast_days=str(_FORECAST_DAYS),
        past_days=str(past_days),
    )
    body, _ = getter.get_json(url)
    return parse_forecast(body, lat, lon, now)


def fetch_ensemble(
    getter: Getter, access: Access, lat: float, lon: float, model: str, now: datetime
) -> Ensemble:
    """Get an ensemble for 14 days from midnight UTC.

    Parameters and errors are those of `fetch_forecast`; `model` is the service's name of one
    ensemble, such as ``ncep_gefs_seamless`` or ``ecmwf_ifs025_ensemble``.
    """
    url = access.url(
        "ensemble", **_wanted(lat, lon), models=model, forecast_days=str(_ENSEMBLE_DAYS)
    )
    body, _ = getter.get_json(url)
    return parse_ensemble(body, lat, lon, now)


def fetch_past(
    getter: Getter,
    access: Access,
    place: tuple[float, float],
    start: date,
    end: date,
    now: datetime,
) -> Forecast:
    """Get past weather from the archive of reanalyses, which reaches from 1940 to some days ago.

    Parameters and errors are those of `fetch_forecast`. `place` is latitude and longitude; `start`
    and `end` are the first and the last UTC day. Sun, rain and gusts of the last hour of all are
    unknown, as the service stamps them with the hour after it. Eight years fit one answer.
    """
    url = access.url(
        "archive",
        **_wanted(*place),
        start_date=start.isoformat(),
        end_date=end.isoformat(),
    )
    body, _ = getter.get_json(url)
    return parse_past(body, *place, now)


def _wanted(lat: float, lon: float) -> dict[str, str]:
    return {
        "latitude": f"{lat:.4f}",
        "longitude": f"{lon:.4f}",
        "hourly": ",".join(layer.name for layer in LAYERS.values()),
        "wind_speed_unit": "ms",
        "timeformat": "unixtime",
        "timezone": "GMT",
        "cell_selection": "land",
    }
