"""The page of a yard as one HTML file that needs nothing else: no server, script, font or network.

Every word goes through the template's escaping, whatever people named their stacks.
"""

import re
from collections import defaultdict
from datetime import date, datetime, timedelta
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from drywind.alerts.parts import Curve, Lines, Paragraph, Part
from drywind.alerts.wording import Reader
from drywind.errors import StoreError
from drywind.files import whole_file
from drywind.report.charts import Drawing, Strip, curve_drawing, loss_drawing, strip
from drywind.report.record import Day, PlaceAhead, StackCurve, State, Values, YardSheet
from drywind.units import Units, rain_text, temperature_text, wind_text

STATES = {
    State.OVER: "needs work",
    State.UNKNOWN: "unknown",
    State.WELL: "all well",
    State.DONE: "dry",
}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def render(sheet: YardSheet) -> str:
    """Return the page."""
    pages = Environment(
        loader=PackageLoader("drywind.report", "."),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_kept_together,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    pages.filters |= {"upper_first": _upper, "kind": _kind}
    template = pages.get_template("yard.html.jinja")
    return template.render(sheet=sheet, say=Sayer(sheet), states=STATES, months=MONTHS)


def write(text: str, path: Path) -> None:
    """Put a page in its place at one go, for its owner's eyes.

    Raises
    ------
    StoreError
        If it cannot be written; the page that was there stays.
    """
    try:
        with whole_file(path) as file:
            file.write(text.encode())
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}") from error


class Sayer:
    """What the template asks for: times, quantities and drawings as the page's reader has them."""

    def __init__(self, sheet: YardSheet) -> None:
        self.reader: Reader = sheet.reader
        self.dried = {
            site.name: _by_day(place.start, site.drying_mm, self.reader)
            for place in sheet.places
            for site in place.sites
        }
        self.most_drying = max(
            (v for p in sheet.places for s in p.sites for v in s.drying_mm if v is not None),
            default=1.0,
        )

    def moment(self, at: datetime) -> str:
        """Write a day and a time of day: Wed Jun 13, 5am."""
        return f"{self.date(at)}, {self.reader.clock(at)}"

    def date(self, at: datetime) -> str:
        """Write a day: Wed Jun 13."""
        local = at.astimezone(self.reader.zone)
        return f"{local:%a %b} {local.day}"

    def due(self, at: datetime | None) -> str:
        """Write by when something is to be done, for the margin."""
        return "soon" if at is None else self.reader.deadline(at).removeprefix("by ")

    def age(self, at: datetime) -> str:
        """Write how long ago something was."""
        gone = self.reader.now - at
        if gone < timedelta(hours=1):
            return "less than an hour ago"
        hours = gone / timedelta(hours=1)
        return f"{hours:.0f} h ago" if hours < 48 else f"{hours / 24:.0f} days ago"  # noqa: PLR2004

    def diary(self, place: PlaceAhead) -> list[tuple[str, str, str, str]]:
        """Return of each day ahead what kind it is, its name, its weather, and how it compares."""
        told: list[tuple[str, str, str, str]] = []
        for day in place.days:
            name = f"{day.date:%a} {day.date.day}"
            if day.high_c is None:
                return [*told, ("", name, "From here on not forecast yet.", "")]
            kind = "" if day.word == "fair" else day.word.capitalize()
            told.append((kind, name, f"{self._weather(day)}.", self._compared(place, day)))
        return told

    def _weather(self, day: Day) -> str:
        reads = self.reader.units
        degrees = "°F" if reads is Units.US else "°C"
        low, high = (
            "?" if celsius is None else temperature_text(celsius, reads)[:-1]
            for celsius in (day.low_c, day.high_c)
        )
        told = [
            f"{low} to {high} {degrees}",
            "" if day.low_rh is None else f"humidity down to {100 * day.low_rh:.0f} %",
            "" if day.wind_ms is None else f"wind up to {wind_text(day.wind_ms, reads)}",
            self._rain(day.rain_mm),
            "" if day.sun_kwh is None else f"sun {day.sun_kwh:.1f} kWh/m²",
            "" if day.emc_pct is None else f"EMC {day.emc_pct:.0f} %",
        ]
        return ", ".join(words for words in told if words)

    def _rain(self, rain_mm: float | None) -> str:
        if rain_mm is None:
            return "rain unknown"
        if rain_mm < 0.1:  # noqa: PLR2004 - what a gauge shows
            return "no rain"
        return f"{rain_text(max(rain_mm, 1.3), self.reader.units)} of rain"

    def _compared(self, place: PlaceAhead, day: Day) -> str:
        """Write how much each site could dry in a day, next to the strongest day of any."""
        strongest = max((mm for of in self.dried.values() for mm in of.values()), default=0.0)
        if not strongest:
            return ""
        told = [
            f"{site.name} {100 * self.dried[site.name][day.date] / strongest:.0f}"
            for site in place.sites
            if day.date in self.dried[site.name]
        ]
        return f"Drying power: {', '.join(told)}." if told else ""

    def strip(self, place: PlaceAhead) -> Strip:
        """Draw the days ahead of a place."""
        return strip(place, self.reader.zone, self.most_drying)

    def peak(self, kind: str, value: float | None) -> str:
        """Write the highest value of a line of the strip."""
        if value is None:
            return ""
        units = self.reader.units
        match kind:
            case "drying":
                return ""
            case "emc":
                return f"to {value:.0f} %"
            case "wind":
                return f"to {wind_text(value, units)}"
            case "rain":
                return f"to {rain_text(value, units)}/h" if value else "none"
            case _:
                return f"to {value:.0f} W/m²"

    def curve(self, curve: StackCurve) -> Drawing:
        """Draw the moisture content of a stack."""
        return curve_drawing(curve, self.reader.zone)

    def losses(self, curve: StackCurve) -> Drawing | None:
        """Draw what a stack loses each day."""
        return loss_drawing(curve)


def _by_day(start: datetime, values: Values, reader: Reader) -> dict[date, float]:
    """Return the sum of each local day of which all hours are known."""
    hours: dict[date, list[float | None]] = defaultdict(list)
    for i, value in enumerate(values):
        hours[(start + timedelta(hours=i)).astimezone(reader.zone).date()].append(value)
    known = {day: [v for v in of if v is not None] for day, of in hours.items()}
    return {day: sum(of) for day, of in known.items() if len(of) == len(hours[day])}


def _kept_together(value: object) -> object:
    """Keep a figure and its percent sign on one line."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return re.sub(r"(?<=\d) %", "\N{NO-BREAK SPACE}%", value)
    return value


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _kind(part: Part) -> str:
    kinds = {Paragraph: "paragraph", Lines: "lines", Curve: "curve"}
    return kinds.get(type(part), "headline")
