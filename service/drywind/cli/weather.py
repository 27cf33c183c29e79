"""`drywind weather`: past years of a site, which stand for the weeks no forecast reaches."""

from pathlib import Path

import click

from drywind.cli.common import config_option, json_option, load_config, open_store, print_json
from drywind.clock import utc_now
from drywind.db.shelf import KeptYear
from drywind.errors import UsageError
from drywind.yard import Site


@click.group()
def weather() -> None:
    """Hand in past years of weather, and see which ones saw days and places are judged by."""


@weather.command("import")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path())
@click.option("--site", required=True, help="Whose weather it was; sites within a km share it.")
@click.option("--name", help="What to call the place; the file's name if not given.")
@config_option
@json_option
def import_(
    files: tuple[str, ...], site: str, name: str | None, config_path: str | None, as_json: bool
) -> None:
    """Keep past years of a site: TMY2, TMY3, EPW, ISD-Lite or CSV files, plain or .gz.

    Of the same year the newer one is kept. A file that names no place is taken as the site's own.
    """
    config = load_config(config_path)
    at = config.site(site)
    found = [year for file in files for year in _read(Path(file), at, name)]
    with open_store(config) as store:
        for year in found:
            store.save_past_year(at.place, year)
        kept = store.past_years(at.place)
    rows = [_json(year) for year in found]
    if as_json:
        print_json(rows)
        return
    for row in rows:
        kind = "typical year" if row["is_typical"] else str(row["year"])
        click.echo(f"{row['name']}: {kind}, {row['known_hours']} hours known")
    click.echo(f"{site} now has {len(kept)} past year{'' if len(kept) == 1 else 's'}.")


@weather.command("list")
@config_option
@json_option
def list_(config_path: str | None, as_json: bool) -> None:
    """List which past years stand for each site's weather after the forecast ends."""
    from drywind.cli.told import paragraph  # noqa: PLC0415 - numpy only where it is needed
    from drywind.planning import usual_of  # noqa: PLC0415

    config, now = load_config(config_path), utc_now()
    with open_store(config) as store:
        usual = {site.name: usual_of(config, store, site, now) for site in config.sites.values()}
    if as_json:
        print_json(
            [
                {
                    "site": name,
                    "origin": years.origin,
                    "distance_km": round(years.distance_km, 1),
                    "years": [
                        {"name": y.name, "year": y.year, "is_typical": y.is_typical}
                        for y in years.years
                    ],
                    "words": years.words,
                }
                for name, years in usual.items()
            ]
        )
        return
    for name, years in usual.items():
        click.echo(paragraph(f"{name}: {years.words}"))


@weather.command()
@click.option("--site", required=True, help="Whose past years are to be forgotten.")
@config_option
def forget(site: str, config_path: str | None) -> None:
    """Forget the past years handed in for a site; the nearest shipped ones stand in again."""
    config = load_config(config_path)
    with open_store(config) as store:
        count = store.forget_past_years(config.site(site).place)
    click.echo(f"{count} past year{'' if count == 1 else 's'} of {site} forgotten.")


def _read(path: Path, site: Site, name: str | None) -> list[KeptYear]:
    from drywind.weather.files import Place, read_weather_file  # noqa: PLC0415
    from drywind.weather.usual import packed, years_of  # noqa: PLC0415

    file = read_weather_file(path, Place(site.lat, site.lon, site.altitude_m))
    called = name or path.name.split(".")[0]
    place = (file.lat, file.lon)
    years = years_of(file.table, called, place, is_typical=file.is_typical)
    if not years:
        raise UsageError(f"{path}: it has less than a quarter of any year")
    return [KeptYear(y.year, y.name, *place, y.is_typical, packed(y)) for y in years]


def _json(year: KeptYear) -> dict[str, object]:
    import numpy as np  # noqa: PLC0415 - only where it is needed

    from drywind.weather.usual import unpacked  # noqa: PLC0415

    hours = unpacked(year.hours)[:, :3]
    return {
        "name": year.name,
        "year": year.year,
        "is_typical": year.is_typical,
        "lat": year.lat,
        "lon": year.lon,
        "known_hours": int(np.isfinite(hours).all(axis=1).sum()),
    }
