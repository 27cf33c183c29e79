"""How a site stands for weather."""

from dataclasses import dataclass, field
from datetime import datetime

from drywind.weather.nws_alerts import Notice


@dataclass(frozen=True)
class SiteWeather:
    """How a site stands for weather.

    Attributes
    ----------
    issued_at, source
        Of the forecast that is believed of the hours ahead; None without any.
    asked_since
        When a service was first asked; None if none ever was.
    notices
        What the US service warns of there that matters to stacks.
    error
        What went wrong with each service asked in vain, in one line; None if nothing did.
    """

    site: str
    issued_at: datetime | None
    error: str | None = None
    source: str | None = None
    notices: tuple[Notice, ...] = ()
    asked_since: datetime | None = field(default=None, compare=False)
