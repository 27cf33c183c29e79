"""TOML and environment in, frozen records out; every fault is one line a person can act on.

The file is read first, then ``DRYWIND_SECTION__KEY`` in the environment overrides single settings
of [yard], [weather] and [policy]. The address of a contact is a secret: it stands in a variable or
a file of its own, and no error, repr or traceback made here shows it.
"""

from drywind.config.reading import SEARCH, example_text, load
from drywind.config.records import (
    HEAR,
    Channel,
    Config,
    Contact,
    Heartbeat,
    OpenMeteo,
    Policy,
    Service,
    Topic,
    WeatherSettings,
    Weekday,
)

__all__ = [
    "HEAR",
    "SEARCH",
    "Channel",
    "Config",
    "Contact",
    "Heartbeat",
    "OpenMeteo",
    "Policy",
    "Service",
    "Topic",
    "WeatherSettings",
    "Weekday",
    "example_text",
    "load",
]
