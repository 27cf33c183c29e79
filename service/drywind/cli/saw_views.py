"""Saw days as plain dictionaries for `--json`, and as tables for the terminal.

Keys are a contract: units stand in them, what is unknown is None.
"""

from collections.abc import Iterator
from datetime import datetime
from textwrap import fill

from drywind.alerts.saw_words import VERDICTS, lot_words, stacking, why
from drywind.alerts.wording import Reader
from drywind.cli.records import Json
from drywind.cli.told import COLUMNS, paragraph
from drywind.clock import iso
from drywind.config import Config
from drywind.judge.sawing import Fare, LotDays, SawBoard, SawDay

FARE = (
    "worst_ratio",
    "worst_board",
    "stain_index",
    "chance_over_limit",
    "chance_stain",
    "chance_safe",
)

SHOWN = 6
"""Of each lot so many of the best days and sites are shown."""


def reader_of(config: Config, now: datetime) -> Reader:
    """Return how the yard reads."""
    return Reader(config.units, config.zone, now)


def board_json(board: SawBoard, reader: Reader) -> list[Json]:
    """Return every day at every site of every lot and thickness, the best first."""
    found = [(day, _day_json(day, lot, board, reader)) for lot in board.lots for day in lot.days]
    found.sort(key=lambda pair: (pair[0].score is None, -(pair[0].score or 0.0), pair[0].day))
    return [told for _, told in found]


def _day_json(day: SawDay, lot: LotDays, board: SawBoard, reader: Reader) -> Json:
    usual = fare_json(day.usual)
    return {
        "date": day.day.isoformat(),
        "lot": day.parcel.lot.id,
        "species": day.parcel.lot.species,
        "thickness": day.parcel.thickness.label,
        "site": day.site,
        "score": None if day.score is None else round(day.score, 1),
        **usual,
        "verdict": day.verdict,
        "why": why(day, _same_site(day, lot), reader),
        "measure": stacking(day.remedy) if day.remedy else None,
        "with_measure": fare_json(day.helped) if day.helped else None,
        "days_to_20_pct": None if day.days_to_20 is None else round(day.days_to_20),
        "stain_index_waiting": round(day.stain_waiting, 2),
        "old_logs": day.is_old,
        "foretold": day.air.foretold,
        "saw_by": iso(lot.saw_by) if lot.saw_by else None,
        "saw_by_foretold": lot.is_foretold,
        "good_day_in_next_ten": lot.is_good,
        "past_years": board.past_years,
    }


def fare_json(fare: Fare | None) -> Json:
    """Return how boards fare; every key is there, None where it is unknown."""
    if fare is None:
        return dict.fromkeys(FARE)
    return {
        "worst_ratio": round(fare.worst_ratio, 2),
        "worst_board": fare.board,
        "stain_index": round(fare.stain_index, 2),
        "chance_over_limit": round(fare.over_chance, 2),
        "chance_stain": round(fare.stain_chance, 2),
        "chance_safe": round(fare.safe_chance, 2),
    }


def board_words(board: SawBoard, reader: Reader) -> str:
    """Return each lot's best days to read, 80 columns wide."""
    if not board.lots:
        return "No lot waits for the saw; register logs with `drywind lot add`."
    return "\n".join([*_lots(board, reader), *_foot(board)])


def _lots(board: SawBoard, reader: Reader) -> Iterator[str]:
    for lot in board.lots:
        yield paragraph(lot_words(lot, reader))
        yield f"  {'day':<10} {'site':<16} score  chance ok  to 20 %  verdict"
        for day in lot.days[:SHOWN]:
            yield _row(day)
            yield indented(why(day, _same_site(day, lot), reader))
        yield ""


def _foot(board: SawBoard) -> Iterator[str]:
    yield paragraph(
        "Score: 0 to 100; at a limit it is 50 or less. Chance ok: of keeping within every limit in"
        f" the first ten days. After the forecast the weather is that of {board.past_years}."
    )


def _row(day: SawDay) -> str:
    fare = day.best
    score = "?" if day.score is None else f"{day.score:.0f}"
    chance = "?" if fare is None else f"{fare.safe_chance:.0%}"
    dry = "> 1 year" if day.days_to_20 is None else f"{day.days_to_20:.0f} d"
    on = f"{day.day:%a %b} {day.day.day}"
    return f"  {on:<10} {day.site:<16} {score:>5}  {chance:>9}  {dry:>8} {VERDICTS[day.verdict]}"


def summary(board: SawBoard, reader: Reader) -> list[str]:
    """Return what to do with each lot, a line each."""
    return [lot_words(lot, reader) for lot in board.lots]


def indented(text: str) -> str:
    """Return words under the row they belong to."""
    return fill(text, COLUMNS, initial_indent="      ", subsequent_indent="      ")


def _same_site(day: SawDay, lot: LotDays) -> list[SawDay]:
    return [other for other in lot.days if other.site == day.site]
