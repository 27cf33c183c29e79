"""TOML and environment in, frozen records out; every fault is one line a person can act on.

The file is read first, then ``DRYWIND_SECTION__KEY`` in the environment overrides single settings
of [yard], [weather] and [policy]. The address of a contact is a secret: it stands in a variable or
a file of its own, and no error, repr or traceback made here shows it.
"""

import difflib
import os
import re
import stat
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any
from urllib.parse import unquote, urlsplit
from zoneinfo import ZoneInfo

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SecretStr,
    ValidationError,
)
from pydantic import StringConstraints as Text
from pydantic_core import ErrorDetails
from pydantic_settings import (
    BaseSettings,
    EnvSettingsSource,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)

from drywind.errors import ConfigError, UsageError
from drywind.units import Units, parse_length_m
from drywind.yard import DIRECTIONS, Exposure, Site

SEARCH = ("drywind.toml", "~/.config/drywind/config.toml", "/etc/drywind/config.toml")
"""Where the configuration is looked for when nobody names it."""

_GATEWAY = re.compile(
    r"@((?:txt|mms)\.att\.net|tmomail\.net|vtext\.com|vzwpix\.com|messaging\.sprintpcs\.com)\b"
)
"""Carriers' e-mail-to-text gateways, shut or announced to shut (trade pages, 2024-2025)."""

_LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})


class Channel(StrEnum):
    """How long a message to a contact may be."""

    TEXT = "text"
    EMAIL = "email"


class Topic(StrEnum):
    """What a contact wants to hear."""

    WARNINGS = "warnings"
    ALL_CLEAR = "all_clear"


# What a key accepts: its description completes "allowed: ..." in the error line, and a validator
# only says yes or no.


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


def _service(url: str) -> str:
    parts = urlsplit(url)
    safe = parts.scheme == "https" or (parts.scheme == "http" and parts.hostname in _LOOPBACK)
    if not (safe and parts.hostname) or re.search(r"[\s@?#]", url):
        raise ValueError
    return url.rstrip("/")


def _name(longest: int) -> Any:
    return Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9 .,_'&()#/+-]*$",
        max_length=longest,
        description=f"up to {longest} letters, digits, blanks or . , _ ' & ( ) # / + -, "
        "beginning with a letter or digit",
    )


class _Table(BaseModel):
    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        hide_input_in_errors=True,
        allow_inf_nan=False,
        str_strip_whitespace=True,
        validate_default=True,
    )


class _Yard(_Table):
    name: str = _name(40)
    time_zone: Annotated[ZoneInfo, _by(ZoneInfo)] = Field(
        description="an IANA time zone like America/Chicago"
    )
    units: Units = Field(default=Units.US, description="us, metric")
    data_dir: Annotated[Path, _by(_home)] = Field(
        default=Path("~/.local/share/drywind"), description="a folder for the program's own data"
    )


class WeatherSettings(_Table):
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
    refresh_minutes: int = Field(default=60, ge=15, le=360, description="15 to 360 minutes")


class _SiteTable(_Table):
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
        )


class _ContactTable(_Table):
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
    hear: frozenset[Topic] = Field(
        default=frozenset(Topic), min_length=1, description='a list of "warnings", "all_clear"'
    )
    quiet_hours: Annotated[tuple[time, time], _by(_hours)] | None = Field(
        default=None, description='two different local times like "21:00-05:30"'
    )
    units: Units | None = Field(default=None, description="us, metric")


