"""What the owner decided, checked: the records the rest of the program reads."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, SecretStr

from drywind.errors import UsageError
from drywind.units import Units
from drywind.yard import Site


class Channel(StrEnum):
    """How long a message to a contact may be."""

    TEXT = "text"
    EMAIL = "email"


class Topic(StrEnum):
    """What a contact wants to hear."""

    WARNINGS = "warnings"
    ALL_CLEAR = "all_clear"
    DIGEST = "digest"
    """Each morning how the stacks stand, where there is anything to tell."""
    OUTLOOK = "outlook"
    """Each week the weather ahead."""


HEAR: Mapping[Channel, frozenset[Topic]] = MappingProxyType(
    {
        Channel.TEXT: frozenset({Topic.WARNINGS, Topic.ALL_CLEAR}),
        Channel.EMAIL: frozenset(Topic),
    }
)
"""What contacts hear who do not say."""


class Weekday(StrEnum):
    """A day of the week, in the order of `datetime.weekday`."""

    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


class Service(StrEnum):
    """Who forecasts."""

    NWS = "nws"
    MET_NORWAY = "met_norway"
    OPEN_METEO = "open_meteo"


class OpenMeteo(StrEnum):
    """By what right Open-Meteo is asked: its free hosts are not for a business."""

    NONE = "none"
    NONCOMMERCIAL = "noncommercial"
    CUSTOMER_KEY = "customer_key"
    SELF_HOSTED = "self_hosted"


class Table(BaseModel):
    """A table of the file: every key is known, and no error repeats what was written.

    A key's description completes "allowed: ..." in its error line; a validator only says yes or no.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        hide_input_in_errors=True,
        allow_inf_nan=False,
        str_strip_whitespace=True,
        validate_default=True,
    )


def on_loopback(url: str) -> bool:
    """Return whether `url` is served by this very machine."""
    return urlsplit(url).hostname in {"127.0.0.1", "::1", "localhost"}


def _service(url: str) -> str:
    parts = urlsplit(url)
    safe = parts.scheme == "https" or (parts.scheme == "http" and on_loopback(url))
    if not (safe and parts.hostname) or re.search(r"[\s@?#]", url):
        raise ValueError
    return url.rstrip("/")


def _secret_address(value: SecretStr) -> SecretStr:
    parts = urlsplit(value.get_secret_value())
    safe = parts.scheme == "https" or on_loopback(value.get_secret_value())
    if not (safe and parts.scheme in {"http", "https"} and parts.hostname):
        raise ValueError
    return value


def _clock(value: object) -> time:
    if isinstance(value, time):
        return value
    if not re.fullmatch(r"\d\d:\d\d", str(value)):
        raise ValueError
    return time.fromisoformat(str(value))


def _each_once(services: tuple[Service, ...]) -> tuple[Service, ...]:
    if len(set(services)) < len(services):
        raise ValueError
    return services


class WeatherSettings(Table):
    """Where the forecast comes from, and who is named to that service as its user."""

    contact: str = Field(
        pattern=r"^[!-'*-~]+[@.][!-'*-~]+$",
        max_length=80,
        description="an e-mail address or web site at which the weather service can reach you",
    )
    nws_url: Annotated[str, AfterValidator(_service)] = Field(
        default="https://api.weather.gov",
        description="an https:// address without user, query or fragment; http:// on this machine",
    )
    met_norway_url: Annotated[str, AfterValidator(_service)] = Field(
        default="https://api.met.no/weatherapi",
        description="an https:// address without user, query or fragment; http:// on this machine",
    )
    open_meteo: OpenMeteo = Field(
        default=OpenMeteo.NONE, description="none, noncommercial, customer_key, self_hosted"
    )
    open_meteo_url: Annotated[str, AfterValidator(_service)] | None = Field(
        default=None,
        description="an https:// address without user, query or fragment; http:// on this machine",
    )
    open_meteo_key: SecretStr | None = Field(default=None, description="the key you were given")
    services: Annotated[tuple[Service, ...], AfterValidator(_each_once)] = Field(
        default=(), description="a list of nws, met_norway, open_meteo, each at most once"
    )
    refresh_minutes: int = Field(default=60, ge=15, le=360, description="15 to 360 minutes")


