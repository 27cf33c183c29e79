"""A message at length, as data: the plain e-mail and the page are both written from its parts."""

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Headline:
    """What to do and by when, and the facts behind it.

    Attributes
    ----------
    text
        All of it in the words of the text message; so it stands in the plain e-mail.
    about, advice, facts
        Whom it is about and how that fares; what to do; what is known, each with its name. So it
        stands on the page.
    calm
        Whether there is nothing to fear.
    """

    text: str
    about: str
    advice: str
    facts: tuple[tuple[str, str], ...] = ()
    calm: bool = False


@dataclass(frozen=True)
class Paragraph:
    """Sentences."""

    text: str


@dataclass(frozen=True)
class Row:
    """One line of a list: what it is about, what is told of it, and whether it is advised."""

    name: str
    told: str = ""
    advised: bool = False

    @property
    def plain(self) -> str:
        """The line in plain text."""
        told = f": {self.told}" if self.told else ""
        return f"  {self.name}{told}{'  <- do this' if self.advised else ''}"


@dataclass(frozen=True)
class Lines:
    """A list under its head, and what is to be said after it; `typed` is for a keyboard."""

    head: str
    rows: tuple[Row, ...]
    after: str = ""
    typed: bool = False


@dataclass(frozen=True)
class Bar:
    """A figure in words, and the share of the longest bar it fills, 0-1."""

    words: str
    share: float


@dataclass(frozen=True)
class CurveDay:
    """One day of a curve; `safe` has no words where nothing is to be compared."""

    name: str
    mc: tuple[Bar, ...]
    loss: Bar
    safe: Bar
    over: bool
    ahead: bool


@dataclass(frozen=True)
class Curve:
    """The moisture content of a stack's boards day by day; it stands on the page alone."""

    head: str
    boards: tuple[str, ...]
    days: tuple[CurveDay, ...]
    note: str


@dataclass(frozen=True)
class Picture:
    """A picture, PNG, and what it shows in words; it stands on the page alone."""

    png: bytes = field(repr=False)
    shows: str


Part = Headline | Paragraph | Lines | Curve | Picture


def plain(parts: Sequence[Part]) -> str:
    """Write the parts as plain text."""
    return "\n\n".join(text for text in map(_plain, parts) if text) + "\n"


def _plain(part: Part) -> str:
    match part:
        case Headline(text=text) | Paragraph(text=text):
            return text
        case Lines():
            lines = [part.head, *(row.plain for row in part.rows), part.after]
            return "\n".join(line for line in lines if line)
        case Curve() | Picture():
            return ""
