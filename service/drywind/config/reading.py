"""From the file and the environment to the configuration."""

import json
import os
import re
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from pydantic import ValidationError
from pydantic_settings import (
    EnvSettingsSource,
    PydanticBaseSettingsSource,
    TomlConfigSettingsSource,
)

from drywind.config.addresses import read_address, unclaimed_secrets
from drywind.config.faults import (
    fault_line,
    nobodys_contact,
    repeated_names,
    unknown_variables,
    unusable_open_meteo,
)
from drywind.config.records import HEAR, Config, Contact
from drywind.config.tables import SAFE_LOSS, SERVICES, VARIABLES, Settings
from drywind.errors import ConfigError

SEARCH = ("drywind.toml", "~/.config/drywind/config.toml", "/etc/drywind/config.toml")
"""Where the configuration is looked for when nobody names it."""


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
    lines = [
        *nobodys_contact(file, settings.weather, env),
        *unusable_open_meteo(file, settings.weather),
        *repeated_names(file, settings),
        *unclaimed_secrets(settings, secrets_dir, env),
    ]
    contacts = {}
    for number, table in enumerate(settings.contacts, 1):
        try:
            url = read_address(f"{file}: contacts#{number}", table, secrets_dir, env)
        except ConfigError as fault:
            lines += fault.lines
            continue
        contacts[table.name] = Contact(
            name=table.name,
            kind=table.kind,
            url=url,
            hear=table.hear or HEAR[table.kind],
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
        heartbeat=settings.heartbeat,
    )


def example_text() -> str:
    """Return the commented example configuration, from the wheel or from a checkout."""
    here = Path(__file__)
    shipped, checkout = (here.parents[up] / "config.example.toml" for up in (1, 3))
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


def _read(file: Path, env: Mapping[str, str]) -> Settings:
    lines = unknown_variables(env)
    overrides = {n: v for n, v in env.items() if n in VARIABLES or n.startswith(SAFE_LOSS)}
    if listed := overrides.get(SERVICES):  # however people write a list in a variable
        overrides[SERVICES] = json.dumps(re.findall(r"\w+", listed))
    from_env = EnvSettingsSource(Settings)
    from_env.env_vars = {name.lower(): value for name, value in overrides.items()}
    settings = None
    try:
        settings = _merge(from_env, TomlConfigSettingsSource(Settings, file))
    except ValidationError as error:
        lines += [fault_line(fault, file, overrides) for fault in error.errors()]
    except ValueError as error:  # broken TOML, or not UTF-8
        where = re.sub(r"^(.*) \(at (.*)\)$", r"\2: \1", str(error))
        hint = '; text stands in quotes, like "gravel"' if "Invalid value" in where else ""
        lines.append(f"{file}: {where}{hint}")
    if settings is None or lines:
        raise ConfigError(lines)
    return settings


def _merge(*sources: PydanticBaseSettingsSource) -> Settings:
    """Return the checked settings; an earlier source overrides a later one, key by key."""

    class Sourced(Settings):
        @classmethod
        def settings_customise_sources(
            cls, *_: object, **__: object
        ) -> tuple[PydanticBaseSettingsSource, ...]:
            return sources

    return Sourced.model_validate({})
