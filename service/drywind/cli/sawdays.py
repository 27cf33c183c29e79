"""`drywind sawdays`: which day to saw a lot, and where to stack it."""

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
from drywind.cli.entry import read_thicknesses
from drywind.config import Config
from drywind.errors import UsageError
from drywind.store import Store
from drywind.wood.species import find_species
from drywind.yard import LogLot

if TYPE_CHECKING:
    from drywind.planning import YardWeather


@click.command()
@click.option("--lot", "lots", multiple=True, help="Only this lot; may be given again.")
@click.option("--site", "sites", multiple=True, help="Only this site; may be given again.")
@click.option("--species", help="Instead of lots: trees of this wood, felled as they are sawn.")
@click.option("--thickness", help="What is sawn of it, like 4/4,8/4; else what the lot says.")
@click.option("--weather", type=click.Path(), help="A weather file instead of the forecast.")
@click.option("--plot", type=click.Path(dir_okay=False), help="Draw it: a .svg, .png or .pdf.")
@config_option
@now_option
@json_option
def sawdays(config_path: str | None, now: str | None, as_json: bool, **given: Any) -> None:
    """Rank the coming ten days, at every site with room, for each lot that waits for the saw."""
    config = load_config(config_path)
    instant = read_now(now, config)
    with open_store(config) as store:
        chosen = _lots(config, store, given, instant)
        config, weather = _weather(config, given["weather"], instant)
        asked = (chosen, given["sites"], weather, given["species"] is not None)
        _rank(config, store, instant, asked, (as_json, given["plot"]))


def _rank(
    config: Config,
    store: Store,
    now: datetime,
    asked: "tuple[list[LogLot], tuple[str, ...], YardWeather | None, bool]",
    shown: tuple[bool, str | None],
) -> None:
    from drywind.cli import saw_views as views  # noqa: PLC0415 - numpy only where it is needed
    from drywind.planning import Asked, parcels, saw_board  # noqa: PLC0415

    as_json, plot = shown
    if plot is not None:
        from drywind.plots.paper import check_kind  # noqa: PLC0415 - matplotlib takes a second

        check_kind(Path(plot))
    quiet = as_json or not sys.stderr.isatty()
    count = len(parcels(asked[0], now))
    with click.progressbar(length=count, label="trying", hidden=quiet, file=sys.stderr) as bar:
        lots, sites, weather, standing = asked
        wanted = Asked(lots, sites, weather, standing=standing)
        board = saw_board(config, store, now, wanted, bar.update)
    if plot is not None:
        from drywind.plots.saw_days import draw  # noqa: PLC0415 - matplotlib takes a second

        draw(board, Path(plot), views.reader_of(config, now))
    if as_json:
        print_json(views.board_json(board, views.reader_of(config, now)))
    else:
        click.echo(views.board_words(board, views.reader_of(config, now)))


def _lots(config: Config, store: Store, given: dict[str, Any], now: datetime) -> list[LogLot]:
    """Return the lots that are asked for, with what is to be sawn of them."""
    from dataclasses import replace  # noqa: PLC0415

    sizes = read_thicknesses(given["thickness"] or "")
    if given["species"] is not None:
        if given["lots"]:
            raise UsageError("--species and --lot: give one of them")
        wood, site = find_species(given["species"]).key, next(iter(config.sites))
        return [LogLot("new", wood, now, site, thicknesses=sizes)]
    lots = [lot for lot in store.lots(include_ended=True) if lot.waits_at(now)]
    if given["lots"]:
        lots = [store.lot(name) for name in given["lots"]]
    ready = [lot for lot in lots if lot.waits_at(now) and not lot.is_sawn_at(now)]
    lost = [lot for lot in ready if lot.site not in config.sites]
    if lost:
        raise UsageError(
            f"lot {lost[0].id} lies at {lost[0].site!r}, which is no site; there are:"
            f" {', '.join(config.sites)}"
        )
    if given["lots"] and not ready:
        raise UsageError(f"{', '.join(given['lots'])}: nothing waits for the saw")
    return [replace(lot, thicknesses=sizes or lot.thicknesses) for lot in ready]


def _weather(
    config: Config, path: str | None, now: datetime
) -> "tuple[Config, YardWeather | None]":
    """Return the yard moved to where a file's weather was measured, and that weather."""
    if path is None:
        return config, None
    from dataclasses import replace  # noqa: PLC0415

    from drywind.planning import in_file  # noqa: PLC0415 - numpy only where it is needed
    from drywind.weather.files import Place, read_weather_file  # noqa: PLC0415

    first = next(iter(config.sites.values()))
    file = read_weather_file(Path(path), Place(first.lat, first.lon, first.altitude_m))
    moved = {
        name: replace(site, lat=file.lat, lon=file.lon, altitude_m=file.altitude_m)
        for name, site in config.sites.items()
    }
    config = replace(config, sites=moved)
    return config, in_file(config, file, path, now)
