"""A first configuration: the commented example, with a person's own answers in it."""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from drywind.config.reading import example_text
from drywind.units import Units

FIRST_CONTACT = "my phone"
SECRETS = "secrets"
SECRET_FILE = "phone.url"  # noqa: S105 - the name of a file

_REQUIRED = re.compile(r"(?m)^# CHANGE, required: .*$")
_YOURS = "# An e-mail address or web site of yours."

_EXAMPLES = {"long shed", "barn lee", "Office mail"}
"""The sites and the contact of the example that nobody's yard has; they stay as comments."""


@dataclass(frozen=True)
class Answers:
    """What is asked before a yard can be watched.

    Attributes
    ----------
    altitude
        With its unit, like "673 ft".
    contact
        Where the weather services can reach its owner.
    kind
        "text" or "email" if there is a channel, whose address is kept beside the file; else None.
    """

    yard: str
    lat: float
    lon: float
    altitude: str
    time_zone: str
    units: Units
    contact: str
    kind: str | None = None


def first_config(answers: Answers) -> str:
    """Return the example configuration with the answers in it."""
    blocks = example_text().split("\n\n")
    written = [_block(block, answers) for block in blocks]
    return re.sub(r"(?m)[ ]+$", "", "\n\n".join(written))


def _block(block: str, answers: Answers) -> str:
    """Return a table of the example as it is for the person who answered."""
    place = {"lat": answers.lat, "lon": answers.lon, "altitude": answers.altitude}
    yard = {"name": answers.yard, "time_zone": answers.time_zone, "units": answers.units.value}
    if any(f'"{name}"' in block for name in _EXAMPLES):
        return _all_commented(block)
    changed: dict[str, Callable[[], str]] = {
        "[yard]\n": lambda: _set(block, yard),
        "[weather]\n": lambda: _set(_REQUIRED.sub(_YOURS, block), {"contact": answers.contact}),
        '"gravel lot"': lambda: _commented(_set(block, place), "shelter", "room"),
        '"Ada phone"': lambda: _contact(block, answers),
        "[policy.safe_loss]\n": lambda: _commented(block, "white_oak"),
        "# secrets_dir": lambda: block.replace("# secrets", "secrets") if answers.kind else block,
    }
    return next((write() for mark, write in changed.items() if mark in block), block)


def _contact(block: str, answers: Answers) -> str:
    if answers.kind is None:
        return _all_commented(block)
    text = _set(block, {"name": FIRST_CONTACT, "kind": answers.kind})
    text = re.sub(r"(?m)^url_env = .*$", f'url_file = "{SECRET_FILE}"', text)
    return re.sub(r"(?m)^hear = .*\n", "", text)


def _set(block: str, values: Mapping[str, object]) -> str:
    """Return a block with other values of its keys, which no longer ask for a change."""
    for key, value in values.items():
        line = f"{key} = {json.dumps(value, ensure_ascii=False)}"
        block, count = re.subn(
            rf"(?m)^{key} = [^#\n]*?(?=\s*(?:#|$))", line.replace("\\", r"\\"), block, count=1
        )
        assert count == 1, f"the example configuration has no {key} here"
    return _own(block)


def _own(block: str) -> str:
    """Return a block without what its comments say of lines to be changed."""
    block = block.replace("# CHANGE, required; ", "# ")
    return re.sub(
        r"# CHANGE(; |$)", lambda m: "# " if m[1] == "; " else "", block, flags=re.MULTILINE
    )


def _all_commented(block: str) -> str:
    return "\n".join(f"# {line}" for line in block.splitlines())


def _commented(block: str, *keys: str) -> str:
    """Return a block in which keys stand as comments only."""
    return re.sub(rf"(?m)^(?=(?:{'|'.join(keys)}) = )", "# ", block)
