"""The drawings of the page: shapes in SVG that stretch with the page, words beside them in HTML.

An SVG that is stretched would stretch its words, too; so numbers and names are placed over it, in
shares of its width and height. Everything drawn is told in words or tables as well.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from math import ceil
from zoneinfo import ZoneInfo

from markupsafe import Markup, escape

from drywind.report.record import Line, PlaceAhead, StackCurve, Values

SIZE = 1000
"""Shapes are drawn on a square of so many units."""

MOST_TICKS, MOST_LEVELS = 6, 6
APART = 5.0
"""Percent of the width below which two numbers would lie over each other."""
HEADROOM = 1.12


@dataclass(frozen=True)
class Label:
    """Words over a drawing, at shares of its width and height in percent."""

    words: str
    x: float
    y: float = 0.0


@dataclass(frozen=True)
class Drawing:
    """Shapes, and the words that stand over them."""

    shapes: Markup
    xs: tuple[Label, ...]
    ys: tuple[Label, ...] = ()
    marks: tuple[Label, ...] = ()
    dots: tuple[Label, ...] = ()


class Scale:
    """Instants and values as places on the drawing."""

    def __init__(
        self, start: datetime, end: datetime, top: float = 1.0, bottom: float = 0.0
    ) -> None:
        self.start, self.end = start, end
        self.span_s = max((end - start).total_seconds(), 1.0)
        self.top, self.bottom = top, bottom

    def x(self, at: datetime) -> int:
        """Return how far right an instant lies, 0 to `SIZE`."""
        return round(SIZE * (at - self.start).total_seconds() / self.span_s)

    def y(self, value: float) -> int:
        """Return how far down a value lies, 0 to `SIZE`."""
        return round(
            SIZE * (1.0 - min(max((value - self.bottom) / (self.top - self.bottom), 0.0), 1.0))
        )


def curve_drawing(curve: StackCurve, zone: ZoneInfo) -> Drawing:
    """Draw moisture content by time: a line and a band a board, and the safe pace."""
    known = [v for line in curve.lines for v in (*line.mc_pct, *line.low_pct) if v is not None]
    known += [reading.mc_pct for reading in curve.readings]
    bottom, top = max(0.0, 10.0 * (min(known) // 10.0 - 1.0)), 5.0 * ceil(max(known) / 5.0) + 2.0
    scale = Scale(curve.times[0], curve.times[-1], top, bottom)
    step = next(s for s in (5, 10, 20, 25, 50, 100) if (top - bottom) / s <= MOST_LEVELS)
    levels = [step * i for i in range(int(bottom // step) + 1, ceil(top / step))]
    shapes = [
        _ahead(curve, scale),
        _path("grid", "".join(f"M0 {scale.y(level)}H{SIZE}" for level in levels)),
        *(_band(curve.times, line, scale) for line in curve.lines),
        _path("pace", _line(curve.times, curve.pace_pct, scale)),
        *(
            _path(f"board {line.board}", _line(curve.times, line.mc_pct, scale))
            for line in reversed(curve.lines)
        ),
    ]
    return Drawing(
        Markup("").join(shapes),
        xs=tuple(_days(scale, zone)),
        ys=tuple(Label(f"{level:g}", 0.0, scale.y(level) / 10) for level in levels),
        marks=tuple(_events(curve, scale)),
        dots=tuple(
            Label(f"{r.how} {r.mc_pct:.0f} %", scale.x(r.at) / 10, scale.y(r.mc_pct) / 10)
            for r in curve.readings
        ),
    )


def loss_drawing(curve: StackCurve) -> Drawing | None:
    """Draw what is lost each day, under the safe loss; None where no day is known."""
    if curve.most_lost_pct is None:
        return None
    top = HEADROOM * curve.most_lost_pct
    scale = Scale(curve.times[0], curve.times[-1], top)
    bars, over, safe = list[str](), list[str](), list[str]()
    marks = []
    for day in curve.days:
        left, right = scale.x(day.start), scale.x(day.end)
        inset = max(1, (right - left) // 8)
        if day.loss_pct is not None:
            bar = f"M{left + inset} {SIZE}V{scale.y(day.loss_pct)}H{right - inset}V{SIZE}Z"
            (over if day.over else bars).append(bar)
        if day.over and day.loss_pct is not None:
            marks.append(
                Label(f"{day.loss_pct:.1f}", (left + right) / 20, scale.y(day.loss_pct) / 10)
            )
        if day.safe_pct is not None and day.safe_pct <= top:
            safe.append(f"M{left} {scale.y(day.safe_pct)}H{right}")
    shapes = [
        _ahead(curve, scale),
        _path("bars", "".join(bars)),
        _path("bars over", "".join(over)),
        _path("safe", "".join(safe)),
    ]
    return Drawing(Markup("").join(shapes), xs=(), marks=tuple(marks))


@dataclass(frozen=True)
class StripRow:
    """One line of a strip, by its name; `peak` is its highest value."""

    name: str
    kind: str
    shapes: Markup
    peak: float | None


@dataclass(frozen=True)
class Strip:
    """The hours of the days ahead at a place, a line for each thing told of them."""

    days: tuple[Label, ...]
    rows: tuple[StripRow, ...]


def strip(place: PlaceAhead, zone: ZoneInfo, most_drying: float) -> Strip:
    """Draw the days ahead; `most_drying` is the top of the scale all sites share."""
    hours = len(place.wind_ms)
    end = place.start + timedelta(hours=hours)
    scale = Scale(place.start, end, 1.0)
    midnights = _midnights(place.start, end, zone)
    ticks = _path("grid", "".join(f"M{scale.x(m)} 0V{SIZE}" for m in midnights))
    lines = [(s.name, "drying", s.drying_mm, most_drying) for s in place.sites]
    lines += [
        ("EMC", "emc", place.emc_pct, 24.0),
        ("wind", "wind", place.wind_ms, max(_most(place.wind_ms), 10.0)),
        ("rain", "rain", place.rain_mm, max(_most(place.rain_mm), 4.0)),
        ("sun", "sun", place.sun_wm2, 1000.0),
    ]
    rows = [
        StripRow(
            name,
            kind,
            ticks + _unknown(values) + _path(kind, "".join(_areas(values, top))),
            max((v for v in values if v is not None), default=None),
        )
        for name, kind, values, top in lines
    ]
    edges = [place.start, *midnights, end]
    days = [
        Label(f"{a.astimezone(zone):%a}"[:2], (scale.x(a) + scale.x(b)) / 20)
        for a, b in pairwise(edges)
        if b - a >= timedelta(hours=12)
    ]
    return Strip(tuple(days), tuple(rows))


def _areas(values: Values, top: float) -> Iterator[str]:
    """Yield the outline of each stretch of known hours, in steps."""
    width = SIZE / len(values)
    at = 0
    for known, group in groupby(values, key=lambda v: v is not None):
        part = list(group)
        if known:
            yield f"M{at * width:.0f} {SIZE}"
            for i, value in enumerate(part, start=at + 1):
                share = min(max((value or 0.0) / top, 0.0), 1.0)
                yield f"V{SIZE * (1.0 - share):.0f}H{i * width:.0f}"
            yield f"V{SIZE}Z"
        at += len(part)


def _unknown(values: Values) -> Markup:
    """Draw the hours nobody knows."""
    width, at, shapes = SIZE / len(values), 0, []
    for known, group in groupby(values, key=lambda v: v is not None):
        count = len(list(group))
        if not known:
            shapes.append(
                f"M{at * width:.0f} 0H{(at + count) * width:.0f}V{SIZE}H{at * width:.0f}Z"
            )
        at += count
    return _path("unknown", "".join(shapes))


def _ahead(curve: StackCurve, scale: Scale) -> Markup:
    """Draw the ground of what is only forecast, the line of now, and the hours nobody knows."""
    now = scale.x(curve.now)
    gaps = "".join(
        f"M{scale.x(max(start, scale.start))} 0H{scale.x(end)}V{SIZE}H{scale.x(start)}Z"
        for start, end in curve.gaps
    )
    ground = _path("ahead", f"M{now} 0H{SIZE}V{SIZE}H{now}Z")
    return ground + _path("unknown", gaps) + _path("now", f"M{now} 0V{SIZE}")


def _band(times: Sequence[datetime], line: Line, scale: Scale) -> Markup:
    known = [
        (at, low, high)
        for at, low, high in zip(times, line.low_pct, line.high_pct, strict=True)
        if low is not None and high is not None
    ]
    if len(known) <= 1:
        return Markup("")
    there = [f"{scale.x(at)} {scale.y(high)}" for at, _, high in known]
    back = [f"{scale.x(at)} {scale.y(low)}" for at, low, _ in reversed(known)]
    return _path(f"band {line.board}", f"M{'L'.join([*there, *back])}Z")


def _line(times: Sequence[datetime], values: Values, scale: Scale) -> str:
    """Return a line through the points that are known."""
    parts, pen = [], "M"
    for at, value in zip(times, values, strict=True):
        if value is None:
            pen = "M"
            continue
        parts.append(f"{pen}{scale.x(at)} {scale.y(value)}")
        pen = "L"
    return "".join(parts)


def _path(kind: str, shape: str) -> Markup:
    if not shape:
        return Markup("")
    return Markup(f'<path class="{escape(kind)}" d="{escape(shape)}"/>')  # noqa: S704 - escaped


def _days(scale: Scale, zone: ZoneInfo) -> Iterator[Label]:
    """Yield the days to name below a curve, none of them near an end."""
    midnights = _midnights(scale.start, scale.end, zone)
    every = max(1, ceil(len(midnights) / MOST_TICKS))
    for midnight in midnights[::every]:
        local = midnight.astimezone(zone)
        x = scale.x(midnight) / 10
        if 3.0 < x < 95.0:  # noqa: PLR2004 - percent of the width, where a name has room
            yield Label(f"{local:%b} {local.day}", x)


def _events(curve: StackCurve, scale: Scale) -> Iterator[Label]:
    """Yield the numbers of what was entered; of those too near each other the first and last."""
    places = [scale.x(max(entry.at, scale.start)) / 10 for entry in curve.entries]
    at = 0
    while at < len(places):
        last = at
        while last + 1 < len(places) and places[last + 1] - places[at] < APART:
            last += 1
        yield Label(f"{at + 1}" if last == at else f"{at + 1}-{last + 1}", places[at])
        at = last + 1


def _midnights(start: datetime, end: datetime, zone: ZoneInfo) -> list[datetime]:
    """Return the local midnights after `start`, up to `end`."""
    day = start.astimezone(zone).date() + timedelta(days=1)
    found = []
    while (at := datetime(day.year, day.month, day.day, tzinfo=zone)) < end:
        found.append(at)
        day += timedelta(days=1)
    return found


def _most(values: Values) -> float:
    return max((v for v in values if v is not None), default=0.0)
