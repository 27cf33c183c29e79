"""The words of a saw day: why it ranks where it does, and what to make of a lot."""

import math
from collections.abc import Iterator, Sequence

from drywind.alerts.wording import COLD_C, HOT_C, WINDY_MS, Reader, doing
from drywind.judge.measures import Remedy
from drywind.judge.sawing import DayAir, LotDays, SawDay, Verdict
from drywind.units import temperature_text
from drywind.wood.species import find_species

FRONT_K = 5.0
"""So much colder than the two days before is called a cold front (assumption, for words only)."""

DAMP_RH, DRY_MEAN_RH = 0.80, 0.55
"""From where two days are called damp, and up to where dry, in the mean (as above)."""

TELLING = 0.75
"""Stain of another day is named where this day's is no more than this share of it (as above)."""

LITTLE = 0.05

HALVES = ((0.15, "a tenth of"), (0.3, "a quarter of"), (0.42, "a third of"), (0.6, "half of"))

VERDICTS = {
    Verdict.GOOD: "good",
    Verdict.WITH_MEASURE: "good with a measure",
    Verdict.CHANCY: "chancy",
    Verdict.NO: "no",
    Verdict.UNKNOWN: "unknown",
}


def why(day: SawDay, others: Sequence[SawDay], reader: Reader) -> str:
    """Write why a day ranks where it does, in plain words.

    Parameters
    ----------
    others
        Days of the same lot and site, to compare with.
    """
    fare = day.usual
    if fare is None:
        return "hours of weather are missing"
    parts = [*_stain(day, others), f"{fare.board} boards at {_percent(fare.worst_ratio)} of limit"]
    if day.remedy is not None and day.helped is not None:
        then = f"{_percent(day.helped.worst_ratio)}, stain {_percent(day.helped.stain_index)}"
        parts.append(f"{stacking(day.remedy)} -> {then}")
    if day.is_old:
        parts.append("old logs tighten the limit")
    return f"{air_words(day.air, reader)}: {'; '.join(parts)}"


def air_words(air: DayAir, reader: Reader) -> str:
    """Write the weather of a day and the next: cold front, 42-55F, RH 60%."""
    low, high = (temperature_text(c, reader.units) for c in (air.low_c, air.high_c))
    return f"{air_kind(air)}, {low[:-1]} to {high}, RH {air.rh:.0%}"


def air_kind(air: DayAir) -> str:
    """Name the weather of a day and the next."""
    if not air.foretold:
        return "usual for the season"
    if air.change_c <= -FRONT_K:
        return "cold front"
    words = [
        "hot" if air.high_c >= HOT_C else "cold" if air.high_c <= COLD_C else "",
        "damp" if air.rh >= DAMP_RH else "dry" if air.rh <= DRY_MEAN_RH else "",
        "wind" if air.wind_ms >= WINDY_MS else "",
    ]
    if any(words):
        return " ".join(word for word in words if word)
    return "turning warm" if air.change_c >= FRONT_K else "mild"


def _stain(day: SawDay, others: Sequence[SawDay]) -> Iterator[str]:
    assert day.usual is not None
    if not find_species(day.parcel.lot.species).stain:
        return
    mine = day.usual.stain_index
    if mine < LITTLE:
        if any(o.usual is not None and o.usual.stain_index >= LITTLE for o in others):
            yield "no stain"
        return
    known = [o for o in others if o.usual is not None]
    worst = max(known, key=lambda o: o.usual.stain_index if o.usual else 0.0, default=None)
    words = f"stain {_percent(mine)} of what shows"
    if worst is not None and worst.usual is not None:
        share = mine / max(worst.usual.stain_index, mine)
        part = next((name for most, name in HALVES if share <= most), None)
        if share <= TELLING:
            words += f", {part or 'less than'} {worst.day:%a}'s"
    if day.stain_waiting >= mine / 2:
        words += " (most of it in the log)"
    yield words


def lot_words(lot: LotDays, reader: Reader) -> str:
    """Write what to do with a lot: saw Thu Jun 12, stack at shed; or not in the next ten days."""
    best, name = lot.best, parcel_words(lot)
    by = f" Saw {reader.deadline(lot.saw_by)}{_by_what(lot)}." if lot.saw_by else ""
    if best is None:
        return f"{name}: unknown, the forecast lacks hours.{by}"
    where = f"{best.day:%a %b} {best.day.day}, stack at {best.site}"
    if lot.is_good:
        work = f", {stacking(best.remedy)}" if best.remedy else ""
        return f"{name}: saw {where}{work}.{by}"
    return f"{name}: not in the next ten days; least bad is {where}.{by}"


def stacking(remedy: Remedy) -> str:
    """Write what to do to a stack as it is put up."""
    return doing(remedy).replace("restack on", "stack on")


def parcel_words(lot: LotDays) -> str:
    """Write which lot: L4 hard maple 4/4."""
    parcel = lot.parcel
    return f"{parcel.lot.id} {parcel.lot.species.replace('_', ' ')} {parcel.thickness.label}"


def _by_what(lot: LotDays) -> str:
    return "" if lot.is_foretold else ", as past years went"


def _percent(share: float) -> str:
    return "?" if math.isnan(share) else f"{share:.0%}"
