"""The command that prints every assumption, and what a change of it does."""

import sys
from collections.abc import Iterable, Sequence
from math import isinf
from typing import TYPE_CHECKING, Any

import click

from drywind.cli.common import json_option, print_json
from drywind.units import Thickness
from drywind.wood.species import find_species
from drywind.yard import Exposure, Ground, Measure, Setup, Site

if TYPE_CHECKING:
    from drywind.judge.sensitivity import Assumption, Effect, Lumber, Pair
    from drywind.learn.priors import Row

COLUMNS = {
    "hot": ("hot", 9, 2),
    "cold": ("cold", 9, 2),
    "shell_pct": ("shell", 5, 0),
    "check": ("check", 9, 2),
    "stain": ("stain", 7, 1),
    "rain_pct": ("rain", 7, 1),
    "days_to_20_pct": ("days", 7, 0),
}
"""Of each effect the head, the width and the digits printed."""
LEGEND = """
Each row: what comes of its low/high end, the others as they are. hot, cold: how
bad the first two days are for the outer board of a fresh stack, 1 being the
limit, at 95 F and 25 %, at 41 F and 40 %. shell: the least MC % of its outer
millimeter in three hot days. check: its stress over its toughness then, to
compare only. stain: days at 68 F that enzymatic stain has run in four damp
days. rain: points gained in 12 hours of it, from 25 %. days: to 20 % when mild;
never is not within 200. Weather is made: days all alike."""


@click.command()
@click.argument("species", default="red_oak")
@click.option("--thickness", default="4/4", show_default=True, help="Like 4/4 or 27mm.")
@click.option(
    "--exposure",
    type=click.Choice([one.value for one in Exposure]),
    default="open",
    show_default=True,
)
@click.option(
    "--ground",
    type=click.Choice([one.value for one in Ground]),
    default="gravel",
    show_default=True,
)
@click.option("--cover", "covers", multiple=True, type=click.Choice([one.value for one in Measure]))
@json_option
def sensitivity(
    *,
    species: str,
    thickness: str,
    exposure: str,
    ground: str,
    covers: Sequence[str],
    as_json: bool,
) -> None:
    """Print every assumption drywind makes, its range, and what it does.

    SPECIES dries as a fresh stack in made weather; red_oak where none is named. Say how it stands
    to see what the assumptions of a shed or of a cover do.
    """
    from drywind.judge.sensitivity import Lumber, assumptions, effects  # noqa: PLC0415 - numpy

    around = Exposure(exposure)
    site = Site(
        *("yard", 40.0, -85.0, 250.0),
        around,
        roof=around is not Exposure.OPEN,
        ground=Ground(ground),
    )
    lumber = Lumber(
        find_species(species),
        Thickness.parse(thickness),
        site,
        Setup(site.name, measures=frozenset(Measure(c) for c in covers)),
    )
    base, pairs = effects(lumber)
    shown = sys.stderr.isatty() and not as_json
    with click.progressbar(
        pairs, length=len(assumptions()), label="drying", hidden=not shown, file=sys.stderr
    ) as bar:
        found = list(bar)
    if as_json:
        print_json(_as_json(base, found))
    else:
        _print(lumber, base, found)


def _print(lumber: "Lumber", base: "Effect", found: "Sequence[Pair]") -> None:
    from drywind.learn.assumed import learning_rows  # noqa: PLC0415 - numpy only here

    click.echo(
        _line(f"{lumber.species.key} {lumber.thickness.label}", [h for h, *_ in COLUMNS.values()])
    )
    click.echo(_line("as we believe it", [_figure(n, v) for n, v in base._asdict().items()]))
    idle = []
    for assumption, low, high in found:
        cells = [_pair(*figures) for figures in zip(COLUMNS, base, low, high, strict=True)]
        if not any(cells):
            idle.append(assumption)
            continue
        click.echo(_line(assumption.name, cells))
        click.echo(_reason(assumption))
    click.echo("\nWithout effect on a stack that stands so:")
    for assumption in idle:
        click.echo(f"{assumption.name}\n{_reason(assumption)}")
    click.echo("\nOf what weighings, loggers and outcomes teach, once there are any:")
    for row in learning_rows():
        click.echo(f"{row.name}\n{_reason(row)}")
    click.echo(LEGEND)


def _reason(assumption: "Assumption | Row") -> str:
    span = f"{assumption.value:g} ({assumption.low:g} to {assumption.high:g})"
    return click.wrap_text(
        f"{span}: {assumption.why}", width=80, initial_indent="  ", subsequent_indent="  "
    )


def _line(name: str, cells: Iterable[str]) -> str:
    columns = (c.rjust(width) for c, (_, width, _) in zip(cells, COLUMNS.values(), strict=True))
    return (f"{name:<19} " + " ".join(columns)).rstrip()


def _figure(name: str, value: float) -> str:
    return "never" if isinf(value) else f"{value:.{COLUMNS[name][2]}f}"


def _pair(name: str, base: float, low: float, high: float) -> str:
    figures = [_figure(name, value) for value in (low, high)]
    return "" if set(figures) == {_figure(name, base)} else "/".join(figures)


def _as_json(base: "Effect", found: "Sequence[Pair]") -> dict[str, Any]:
    from drywind.learn.assumed import learning_rows  # noqa: PLC0415 - numpy only here

    return {
        "learning": [row._asdict() for row in learning_rows()],
        "base": _effect_json(base),
        "assumptions": [
            {
                "name": assumption.name,
                "value": assumption.value,
                "low": assumption.low,
                "high": assumption.high,
                "why": assumption.why,
                "effect_of_low": _effect_json(low),
                "effect_of_high": _effect_json(high),
            }
            for assumption, low, high in found
        ],
    }


def _effect_json(effect: "Effect") -> dict[str, float | None]:
    return {n: None if isinf(v) else round(v, 4) for n, v in effect._asdict().items()}
