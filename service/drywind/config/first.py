"""A first configuration: the commented example, with a person's own answers in it."""

import json
import re
from dataclasses import dataclass

from drywind.config.reading import example_text
from drywind.units import Units

FIRST_CONTACT = "my phone"
SECRETS = "secrets"
SECRET_FILE = "phone.url"  # noqa: S105 - the name of a file

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
    return "\n\n".join(written)


def _block(block: str, answers: Answers) -> str:
    """Return a table of the example as it is for the person who answered."""
    if block.startswith("[yard]"):
        changed = {
            "name": answers.yard,
            "time_zone": answers.time_zone,
            "units": answers.units.value,
        }
        return _set(block, changed)
    if block.startswith("[weather]"):
        text = _set(block, {"contact": answers.contact})
        return re.sub(r"\n# CHANGE, required: an[^\n]*\n#", "\n# Your address:", text)
    if block.startswith("[[sites]]") and '"gravel lot"' in block:
        place = {"lat": answers.lat, "lon": answers.lon, "altitude": answers.altitude}
        return _own(_commented(_set(block, place), "shelter", "room"))
    if block.startswith("[[contacts]]") and '"Ada phone"' in block:
        return _contact(block, answers)
    if block.startswith("[policy.safe_loss]"):
        return _commented(block, "white_oak")
    if any(f'"{name}"' in block for name in _EXAMPLES):
        return "\n".join(f"# {line}" for line in block.splitlines())
    if block.startswith("# A folder with one file per secret") and answers.kind:
        return block.replace("# secrets_dir", "secrets_dir")
    return block


def _contact(block: str, answers: Answers) -> str:
    if answers.kind is None:
        return "\n".join(f"# {line}" for line in block.splitlines())
    text = _set(block, {"name": FIRST_CONTACT, "kind": answers.kind})
    text = re.sub(r"(?m)^url_env = .*$", f'url_file = "{SECRET_FILE}"', text)
    return re.sub(r"(?m)^hear = .*\n", "", text)


def _set(block: str, values: dict[str, str | float]) -> str:
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
    block = re.sub(r"# CHANGE, required; ", "# ", block)
    return re.sub(r"# CHANGE(; |$)", lambda m: "# " if m[1] == "; " else "", block, flags=re.M)


def _commented(block: str, *keys: str) -> str:
    """Return a block in which keys stand as comments only."""
    return re.sub(rf"(?m)^(?=(?:{'|'.join(keys)}) = )", "# ", block)
