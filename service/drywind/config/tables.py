"""The file as it is written: its tables, and the variables that override single keys of them."""

import re
from collections.abc import Callable
from datetime import time
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, Field
from pydantic import StringConstraints as Text
from pydantic_settings import BaseSettings, SettingsConfigDict

from drywind.config.records import Channel, Heartbeat, Policy, Table, Topic, WeatherSettings
from drywind.errors import UsageError
from drywind.units import Units, parse_length_m
from drywind.yard import DIRECTIONS, Exposure, Ground, Site


def _by(read: Callable[[str], Any]) -> BeforeValidator:
    """Accept what `read` can read; its reasons give way to the key's own description."""

    def accept(value: Any) -> Any:
        try:
            return read(str(value))
        except (KeyError, OSError, RuntimeError, UsageError):
            raise ValueError from None

    return BeforeValidator(accept)


def _home(text: str) -> Path:
    return Path(text).expanduser()


def _hours(text: str) -> tuple[time, time]:
    match = re.fullmatch(r"(\d\d:\d\d)-(\d\d:\d\d)", text)
    if match is None or match[1] == match[2]:
        raise ValueError
    return time.fromisoformat(match[1]), time.fromisoformat(match[2])


def _name(longest: int) -> Any:
    return Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9 .,_'&()#/+-]*$",
        max_length=longest,
        description=f"up to {longest} letters, digits, blanks or . , _ ' & ( ) # / + -, "
        "beginning with a letter or digit",
    )


class YardTable(Table):
    """What holds for the whole yard."""

    name: str = _name(40)
    time_zone: Annotated[ZoneInfo, _by(ZoneInfo)] = Field(
        description="an IANA time zone like America/Chicago"
    )
    units: Units = Field(default=Units.US, description="us, metric")
    data_dir: Annotated[Path, _by(_home)] = Field(
        default=Path("~/.local/share/drywind"), description="a folder for the program's own data"
    )


class SiteTable(Table):
    """A place stacks stand in."""

    name: str = _name(16)
    lat: float = Field(ge=-90, le=90, description="-90 to 90 degrees, north is positive")
    lon: float = Field(ge=-180, le=180, description="-180 to 180 degrees, east is positive")
    altitude: Annotated[float, _by(parse_length_m)] = Field(
        ge=-500,
        le=6000,
        description='a height with its unit like "655 ft" or "200 m", up to 6000 m',
    )
    exposure: Exposure = Field(default=Exposure.OPEN, description="open, shed, barn")
    roof: bool | None = Field(default=None, description="true, false")
    shelter: dict[
        Annotated[str, Text(pattern=f"^({'|'.join(DIRECTIONS)})$")],
        Annotated[float, Field(ge=0, le=1)],
    ] = Field(
        default={},
        description=f"0 to 1 for winds from {', '.join(DIRECTIONS)}, like {{ NW = 0.4 }}",
    )
    room: int | None = Field(default=None, ge=1, description="how many stacks fit, 1 or more")
    ground: Ground = Field(default=Ground.GRAVEL, description="gravel, grass, wet")

    def site(self) -> Site:
        """Return the domain record; a shed and a barn have a roof unless it is denied."""
        return Site(
            name=self.name,
            lat=round(self.lat, 4),
            lon=round(self.lon, 4),
            altitude_m=self.altitude,
            exposure=self.exposure,
            roof=self.exposure is not Exposure.OPEN if self.roof is None else self.roof,
            shelter=MappingProxyType(self.shelter),
            room=self.room,
            ground=self.ground,
        )


class ContactTable(Table):
    """An address that is told, named by where it stands."""

    name: str = _name(16)
    kind: Channel = Field(description="text, email")
    url_env: str | None = Field(
        default=None,
        pattern=r"^DRYWIND_URL_[A-Z0-9_]+$",
        description="the name of a variable like DRYWIND_URL_ADA, never the address itself",
    )
    url_file: str | None = Field(
        default=None,
        pattern=r"^[A-Za-z0-9_-][A-Za-z0-9._-]*$",
        description="the name of a file in secrets_dir like ada.url, never the address itself",
    )
    hear: frozenset[Topic] | None = Field(
        default=None,
        min_length=1,
        description='a list of "warnings", "all_clear", "digest", "outlook"',
    )
    quiet_hours: Annotated[tuple[time, time], _by(_hours)] | None = Field(
        default=None, description='two different local times like "21:00-05:30"'
    )
    units: Units | None = Field(default=None, description="us, metric")


class Settings(Table, BaseSettings):
    """The whole file."""

    model_config = SettingsConfigDict(env_prefix="DRYWIND_", env_nested_delimiter="__")

    yard: YardTable = Field(description="one [yard] table")
    weather: WeatherSettings = Field(description="one [weather] table")
    sites: list[SiteTable] = Field(min_length=1, description="a [[sites]] table for each site")
    contacts: list[ContactTable] = Field(
        default=[], description="a [[contacts]] table for each person"
    )
    policy: Policy = Field(default_factory=Policy, description="one [policy] table")
    heartbeat: Heartbeat = Field(default_factory=Heartbeat, description="one [heartbeat] table")
    secrets_dir: Annotated[Path, _by(_home)] | None = Field(
        default=None, description="a folder that holds one file for each url_file"
    )


TABLES: dict[str, type[Table]] = {
    "yard": YardTable,
    "weather": WeatherSettings,
    "sites": SiteTable,
    "contacts": ContactTable,
    "policy": Policy,
    "heartbeat": Heartbeat,
}

SAFE_LOSS = "DRYWIND_POLICY__SAFE_LOSS__"
"""How the variables begin that each set the limit of one species."""

SERVICES = "DRYWIND_WEATHER__SERVICES"
"""The variable that holds a list."""

VARIABLES = ["DRYWIND_CONFIG", "DRYWIND_SECRETS_DIR"] + [
    f"DRYWIND_{table}__{key}".upper()
    for table in ("yard", "weather", "policy", "heartbeat")
    for key in TABLES[table].model_fields
    if key != "safe_loss"
]
"""The other variables that set something; the address of a contact is not a setting."""