class Heartbeat(Table):
    """Addresses outside that are asked for after each pass, so that silence is seen there.

    They are as good as passwords to whoever watches there, so they are wrapped.
    """

    url: Annotated[SecretStr, AfterValidator(_secret_address)] | None = Field(
        default=None, description="an https:// address; http:// on this machine"
    )
    failure_url: Annotated[SecretStr, AfterValidator(_secret_address)] | None = Field(
        default=None, description="an https:// address; http:// on this machine"
    )


class Policy(Table):
    """When the program speaks, and limits the owner holds tighter than the published ones.

    Attributes
    ----------
    warn_hours_ahead
        How far ahead of its onset a hazard is first spoken of, in hours.
    repeat_hours
        How long after a warning the same one is sent again, in hours.
    all_clear_below
        Ratio of loss to limit under which a warning ends.
    worse_step
        Rise of that ratio after which a warning is sent again as worse.
    daily_texts
        How many messages a contact of kind text gets on a local day at most.
    digest_at
        Local time from which the digest of a morning is sent, and the outlook of a week.
    outlook_day
        Day on which the outlook of a week is sent.
    least_chance
        Share of the weathers that could well come that must be harmful for a warning to be sent.
    safe_loss
        Points of moisture content a 4/4 board may lose per day, by species key.
    """

    warn_hours_ahead: int = Field(default=48, ge=6, le=96, description="6 to 96 hours")
    repeat_hours: int = Field(default=72, ge=6, le=168, description="6 to 168 hours")
    all_clear_below: float = Field(default=0.85, ge=0.5, le=1, description="0.5 to 1")
    worse_step: float = Field(default=0.25, ge=0.05, le=2, description="0.05 to 2")
    daily_texts: int = Field(default=4, ge=1, le=20, description="1 to 20")
    digest_at: Annotated[time, BeforeValidator(_clock)] = Field(
        default=time(5, 30), description='a local time like "05:30"'
    )
    outlook_day: Weekday = Field(default=Weekday.SUNDAY, description="monday to sunday")
    least_chance: float = Field(default=0.35, ge=0, le=0.9, description="0 to 0.9")
    safe_loss: Annotated[
        Mapping[str, Annotated[float, Field(gt=0)]], AfterValidator(MappingProxyType)
    ] = Field(
        default={},
        description="points of moisture content per day above 0, like { white_oak = 2.0 }",
    )


@dataclass(frozen=True)
class Contact:
    """Somebody who is told.

    Attributes
    ----------
    url
        Apprise URL; wrapped, so that printing a contact does not print it.
    quiet
        Local times from and until which nothing is sent, or None; may cross midnight.
    """

    name: str
    kind: Channel
    url: SecretStr
    hear: frozenset[Topic]
    units: Units
    quiet: tuple[time, time] | None = None

    def is_quiet(self, local: time) -> bool:
        """Return whether the wall clock showing `local` means leave this person alone."""
        if self.quiet is None:
            return False
        start, end = self.quiet
        return start <= local < end if start <= end else local >= start or local < end

    def quiet_ends(self, now: datetime, zone: ZoneInfo) -> datetime:
        """Return the first instant (UTC) from `now` on that is not quiet; `now` if it is not.

        Read off the wall clock minute by minute, so an end in the hour that is skipped in spring
        comes with the jump, and one in the hour that is repeated in fall comes the first time.
        """
        return _quiet_ends(self, now.astimezone(UTC), zone)


@lru_cache(maxsize=256)
def _quiet_ends(contact: Contact, instant: datetime, zone: ZoneInfo) -> datetime:
    """Asked of every finding of a pass, and the same for all of them."""
    while contact.is_quiet(instant.astimezone(zone).time()):
        instant = instant.replace(second=0, microsecond=0) + timedelta(minutes=1)
    return instant


@dataclass(frozen=True)
class Config:
    """Everything the owner decided, checked and resolved."""

    yard_name: str
    zone: ZoneInfo
    units: Units
    data_dir: Path
    weather: WeatherSettings
    sites: Mapping[str, Site]
    contacts: Mapping[str, Contact]
    policy: Policy
    heartbeat: Heartbeat = field(default_factory=Heartbeat)

    def site(self, name: str) -> Site:
        """Return a site by its name.

        Raises
        ------
        UsageError
            If there is none of that name; those there are are named.
        """
        if name not in self.sites:
            raise UsageError(f"no site named {name!r}; there are: {', '.join(self.sites)}")
        return self.sites[name]
