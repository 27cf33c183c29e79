"""Every fault is one line that says where it is, what is wrong, and what is allowed there."""

import difflib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from pydantic_core import ErrorDetails

from drywind.config.records import OpenMeteo, Service, WeatherSettings, on_loopback
from drywind.config.tables import SAFE_LOSS, TABLES, VARIABLES, Settings

_HIDDEN = {"url_env", "url_file", "open_meteo_key", *TABLES}
"""Keys whose value is never shown: people paste the address itself there."""

_RESERVED = re.compile(
    r"(?:\w+://)?(?:[^/]*[@.])?(example\.(?:com|net|org))(?:[/:?#]|$)", re.IGNORECASE
)
"""An address in a domain that belongs to nobody, whole or below it (RFC 2606, section 3)."""


def perhaps(name: str, known: Iterable[str]) -> str:
    """Return a hint at the known name that `name` may be a slip for, or nothing."""
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.8)
    return f", perhaps {near[0]}" if near else ""


def unknown_variables(env: Mapping[str, str]) -> list[str]:
    """Return a line for each variable that is meant for this program but sets nothing."""
    return [
        f"environment: {name}: no such setting{perhaps(name.upper(), VARIABLES)}; allowed: "
        "DRYWIND_SECTION__KEY for [yard], [weather] and [policy], DRYWIND_SECRETS_DIR, "
        "DRYWIND_CONFIG, and the DRYWIND_URL_... a contact names"
        for name in sorted(env)
        if name.upper().startswith("DRYWIND_")
        and name not in VARIABLES
        and not name.startswith((SAFE_LOSS, "DRYWIND_URL_"))
    ]


def fault_line(fault: ErrorDetails, file: Path, env: Mapping[str, str]) -> str:
    """Return the line for a key that is unknown or missing, or whose value cannot be used."""
    where = [part for part in fault["loc"] if part != "[key]"]
    names = [part for part in where if isinstance(part, str)]
    fields = (TABLES[names[0]] if len(names) > 1 else Settings).model_fields
    name = names[:2][-1]
    key = "".join(f"#{part + 1}" if isinstance(part, int) else f".{part}" for part in where)[1:]
    place = _place(f"{file}: {key}", names, env)
    if name not in fields:
        return f"{place}: no such key{perhaps(name, fields)}; allowed: {', '.join(fields)}"
    wrong = "is missing" if fault["type"] == "missing" else f"{_shown(name, fault)} cannot be used"
    return f"{place}: {wrong}; allowed: {fields[name].description}"


def repeated_names(file: Path, settings: Settings) -> list[str]:
    """Return a line for each site and each contact whose name another one has already."""
    lines = []
    for key, tables in (("sites", settings.sites), ("contacts", settings.contacts)):
        names = [table.name for table in tables]
        lines += [
            f"{file}: {key}#{number}.name: {name!r} is taken; allowed: a name of its own"
            for number, name in enumerate(names, 1)
            if name in names[: number - 1]
        ]
    return lines


def nobodys_contact(file: Path, weather: WeatherSettings, env: Mapping[str, str]) -> list[str]:
    """Return a line if a public weather service would be given an address of nobody."""
    reserved = _RESERVED.match(weather.contact)
    urls = {Service.NWS: weather.nws_url, Service.MET_NORWAY: weather.met_norway_url}
    asked = [url for name, url in urls.items() if name in (weather.services or urls)]
    if reserved is None or all(map(on_loopback, asked)):
        return []
    place = _place(f"{file}: weather.contact", ["weather", "contact"], env)
    wanted = "put your own address: the weather service wants to reach you"
    return [f"{place}: {reserved[1]} reaches nobody; {wanted}"]


def _place(in_file: str, names: list[str], env: Mapping[str, str]) -> str:
    """Return where a value stands: in its variable, which overrides the file, or in the file."""
    variable = f"DRYWIND_{'__'.join(names)}".upper()
    return f"environment: {variable}" if variable in env else in_file


def _shown(name: str, fault: ErrorDetails) -> str:
    value = fault["input"]
    hidden = name in _HIDDEN or not isinstance(value, str | int | float) or "://" in str(value)
    return "what is written" if hidden else repr(value)


def unusable_open_meteo(file: Path, weather: WeatherSettings) -> list[str]:
    """Return a line for each thing that does not go with how Open-Meteo may be asked."""
    right, place = weather.open_meteo, f"{file}: weather"
    wanted = {
        "open_meteo_url": (
            weather.open_meteo_url,
            {OpenMeteo.SELF_HOSTED},
            {OpenMeteo.SELF_HOSTED},
        ),
        "open_meteo_key": (
            weather.open_meteo_key,
            {OpenMeteo.CUSTOMER_KEY},
            {OpenMeteo.CUSTOMER_KEY, OpenMeteo.SELF_HOSTED},
        ),
    }
    lines = []
    for key, (value, needs, takes) in wanted.items():
        if right in needs and not value:
            lines.append(f'{place}.{key}: is missing; open_meteo = "{right}" needs one')
        if value and right not in takes:
            allowed = " or ".join(sorted(takes))
            lines.append(f"{place}.{key}: allowed only where open_meteo is {allowed}")
    if Service.OPEN_METEO in weather.services and right is OpenMeteo.NONE:
        lines.append(
            f"{place}.services: open_meteo may not be asked; say first, by the key open_meteo, "
            "that your use is not for a business, or that you have a key or a server of your own"
        )
    return lines
