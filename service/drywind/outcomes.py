"""How stacks came out: what people saw when they took one down, as the detail of its end."""

import json
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any


class Harm(StrEnum):
    """How much of a stack was harmed."""

    NONE = "none"
    SOME = "some"
    RUINED = "ruined"


@dataclass(frozen=True)
class Result:
    """What people saw; None is not told.

    Attributes
    ----------
    severity
        Of the worst window the stack went through, by the model, 1 being its limit then; None
        where that is not known.
    """

    checks: Harm | None = None
    stain: Harm | None = None
    warp: Harm | None = None
    severity: float | None = None

    @property
    def detail(self) -> str:
        """The result as it is stored; empty where nothing is told."""
        told = {name: value for name, value in asdict(self).items() if value is not None}
        return json.dumps(told) if told else ""

    @classmethod
    def read(cls, detail: str) -> "Result":
        """Return the result stored."""
        told: dict[str, Any] = json.loads(detail) if detail else {}
        harms = {n: Harm(told[n]) for n in ("checks", "stain", "warp") if n in told}
        return cls(**harms, severity=told.get("severity"))
