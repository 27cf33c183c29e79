"""The tree of errors, and the exit code each one gives the command line.

DrywindError
├── ConfigError     2  the configuration cannot be used
├── UsageError      2  a command was given something it cannot use
├── WeatherError    3  no usable weather
├── ClockError      3  the computer's clock is wrong
├── StoreError      4  the database cannot be used
│   ├── DamagedError   what is in the file is damaged, or is no database
│   └── NewerError     a newer drywind wrote the file
└── DeliveryError   4  a message cannot be handed over
"""

from collections.abc import Iterable
from difflib import get_close_matches


class DrywindError(Exception):
    """Base of all errors drywind raises on purpose; its text is written for the user."""

    exit_code = 1


class ConfigError(DrywindError):
    """The configuration cannot be used; one line per fault in `lines`."""

    exit_code = 2

    def __init__(self, lines: list[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


class UsageError(DrywindError):
    """A command was given something it cannot use."""

    exit_code = 2


def unknown_name(kind: str, name: str, known: Iterable[str]) -> UsageError:
    """Return the error that there is no stack or lot of a name, with the nearest names known."""
    names = sorted(known)
    near = get_close_matches(name, names, cutoff=0.4) or names[:3]
    hint = f"did you mean {', '.join(near)}?" if near else "none has been added yet"
    return UsageError(f"there is no {kind} {name!r}; {hint}")


class WeatherError(DrywindError):
    """No usable weather could be had.

    `permanent` is true where asking again in a while cannot help (a wrong address, a refusal).
    """

    exit_code = 3

    def __init__(self, message: str, *, permanent: bool = False) -> None:
        super().__init__(message)
        self.permanent = permanent


class ClockError(DrywindError):
    """The clock of this computer is wrong, so that nothing can be said of today or tomorrow."""

    exit_code = 3


class StoreError(DrywindError):
    """The database cannot be used.

    `unwritable` is true where it can still be read: the disk is full, or may only be read.
    """

    exit_code = 4

    def __init__(self, message: str, *, unwritable: bool = False) -> None:
        super().__init__(message)
        self.unwritable = unwritable


class DamagedError(StoreError):
    """What is in the database file is damaged, or is no database; a backup would help."""


class NewerError(StoreError):
    """A newer drywind wrote the database file."""


class DeliveryError(DrywindError):
    """A message cannot be handed over."""

    exit_code = 4
