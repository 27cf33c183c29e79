"""Places as plain dictionaries for `--json`, and as tables for the terminal.

Keys are a contract: units stand in them, what is unknown is None.
"""

from calendar import month_abbr
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from statistics import fmean

from drywind.alerts.saw_words import VERDICTS, stacking
from drywind.cli.records import Json
from drywind.cli.saw_views import fare_json
from drywind.cli.told import paragraph
from drywind.judge.places import PlaceMonth


@dataclass(frozen=True)
class Shown:
    """What was found, by which past years, and whether woods are ranked rather than sites."""

    found: tuple[PlaceMonth, ...]
    years: str
    is_by_wood: bool

    def named(self, one: PlaceMonth) -> str:
        """Return what is ranked: the site, or the wood."""
        return one.species if self.is_by_wood else one.site


def places_json(shown: Shown) -> list[Json]:
    """Return every month of every site and wood, by month, the best first."""
    ranked = sorted(shown.found, key=lambda p: (p.month, p.score is None, -(p.score or 0.0)))
    return [_json(one, shown.years) for one in ranked]


def _json(one: PlaceMonth, years: str) -> Json:
    return {
        "species": one.species,
        "thickness": one.thickness,
        "site": one.site,
        "month": one.month,
        "starts": one.starts,
        "score": _rounded(one.score, 1),
        **fare_json(one.usual),
        "days_over_limit": round(one.days_over, 1),
        "verdict": one.verdict,
        "best_setup": stacking(one.remedy) if one.remedy else "as usual",
        "with_measure": fare_json(one.helped) if one.helped else None,
        "days_over_limit_with_measure": _rounded(one.days_over_helped, 1),
        "days_to_25_pct": _rounded(one.days_to_25),
        "days_to_20_pct": _rounded(one.days_to_20),
        "days_to_20_pct_nine_in_ten": _rounded(one.slowest_to_20),
        "kiln_ready_date": one.kiln_ready.isoformat() if one.kiln_ready else None,
        "past_years": years,
    }


def places_words(shown: Shown) -> str:
    """Return the ranking to read, 80 columns wide."""
    return "\n".join([*_ranking(shown), "", *_months(shown), *_foot(shown)])


def _ranking(shown: Shown) -> Iterator[str]:
    """Return each place, or wood, by its mean score over the months."""
    ordered = sorted(shown.found, key=shown.named)
    means = {
        name: fmean(one.score or 0.0 for one in mine)
        for name, mine in groupby(ordered, key=shown.named)
    }
    first = shown.found[0]
    what = (
        f"What suits {first.site}, {first.thickness}"
        if shown.is_by_wood
        else f"Where {first.species.replace('_', ' ')} {first.thickness} dries best"
    )
    ranked = sorted(means, key=lambda name: -means[name])
    yield paragraph(f"{what}:", ", ".join(f"{_plain(n)} {means[n]:.0f}" for n in ranked) + ".")


def _months(shown: Shown) -> Iterator[str]:
    yield (f"{'':4}{'':<19}score  worst  stain  days over  to 25 %  to 20 %  ready")
    for month in dict.fromkeys(one.month for one in shown.found):
        mine = [one for one in shown.found if one.month == month]
        for i, one in enumerate(sorted(mine, key=lambda p: -(p.score or 0.0))):
            yield f"{month_abbr[month] if i == 0 else '':4}{_row(one, shown)}"
            if one.remedy is not None and one.helped is not None:
                yield (
                    f"      {stacking(one.remedy)}: worst {one.helped.worst_ratio:.0%},"
                    f" {one.days_over_helped:.0f} days over"
                )


def _row(one: PlaceMonth, shown: Shown) -> str:
    fare = one.usual
    worst = "?" if fare is None else f"{fare.worst_ratio:.0%}"
    stain = "?" if fare is None else f"{fare.stain_index:.0%}"
    ready = f"{one.kiln_ready:%b} {one.kiln_ready.day}" if one.kiln_ready else "-"
    score = "?" if one.score is None else f"{one.score:.0f}"
    return (
        f"{_plain(shown.named(one)):<19}{score:>5} {worst:>6} {stain:>6} {one.days_over:>10.0f}"
        f" {_days(one.days_to_25):>8} {_days(one.days_to_20):>8}  {ready:<7}{_mark(one)}"
    )


def _mark(one: PlaceMonth) -> str:
    return VERDICTS[one.verdict].split()[0]


def _foot(shown: Shown) -> Iterator[str]:
    starts = min(one.starts for one in shown.found)
    yield ""
    yield paragraph(
        f"Medians of {starts} stacks or more a month, by {shown.years}. Score: 0 to 100; at a"
        " limit it is 50 or less. Worst day until 25 % MC against the safe loss; stain as a share"
        " of what shows; 25 % is ready for the kiln. Trees are taken as felled on the day."
    )


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _days(days: float | None) -> str:
    return "> 1 yr" if days is None else f"{days:.0f} d"


def _rounded(value: float | None, digits: int = 0) -> float | None:
    if value is None:
        return None
    return round(value, digits) if digits else round(value)
