"""The addresses of contacts: secrets, each in a variable or a file of its own.

A fault names where an address stands, never what it says.
"""

import re
import stat
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import unquote

from pydantic import SecretStr

from drywind.config.faults import perhaps
from drywind.config.tables import ContactTable, Settings
from drywind.errors import ConfigError

_GATEWAY = re.compile(
    r"@((?:txt|mms)\.att\.net|tmomail\.net|vtext\.com|vzwpix\.com|messaging\.sprintpcs\.com)\b"
)
"""Carriers' e-mail-to-text gateways, shut or announced to shut (trade pages, 2024-2025)."""


def read_address(
    place: str, table: ContactTable, secrets_dir: Path | None, env: Mapping[str, str]
) -> SecretStr:
    """Return the Apprise URL of the contact whose table stands at `place`.

    Raises
    ------
    ConfigError
        If the contact names no address or two, or there is none to be used where it is named.
    """
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
    if wrong := wrong_with(url):
        raise ConfigError([f"{place}: {wrong}"])
    return SecretStr(url)


def unclaimed_secrets(
    settings: Settings, secrets_dir: Path | None, env: Mapping[str, str]
) -> list[str]:
    """Return a line for each secret, in the environment or in a file, that no contact uses."""
    variables = [table.url_env for table in settings.contacts if table.url_env]
    files = [table.url_file for table in settings.contacts if table.url_file]
    lines = [
        f"environment: {name}: no contact uses it{perhaps(name, variables)}; "
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
        f"{secrets_dir / name}: no contact uses it{perhaps(name, files)}; "
        f"allowed: {', '.join(files) or 'none'}"
        for name in found
        if name not in files
    ]


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


def wrong_with(url: str) -> str:
    """Return what is wrong with a contact's address, without repeating it; empty if nothing."""
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
