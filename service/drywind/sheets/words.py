"""How a stack stands and what was done to it, in words."""

from drywind.alerts.wording import Reader
from drywind.samples import Entry
from drywind.units import INCH_M, Units
from drywind.yard import Event, EventKind, Measure


def event_words(event: Event, reader: Reader) -> str:
    """Return what was entered of a stack."""
    match event.kind:
        case EventKind.COVERED | EventKind.UNCOVERED:
            return _cover_words(event)
        case EventKind.MOVED:
            return f"moved to {event.detail}"
        case EventKind.RESTICKERED:
            return f"restacked on {sticker_words(float(event.detail), reader.units)} stickers"
        case EventKind.WEIGHED | EventKind.METERED | EventKind.SAMPLED | EventKind.OVEN_DRIED:
            return _board_words(event)
        case _:
            return event.kind.value


def _board_words(event: Event) -> str:
    told, what = Entry.read(event.detail), event.kind.value.replace("_", "-")
    mc_pct = told.mc_pct if told.meter_pct is None else told.meter_pct
    found = "" if mc_pct is None else f": {mc_pct:.0f} % MC"
    return f"{what}{found}" if told.kg is None else f"board {told.board} {what}{found}"


def sticker_words(thickness_m: float, units: Units) -> str:
    """Return a sticker's thickness as its reader measures it, to the eighth of an inch."""
    if units is Units.METRIC:
        return f"{1000 * thickness_m:.0f} mm"
    whole, eighths = divmod(round(8 * thickness_m / INCH_M), 8)
    parts = 8
    while eighths and eighths % 2 == 0:
        eighths, parts = eighths // 2, parts // 2
    told = ([str(whole)] if whole else []) + ([f"{eighths}/{parts}"] if eighths else [])
    return f"{' '.join(told)} in"


def _cover_words(event: Event) -> str:
    is_on = event.kind is EventKind.COVERED
    if event.detail == Measure.PACKS_CLOSED:
        return "packs closed up" if is_on else "packs opened up"
    return f"{event.detail.replace('_', ' ')} {'on' if is_on else 'off'}"
