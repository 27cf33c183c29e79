"""`drywind logger`: what a temperature and humidity logger at a site teaches of its air."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from drywind.cli.common import config_option, json_option, load_config, open_store, print_json
from drywind.clock import utc_now
from drywind.config import Config
from drywind.db.lessons import LoggedHour
from drywind.errors import UsageError, unknown_name
from drywind.store import Store

if TYPE_CHECKING:
    import pandas as pd

    from drywind.learn.site import Taught
    from drywind.weather.logger_file import LoggerFile

MAPPED = "logger_columns.json"
"""Which column is which, by the header they were told for once; a file in the data folder."""

UNITS = {"temp_c": ("C", 1.0), "rh": ("% RH", 100.0), "wind_ms": ("m/s", 1.0)}


@click.group()
def logger() -> None:
    """Learn how a site's air differs from the forecast's, from a logger that hung there."""


@logger.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@click.option("--site", required=True, help="Where it hung.")
@click.option("--time", "time", default="", help="The column of the time, or of date and time.")
@click.option("--date", "date", default="", help="The column of the date, if on its own.")
@click.option("--temp", "temp", default="", help="The column of the temperature.")
@click.option("--rh", "rh", default="", help="The column of the relative humidity, in percent.")
@click.option("--wind", "wind", default="", help="The column of the wind speed (m/s or mph).")
@click.option("--temp-unit", type=click.Choice(["C", "F"]), default=None, help="C or F.")
@click.option("--sure", is_flag=True, help="Keep it although it seems to have hung in the sun.")
@config_option
@json_option
def import_(file: str, site: str, config_path: str | None, as_json: bool, **given: Any) -> None:
    """Read a CSV file of temperature and humidity and learn of it.

    Hang the logger under cover where the air of the stack comes by, never in the sun. How the
    columns are called must be told only once; mostly it is seen.
    """
    from drywind.weather.logger_file import read_logger_file  # noqa: PLC0415 - numpy only here

    config, sure = load_config(config_path), given.pop("sure")
    if site not in config.sites:
        raise unknown_name("site", site, config.sites)
    told = {name: value for name, value in given.items() if value}
    read = read_logger_file(Path(file), config.zone, told or _mapped(config, Path(file)))
    with open_store(config) as store:
        taught = _learn(config, store, site, read.hours)
        if taught.in_sun and not sure:
            raise UsageError(
                f"{file}: it warms {taught.sun_k_per_kwm2:.0f} K more per kW/m2 of sun than the air"
                " does: it hung in the sun and tells nothing of the air. Nothing was kept;"
                " hang it in the shade, or --sure keeps it."
            )
        kept = store.save_logged(site, _hours(read.hours))
        _keep_columns(config, read, told)
        store.save_offset(site, utc_now(), json.dumps(taught.offset.as_json()))
    _tell(site, kept, taught, as_json=as_json)


@logger.command()
@click.option("--site", required=True, help="Where it hung.")
@config_option
def forget(site: str, config_path: str | None) -> None:
    """Drop what loggers measured at a site, and what was learned of it."""
    config = load_config(config_path)
    with open_store(config) as store:
        click.echo(f"{site}: {store.forget_logged(site)} hours dropped.")


def _learn(config: Config, store: Store, name: str, hours: "pd.DataFrame") -> "Taught":
    """Learn of all that was logged at a site, with hours that are not kept yet."""
    import pandas as pd  # noqa: PLC0415 - numpy only here

    from drywind.gather import place_of  # noqa: PLC0415
    from drywind.learn.site import learn_site  # noqa: PLC0415
    from drywind.weather.choice import best_hours  # noqa: PLC0415
    from drywind.weather.services import order  # noqa: PLC0415
    from drywind.weather.sun import with_sun  # noqa: PLC0415
    from drywind.weather.table import from_hours, hourly  # noqa: PLC0415

    before = pd.DataFrame(store.logged(name), columns=list(LoggedHour._fields))
    if len(before):
        before["time_utc"] = pd.to_datetime(before["time_utc"], utc=True)
        hours = hours.combine_first(before.set_index("time_utc").dropna(axis=1, how="all"))
    site = config.sites[name]
    start = hours.index[0].to_pydatetime()
    end = hours.index[-1].to_pydatetime() + timedelta(hours=1)
    rows = best_hours(
        store.hours(site.place, start, end), end, order(config.weather, place_of(site))
    )
    table = hourly(with_sun(from_hours(rows), site.lat, site.lon), start, end)
    return learn_site(hours, table, site)


def _hours(table: "pd.DataFrame") -> list[LoggedHour]:
    full = table.reindex(columns=["temp_c", "rh", "wind_ms"])
    return [
        LoggedHour(_instant(at), *map(float, values)) for at, *values in full.itertuples(name=None)
    ]


def _instant(at: Any) -> datetime:
    found: datetime = at.to_pydatetime()
    return found


def _mapped(config: Config, file: Path) -> dict[str, str]:
    """Return what was told before of a file with one of these headers."""
    path = config.data_dir / MAPPED
    known: dict[str, dict[str, str]] = json.loads(path.read_text()) if path.exists() else {}
    text = file.read_bytes().decode("utf-8", errors="replace")
    return next((told for header, told in known.items() if header in text), {})


def _keep_columns(config: Config, read: "LoggerFile", told: dict[str, str]) -> None:
    """Remember what was told of a header."""
    if not told:
        return
    path = config.data_dir / MAPPED
    known = json.loads(path.read_text()) if path.exists() else {}
    path.write_text(json.dumps(known | {read.header: told}, indent=2))


def _tell(site: str, kept: int, taught: "Taught", *, as_json: bool) -> None:
    helps = {
        name: (UNITS[name][1] * h.before, UNITS[name][1] * h.after, name in taught.offset.by_hour)
        for name, h in taught.helps.items()
    }
    if as_json:
        print_json(
            {
                "site": site,
                "hours": kept,
                "days_compared": taught.days,
                "sun_k_per_kwm2": round(taught.sun_k_per_kwm2, 2),
                "error": {
                    name: {"before": round(a, 3), "after": round(b, 3), "used": used}
                    for name, (a, b, used) in helps.items()
                },
            }
        )
        return
    click.echo(f"{site}: {kept} hours kept, {taught.days} days of them with known weather.")
    if not helps:
        click.echo("That is too little to learn from; import more once it has hung there longer.")
    for name, (before, after, used) in helps.items():
        unit = UNITS[name][0]
        verdict = "used" if used else "not used: it does not help"
        click.echo(f"  on days left out, off by {before:.1f} -> {after:.1f} {unit} ({verdict})")
