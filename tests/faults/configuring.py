"""A good configuration to damage, and ways to read it."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from drywind.config import Config, load
from drywind.errors import ConfigError

ENV = {"DRYWIND_URL_ADA": "json://127.0.0.1/ada"}
GOOD = """
[yard]
name = "Yard"
time_zone = "America/Chicago"
data_dir = "state"

[weather]
contact = "sawyer@yard.test"

[[sites]]
name = "lot"
lat = 41.98
lon = -87.9
altitude = "673 ft"

[[contacts]]
name = "Ada"
kind = "text"
url_env = "DRYWIND_URL_ADA"
"""


def read(text: str, env: Mapping[str, str] = ENV) -> Config:
    """Write the text to the folder at hand and load it."""
    Path("drywind.toml").write_text(text, encoding="utf-8")
    return load(Path("drywind.toml"), env)


def faults(text: str, env: Mapping[str, str] = ENV) -> list[str]:
    """Return the lines of the error the text gives."""
    with pytest.raises(ConfigError) as caught:
        read(text, env)
    assert caught.value.exit_code == 2
    return caught.value.lines


def changed(old: str, new: str) -> str:
    """Return the good configuration with one thing changed."""
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)