class Policy(_Table):
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
    safe_loss
        Points of moisture content a 4/4 board may lose per day, by species key.
    """

    warn_hours_ahead: int = Field(default=48, ge=6, le=96, description="6 to 96 hours")
    repeat_hours: int = Field(default=24, ge=6, le=168, description="6 to 168 hours")
    all_clear_below: float = Field(default=0.85, ge=0.5, le=1, description="0.5 to 1")
    worse_step: float = Field(default=0.25, ge=0.05, le=2, description="0.05 to 2")
    safe_loss: Annotated[
        Mapping[str, Annotated[float, Field(gt=0)]], AfterValidator(MappingProxyType)
    ] = Field(
        default={},
        description="points of moisture content per day above 0, like { white_oak = 2.0 }",
    )


class _Settings(_Table, BaseSettings):
    model_config = SettingsConfigDict(env_prefix="DRYWIND_", env_nested_delimiter="__")

    yard: _Yard = Field(description="one [yard] table")
    weather: WeatherSettings = Field(description="one [weather] table")
    sites: list[_SiteTable] = Field(min_length=1, description="a [[sites]] table for each site")
    contacts: list[_ContactTable] = Field(
        default=[], description="a [[contacts]] table for each person"
    )
    policy: Policy = Field(default_factory=Policy, description="one [policy] table")
    secrets_dir: Annotated[Path, _by(_home)] | None = Field(
        default=None, description="a folder that holds one file for each url_file"
    )


_TABLES: dict[str, type[_Table]] = {
    "yard": _Yard,
    "weather": WeatherSettings,
    "sites": _SiteTable,
    "contacts": _ContactTable,
    "policy": Policy,
}
_HIDDEN = {"url_env", "url_file", *_TABLES}
"""Keys whose value is never shown: people paste the address itself there."""

_SAFE_LOSS = "DRYWIND_POLICY__SAFE_LOSS__"
_VARIABLES = ["DRYWIND_CONFIG", "DRYWIND_SECRETS_DIR"] + [
    f"DRYWIND_{table}__{key}".upper()
    for table in ("yard", "weather", "policy")
    for key in _TABLES[table].model_fields
    if key != "safe_loss"
]


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
        instant = now.astimezone(UTC)
        while self.is_quiet(instant.astimezone(zone).time()):
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


def load(path: Path | None, env: Mapping[str, str]) -> Config:
    """Read the configuration at `path`, or the first that is found, under the environment `env`.

    Relative folders in the file are relative to the file.

    Raises
    ------
    ConfigError
        If there is no file or it, the environment or the secrets have faults; all faults that
        could be found at once, one per line.
    """
    file = _find(path, env)
    settings = _read(file, env)
    base = file.absolute().parent
    secrets_dir = None if settings.secrets_dir is None else base / settings.secrets_dir
    lines = [*_repeated(file, settings), *_unclaimed(settings, secrets_dir, env)]
    contacts = {}
    for number, table in enumerate(settings.contacts, 1):
        try:
            url = _address(f"{file}: contacts#{number}", table, secrets_dir, env)
        except ConfigError as fault:
            lines += fault.lines
            continue
        contacts[table.name] = Contact(
            name=table.name,
            kind=table.kind,
            url=url,
            hear=table.hear,
            units=table.units or settings.yard.units,
            quiet=table.quiet_hours,
        )
    if lines:
        raise ConfigError(lines)
    return Config(
        yard_name=settings.yard.name,
        zone=settings.yard.time_zone,
        units=settings.yard.units,
        data_dir=base / settings.yard.data_dir,
        weather=settings.weather,
        sites=MappingProxyType({table.name: table.site() for table in settings.sites}),
        contacts=MappingProxyType(contacts),
        policy=settings.policy,
    )


def example_text() -> str:
    """Return the commented example configuration, from the wheel or from a checkout."""
    shipped = Path(__file__).with_name("config.example.toml")
    checkout = Path(__file__).parents[2] / "config.example.toml"
    return (shipped if shipped.exists() else checkout).read_text(encoding="utf-8")


def _find(path: Path | None, env: Mapping[str, str]) -> Path:
    named = path or env.get("DRYWIND_CONFIG")
    places = [Path(named)] if named else [Path(place).expanduser() for place in SEARCH]
    for place in places:
        if os.access(place, os.R_OK) and place.is_file():
            return place
    looked = str(places[0]) if named else f"DRYWIND_CONFIG (not set), {', '.join(map(str, places))}"
    raise ConfigError(
        [f"{looked}: no configuration can be read there; `drywind init` writes one to fill in"]
    )


def _read(file: Path, env: Mapping[str, str]) -> _Settings:
    lines = _unknown_variables(env)
    overrides = {n: v for n, v in env.items() if n in _VARIABLES or n.startswith(_SAFE_LOSS)}
    from_env = EnvSettingsSource(_Settings)
    from_env.env_vars = {name.lower(): value for name, value in overrides.items()}
    settings = None
    try:
        settings = _merge(from_env, TomlConfigSettingsSource(_Settings, file))
    except ValidationError as error:
        lines += [_fault_line(fault, file, overrides) for fault in error.errors()]
    except ValueError as error:  # broken TOML, or not UTF-8
        where = re.sub(r"^(.*) \(at (.*)\)$", r"\2: \1", str(error))
        lines.append(f"{file}: {where}")
    if settings is None or lines:
        raise ConfigError(lines)
    return settings


def _merge(*sources: PydanticBaseSettingsSource) -> _Settings:
    """Return the checked settings; an earlier source overrides a later one, key by key."""

    class Sourced(_Settings):
        @classmethod
        def settings_customise_sources(
            cls, *_: object, **__: object
        ) -> tuple[PydanticBaseSettingsSource, ...]:
            return sources

    return Sourced.model_validate({})


def _unknown_variables(env: Mapping[str, str]) -> list[str]:
    return [
        f"environment: {name}: no such setting{_perhaps(name.upper(), _VARIABLES)}; allowed: "
        "DRYWIND_SECTION__KEY for [yard], [weather] and [policy], DRYWIND_SECRETS_DIR, "
        "DRYWIND_CONFIG, and the DRYWIND_URL_... a contact names"
        for name in sorted(env)
        if name.upper().startswith("DRYWIND_")
        and name not in _VARIABLES
        and not name.startswith((_SAFE_LOSS, "DRYWIND_URL_"))
    ]


def _fault_line(fault: ErrorDetails, file: Path, overrides: Mapping[str, str]) -> str:
    where = [part for part in fault["loc"] if part != "[key]"]
    names = [part for part in where if isinstance(part, str)]
    fields = (_TABLES[names[0]] if len(names) > 1 else _Settings).model_fields
    name = names[:2][-1]
    key = "".join(f"#{part + 1}" if isinstance(part, int) else f".{part}" for part in where)[1:]
    variable = f"DRYWIND_{'__'.join(names)}".upper()
    place = f"environment: {variable}" if variable in overrides else f"{file}: {key}"
    if name not in fields:
        return f"{place}: no such key{_perhaps(name, fields)}; allowed: {', '.join(fields)}"
    wrong = "is missing" if fault["type"] == "missing" else f"{_shown(name, fault)} cannot be used"
    return f"{place}: {wrong}; allowed: {fields[name].description}"


def _shown(name: str, fault: ErrorDetails) -> str:
    value = fault["input"]
    hidden = name in _HIDDEN or not isinstance(value, str | int | float) or "://" in str(value)
    return "what is written" if hidden else repr(value)


def _perhaps(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.8)
    return f", perhaps {near[0]}" if near else ""


def _repeated(file: Path, settings: _Settings) -> list[str]:
    lines = []
    for key, tables in (("sites", settings.sites), ("contacts", settings.contacts)):
        names = [table.name for table in tables]
        lines += [
            f"{file}: {key}#{number}.name: {name!r} is taken; allowed: a name of its own"
            for number, name in enumerate(names, 1)
            if name in names[: number - 1]
        ]
    return lines


def _unclaimed(settings: _Settings, secrets_dir: Path | None, env: Mapping[str, str]) -> list[str]:
    """Return a line for each secret, in the environment or in a file, that no contact uses."""
    variables = [table.url_env for table in settings.contacts if table.url_env]
    files = [table.url_file for table in settings.contacts if table.url_file]
    lines = [
        f"environment: {name}: no contact uses it{_perhaps(name, variables)}; "
        f"allowed: {', '.join(variables) or 'none'}"
        for name in sorted(env)
        if name.startswith("DRYWIND_URL_") and name not in variables
    ]
    if secrets_dir is None:
        return lines
    try:
        found = sorted(file.name for file in secrets_dir.iterdir())
        mode = secrets_dir.stat().st_mode
    except OSError as error:
        return [*lines, f"{secrets_dir}: secrets_dir cannot be read: {error.strerror}"]
    if mode & stat.S_IWOTH:
        lines.append(f"{secrets_dir}: anybody may write here; run: chmod 700 {secrets_dir}")
    return lines + [
        f"{secrets_dir / name}: no contact uses it{_perhaps(name, files)}; "
        f"allowed: {', '.join(files) or 'none'}"
        for name in found
        if name not in files
    ]


def _address(
    place: str, table: _ContactTable, secrets_dir: Path | None, env: Mapping[str, str]
) -> SecretStr:
    """Return the contact's Apprise URL; faults name where it stands, never what it says."""
    match table.url_env, table.url_file:
        case str(variable), None:
            place = f"{place}.url_env: {variable}"
            url = env.get(variable, "").strip()
        case None, str(name):
            place = f"{place}.url_file: {name}"
            if secrets_dir is None:
                raise ConfigError([f"{place}: secrets_dir is missing; allowed: a file in it"])
            url = _secret(place, secrets_dir / name, env)
        case _:
            raise ConfigError([f"{place}: needs one address; allowed: either url_env or url_file"])
    if wrong := _wrong_with(url):
        raise ConfigError([f"{place}: {wrong}"])
    return SecretStr(url)


def _secret(place: str, file: Path, env: Mapping[str, str]) -> str:
    """Read a secret that only its owner can read.

    systemd hands a credential to the service's user by an access-control list, whose mask shows
    as group bits although no group may read it (systemd issue 29435).
    """
    handed_over = file.parent == Path(env.get("CREDENTIALS_DIRECTORY", ""))
    forbidden = stat.S_IRWXO if handed_over else stat.S_IRWXG | stat.S_IRWXO
    try:
        if file.stat().st_mode & forbidden:
            raise ConfigError([f"{place}: open to others; run: chmod 600 {file}"])
        return file.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise ConfigError([f"{place}: {file} cannot be read: {error.strerror}"]) from None
    except UnicodeDecodeError:
        raise ConfigError([f"{place}: is not text; allowed: one Apprise URL"]) from None


def _wrong_with(url: str) -> str:
    if not url:
        return "is not set; allowed: one Apprise URL"
    if re.search(r"\s", url):
        return "holds more than one line or word; allowed: one Apprise URL"
    if gateway := _GATEWAY.search(unquote(url).lower()):
        return (
            f"{gateway[1]} turns e-mail into texts, and the carriers have shut these gateways or "
            "announced their end; allowed: a push service or an SMS provider"
        )
    return ""
