"""A stack told in a sentence, like "red oak 4/4 stacked yesterday in the gravel lot"."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from drywind.errors import UsageError
from drywind.wood.species import load_species
from drywind.yard import Measure, Trait

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
NOON = time(12)
"""When on a day a stack was put up, where only the day is told (assumption)."""

COVERS = {
    Measure.PILE_ROOF: r"(?:pile )?roof(?:ed)?",
    Measure.SHADE_CLOTH: r"shade ?cloth",
    Measure.BURLAP: r"burlap",
    Measure.TARP: r"tarp(?:ed|s)?",
    Measure.PACKS_CLOSED: r"packs? closed(?: up)?",
}
TRAITS = {
    Trait.QUARTERSAWN: r"quarter-? ?sawn",
    Trait.HEART: r"(?:all )?heart(?:wood)?",
    Trait.SAP: r"(?:all )?sap(?:wood)?",
    Trait.OLD_LOGS: r"(?:from )?old logs",
}
FILLER = re.compile(
    r"(?:a|an|and|at|by|called|from|green|i|in|is|it|just|lot|lumber|my|named|new|now"
    r"|of|on|our|put|site|stack|stacked|stickered|stickers|the|their|there|this|under|up|was|we|were|with)",
    re.IGNORECASE,
)
"""Words that tell nothing by themselves."""

EXAMPLE = '"R7: red oak 4/4 stacked yesterday in the gravel lot"'


@dataclass
class _Reading:
    """A sentence being read: what is left of it, and what was found."""

    left: str
    found: dict[str, str] = field(default_factory=dict)

    def take(self, pattern: str) -> re.Match[str] | None:
        """Take the first match of whole words out of what is left."""
        match = re.search(rf"(?<![\w/]){pattern}(?![\w/])", self.left, re.IGNORECASE)
        if match is not None:
            self.left = f"{self.left[: match.start()]} | {self.left[match.end() :]}"
        return match


@dataclass(frozen=True)
class Told:
    """What a sentence says, by the names `make_stack` takes, and the words nobody understood."""

    given: Mapping[str, str]
    unread: tuple[str, ...]


def read_sentence(
    text: str, sites: Iterable[str], taken: Iterable[str], zone: ZoneInfo, now: datetime
) -> Told:
    """Read a sentence on one stack.

    Parameters
    ----------
    sites, taken
        The names of the sites there are, and of stacks and lots, which it cannot have.

    Raises
    ------
    UsageError
        If it does not tell the wood, the thickness, or where of several sites it stands.
    """
    reading = _Reading(f" {' '.join(text.split())} ")
    found = reading.found
    name = reading.take(r"(?:called|named) ([A-Za-z0-9._-]{1,12})") or re.match(
        r" ([A-Za-z0-9._-]{1,12}):", reading.left
    )
    if name is not None:
        found["id"] = name[1]
        reading.left = reading.left.replace(f"{name[1]}:", " ", 1)
    found["site"] = _site(reading, list(sites))
    found["species"] = _species(reading)
    sticker = reading.take(r"((?:\d+ )?\d+/\d+ in|\d+(?:\.\d+)? (?:in|mm))(?:ch)?(?:es)? stickers?")
    if sticker is not None:
        found["sticker"] = sticker[1]
    found["thickness"] = _thickness(reading)
    moisture = reading.take(r"(?:at |is )?(\d{2,3}) ?% ?(?:mc)?")
    if moisture is not None:
        found["green_mc"] = moisture[1]
    found["stacked"] = _when(reading, zone, now)
    found["measures"] = _all(reading, COVERS)
    found["traits"] = _all(reading, TRAITS)
    found.setdefault("id", _new_name(found["species"], set(taken)))
    words = re.findall(r"[^\s|,.;!]+", reading.left)
    unread = tuple(w for w in words if not FILLER.fullmatch(w.strip("'\"")))
    return Told({k: v for k, v in found.items() if v}, unread)


def _site(reading: _Reading, sites: list[str]) -> str:
    for site in sorted(sites, key=len, reverse=True):
        if reading.take(re.escape(site)):
            return site
    if len(sites) == 1:
        return sites[0]
    raise UsageError(f"where does it stand? Name the site; there are: {', '.join(sites)}")


def _species(reading: _Reading) -> str:
    by_name = {species.name.lower(): key for key, species in load_species().items()}
    by_name |= {key.replace("_", " "): key for key in load_species()}
    for name in sorted(by_name, key=len, reverse=True):
        if reading.take(re.escape(name).replace(r"\ ", "[ _-]")):
            return by_name[name]
    words = re.findall(r"[a-z]+", reading.left.lower())
    for word in words:
        alike = [key for key in load_species() if word in key.split("_")]
        if len(alike) == 1:
            reading.take(word)
            return alike[0]
        if alike:
            raise UsageError(f"which {word} is it? There are: {', '.join(alike)}")
    raise UsageError(f"which wood is it? Write it like {EXAMPLE}; `drywind species` lists them")


def _thickness(reading: _Reading) -> str:
    match = reading.take(r"(\d{1,2}/4|\d{2,3} ?mm)")
    if match is None:
        raise UsageError(f"how thick is it? Write it like 4/4 or 27mm, as in {EXAMPLE}")
    return match[1].replace(" ", "")


def _when(reading: _Reading, zone: ZoneInfo, now: datetime) -> str:
    """Return when it was stacked, ISO 8601; empty where nothing is said of it."""
    readers: list[tuple[str, Callable[[re.Match[str], date], date]]] = [
        (r"(\d{4}-\d\d-\d\d)", lambda m, _: date.fromisoformat(m[1])),
        (r"today|this morning", lambda _, today: today),
        (r"yesterday", lambda _, today: today - timedelta(days=1)),
        (
            rf"(\d{{1,3}}|{'|'.join(NUMBERS)}|an?) (days?|weeks?) ago",
            lambda m, today: today - _count(m[1]) * timedelta(days=7 if m[2][0] in "wW" else 1),
        ),
        (
            rf"(?:last |on )?({'|'.join(WEEKDAYS)})[a-z]*",
            lambda m, today: today - timedelta(days=_days_since(m[1], today)),
        ),
        (rf"({'|'.join(MONTHS)})[a-z]*\.? (\d{{1,2}})(?:st|nd|rd|th)?", _month_day),
        (
            rf"(\d{{1,2}})(?:st|nd|rd|th)?\.? (?:of )?({'|'.join(MONTHS)})[a-z]*",
            lambda m, today: _latest(m[2], m[1], today),
        ),
    ]
    today = now.astimezone(zone).date()
    exact = reading.take(r"(\d{4}-\d\d-\d\dT\d\d:\d\d\S*)")
    if exact is not None:
        return exact[1]
    for pattern, day_of in readers:
        match = reading.take(rf"(?:since |on )?(?:{pattern})")
        if match is None:
            continue
        try:
            noon = datetime.combine(day_of(match, today), NOON, zone).astimezone(UTC)
        except (ValueError, OverflowError):
            raise UsageError(f"{match[0]!r} is no day there is") from None
        return min(noon, now).isoformat()
    return ""


def _count(words: str) -> int:
    lower = words.lower()
    if lower in {"a", "an"}:
        return 1
    return NUMBERS.index(lower) if lower in NUMBERS else int(words)


def _days_since(weekday: str, today: date) -> int:
    """Return how many days ago such a day last was; a week where it is today."""
    return (today.weekday() - WEEKDAYS.index(weekday[:3].lower())) % 7 or 7


def _month_day(match: re.Match[str], today: date) -> date:
    return _latest(match[1], match[2], today)


def _latest(month: str, day: str, today: date) -> date:
    """Return the last such day up to today."""
    found = date(today.year, MONTHS.index(month[:3].lower()) + 1, int(day))
    return found if found <= today else found.replace(year=found.year - 1)


def _all(reading: _Reading, patterns: Mapping[Measure, str] | Mapping[Trait, str]) -> str:
    return " ".join(name for name, pattern in patterns.items() if reading.take(pattern))


def _new_name(species: str, taken: set[str]) -> str:
    """Return a name for the stack: the first letters of its wood, and a number."""
    letters = "".join(word[0] for word in species.split("_")).upper()
    return next(f"{letters}{i}" for i in range(1, 10_000) if f"{letters}{i}" not in taken)
