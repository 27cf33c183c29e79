"""`drywind places`: where in the yard a wood dries best, which wood suits a spot, and the plan."""

import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    print_json,
    read_now,
)
from drywind.config import Config
from drywind.errors import UsageError
from drywind.store import Store
from drywind.units import Thickness
from drywind.wood.species import find_species, load_species
from drywind.yard import Setup, Stack

MODES = "give --species (where does it dry best?), --site (what suits it?) or --plan"


@click.command()
@click.option("--species", help="Where in the yard does this wood dry best, month by month?")
@click.option("--thickness", default="4/4", show_default=True, help="Of the boards.")
@click.option("--site", "sites", multiple=True, help="Only this site; alone: which woods suit it?")
@click.option("--month", "months", multiple=True, type=click.IntRange(1, 12), help="Only these.")
@click.option("--plan", is_flag=True, help="Which lots and stacks should go where, as it stands?")
@click.option("--plot", type=click.Path(dir_okay=False), help="Draw it: a .svg, .png or .pdf.")
@config_option
@now_option
@json_option
def places(config_path: str | None, now: str | None, as_json: bool, **given: Any) -> None:
    """Rank the yard's sites by the weather of past years, or plan what goes where now."""
    config = load_config(config_path)
    instant = read_now(now, config)
    if given["plan"] and (given["species"] or given["months"] or given["plot"]):
        raise UsageError("--plan takes none of --species, --month and --plot")
    if not (given["plan"] or given["species"] or given["sites"]):
        raise UsageError(MODES)
    with open_store(config) as store:
        if given["plan"]:
            _plan(config, store, instant, as_json=as_json)
        else:
            _rank(config, store, instant, given, as_json=as_json)


def _rank(
    config: Config, store: Store, now: datetime, given: dict[str, Any], *, as_json: bool
) -> None:
    from drywind.cli import place_views as views  # noqa: PLC0415 - numpy only where it is needed
    from drywind.judge.places import places as judged  # noqa: PLC0415
    from drywind.planning import places_yard  # noqa: PLC0415

    if given["plot"] is not None:
        from drywind.plots.paper import check_kind  # noqa: PLC0415 - matplotlib takes a second

        check_kind(Path(given["plot"]))
    size = Thickness.parse(given["thickness"])
    alone = given["species"] is None
    names = list(load_species()) if alone else [find_species(given["species"]).key]
    this_month = (now.astimezone(config.zone).month,) if alone else tuple(range(1, 13))
    months = given["months"] or this_month
    yard, years = places_yard(config, store, now, given["sites"], months)
    first = next(iter(config.sites))
    woods = [Stack("wood", name, size, now, Setup(first)) for name in names]
    quiet = as_json or not sys.stderr.isatty()
    with click.progressbar(length=yard.steps, label="trying", hidden=quiet, file=sys.stderr) as bar:
        found = judged(woods, yard, bar.update)
    shown = views.Shown(tuple(found), years, is_by_wood=alone)
    if given["plot"] is not None:
        from drywind.plots.place_months import draw  # noqa: PLC0415 - matplotlib takes a second

        draw(shown.found, years, Path(given["plot"]))
    if as_json:
        print_json(views.places_json(shown))
    else:
        click.echo(views.places_words(shown))


def _plan(config: Config, store: Store, now: datetime, *, as_json: bool) -> None:
    from drywind.cli import plan_views as views  # noqa: PLC0415 - numpy only where it is needed
    from drywind.yard_plan import yard_plan  # noqa: PLC0415

    quiet = as_json or not sys.stderr.isatty()
    with click.progressbar(length=1, label="trying", hidden=quiet, file=sys.stderr) as bar:
        plan = yard_plan(config, store, now)
        bar.update(1)
    if as_json:
        print_json(views.plan_json(plan))
    else:
        click.echo(views.plan_words(plan))
