"""The command that watches a past weather year as if it were to come."""

import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

import click

from drywind.cli.common import config_option, json_option, load_config, print_json
from drywind.clock import parse_instant
from drywind.config import Policy
from drywind.errors import UsageError
from drywind.units import Thickness, Units, parse_length_m
from drywind.wood.species import find_species
from drywind.yard import Exposure, Measure, Setup, Site, Stack

if TYPE_CHECKING:
    from drywind.season.past import Past
    from drywind.weather.files import Place, WeatherFile

ROOFED = "roofed"
EXPOSURES = (Exposure.OPEN.value, ROOFED, Exposure.SHED.value, Exposure.BARN.value)
STACK_ID = "stack"


class Yard(NamedTuple):
    """Where the stack stands, among which sites, and how people there read and are warned."""

    sites: dict[str, Site]
    setup: Setup
    zone: ZoneInfo
    policy: Policy
    units: Units


@click.command()
@click.option(
    "--weather", required=True, type=click.Path(), help="TMY2, TMY3, EPW, ISD-Lite or CSV; or .gz."
)
@click.option("--species", required=True, help="Like red_oak; see `drywind species`.")
@click.option("--thickness", required=True, help="Like 4/4, 8/4 or 27mm.")
@click.option("--start", required=True, help="When it is stacked, like 2001-05-01 (midnight).")
@click.option("--days", default=120, show_default=True, type=click.IntRange(1, 1095))
@click.option("--site", help="A site of the configuration.")
@click.option(
    "--exposure",
    type=click.Choice(EXPOSURES),
    help="Without --site: open (the default), roofed (open, a pile roof on it), shed or barn.",
)
@click.option("--lat", type=click.FloatRange(-90, 90), help="Degrees, of a file without place.")
@click.option("--lon", type=click.FloatRange(-180, 180), help="Degrees, west is negative.")
@click.option("--altitude", help='Like "673 ft"; a plain number is in meters.')
@click.option("--seed", default=1, show_default=True, type=click.IntRange(1), help="Of the errors.")
@click.option("--perfect", is_flag=True, help="Let every forecast come true.")
@config_option
@json_option
def replay(config_path: str | None, as_json: bool, **given: Any) -> None:
    """Watch a past weather year, and tell what would have been said and whether it was right.

    Forecasts are made of what came, with errors as large as forecasts make. Nobody acts on what
    is said. Times are local standard time.
    """
    from drywind.cli import replay_views as views  # noqa: PLC0415 - numpy only where needed
    from drywind.season.replay import watch  # noqa: PLC0415
    from drywind.season.score import HAZARDS, score  # noqa: PLC0415

    species, thickness = find_species(given["species"]).key, Thickness.parse(given["thickness"])
    file, yard = _read(config_path, given)
    start = parse_instant(given["start"], yard.zone)
    past = _past(file, yard, start, given)
    stack = Stack(STACK_ID, species, thickness, start, yard.setup)
    shown = sys.stderr.isatty() and not as_json
    with click.progressbar(
        length=given["days"], label="watching", hidden=not shown, file=sys.stderr
    ) as bar:
        (watched,) = watch([stack], past, given["days"], bar.update)
    scores = {hazard: score([watched], past, hazard) for hazard in HAZARDS}
    seen = views.replay_json(watched, past, scores, given["days"])
    if as_json:
        print_json(seen)
        return
    click.echo(views.replay_words(seen, watched, yard.zone))


def _read(config_path: str | None, given: dict[str, Any]) -> "tuple[WeatherFile, Yard]":
    """Return the weather, and the yard moved to where it was measured."""
    from drywind.weather.files import read_weather_file  # noqa: PLC0415

    path, place = Path(given["weather"]), _place(given)
    if given["site"] is None:
        file = read_weather_file(path, place)
        return file, _plain_yard(file, given["exposure"] or Exposure.OPEN.value)
    if given["exposure"] is not None:
        raise UsageError("--site and --exposure: give one of them, a site has its exposure")
    config = load_config(config_path)
    if given["site"] not in config.sites:
        there = ", ".join(config.sites)
        raise UsageError(f"no site named {given['site']!r}; there are: {there}")
    file = read_weather_file(path, place or _place_of(config.sites[given["site"]]))
    sites = {name: _moved(site, file) for name, site in config.sites.items()}
    setup = Setup(given["site"])
    return file, Yard(sites, setup, config.zone, config.policy, config.units)


def _place(given: dict[str, Any]) -> "Place | None":
    from drywind.weather.files import Place  # noqa: PLC0415

    parts = (given["lat"], given["lon"], given["altitude"])
    if parts == (None, None, None):
        return None
    if None in parts:
        raise UsageError("--lat, --lon and --altitude are given together or not at all")
    lat, lon, altitude = parts
    try:
        altitude_m = float(altitude)
    except ValueError:
        altitude_m = parse_length_m(altitude)
    return Place(lat, lon, altitude_m)


def _place_of(site: Site) -> "Place":
    from drywind.weather.files import Place  # noqa: PLC0415

    return Place(site.lat, site.lon, site.altitude_m)


def _moved(site: Site, file: "WeatherFile") -> Site:
    """Return a site as if it lay where the weather was measured."""
    return Site(**(vars(site) | {"lat": file.lat, "lon": file.lon, "altitude_m": file.altitude_m}))


def _plain_yard(file: "WeatherFile", exposure: str) -> Yard:
    """Return a yard of one site, on the standard time of its longitude."""
    around = Exposure.OPEN if exposure == ROOFED else Exposure(exposure)
    name = "yard" if around is Exposure.OPEN else around.value
    site = Site(
        *(name, file.lat, file.lon, file.altitude_m), around, roof=around is not Exposure.OPEN
    )
    covers = frozenset({Measure.PILE_ROOF} if exposure == ROOFED else ())
    # The sign of these zones is that of hours to be added to reach UTC.
    zone = ZoneInfo(f"Etc/GMT{-round(file.lon / 15):+d}")
    return Yard({name: site}, Setup(name, measures=covers), zone, Policy(), Units.US)


def _past(file: "WeatherFile", yard: Yard, start: datetime, given: dict[str, Any]) -> "Past":
    """Return the yard in the weather of a file, which must last."""
    from dataclasses import replace  # noqa: PLC0415

    from drywind.cycle import LONGEST_WATCH  # noqa: PLC0415
    from drywind.season.past import SAWYER, Past  # noqa: PLC0415
    from drywind.weather.sun import with_sun  # noqa: PLC0415
    from drywind.weather.table import hourly  # noqa: PLC0415

    first, last = (file.table.index[i].to_pydatetime() for i in (0, -1))
    end = last + timedelta(hours=1)
    if start < first or start + timedelta(days=given["days"]) > end:
        begins, ends = (t.astimezone(yard.zone) for t in (first, end))
        raise UsageError(
            f"{given['weather']} runs from {begins:%Y-%m-%d %H:%M} to {ends:%Y-%m-%d %H:%M};"
            f" --start {given['start']} and --days {given['days']} do not lie within"
        )
    hours = hourly(file.table, first, min(end, start + LONGEST_WATCH))
    table = with_sun(hours, file.lat, file.lon)
    return Past(
        yard.sites,
        dict.fromkeys(yard.sites, table),
        yard.zone,
        yard.policy,
        replace(SAWYER, units=yard.units),
        None if given["perfect"] else given["seed"],
    )
