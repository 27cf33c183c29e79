"""Commands for looking at what was set up: `check` and `send-test`."""

import sqlite3
from collections.abc import Collection
from itertools import groupby
from operator import attrgetter

import click

from drywind.alerts.records import Message
from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    open_to_read,
    print_json,
)
from drywind.clock import utc_now
from drywind.config import Config, Contact
from drywind.db.database import sqlite_warning
from drywind.delivery import destinations, send_apprise, usable
from drywind.errors import ConfigError, DeliveryError, UsageError
from drywind.store import Outcome, Store
from drywind.units import FOOT_M, Thickness, Units
from drywind.wood.species import find_species
from drywind.yard import Ground, Site


@click.command()
@config_option
@json_option
def check(config_path: str | None, as_json: bool) -> None:
    """Say in plain words what the configuration means, or what is wrong with it."""
    config = load_config(config_path)
    check_names(config)
    with open_to_read(config) as store:
        standing = len(store.stacks())
        issued = {name: store.latest_issue(s.place) for name, s in config.sites.items()}
        weather = [] if as_json else _weather_lines(config, store)
    if as_json:
        print_json(
            {
                "yard": config.yard_name,
                "time_zone": config.zone.key,
                "units": config.units,
                "data_dir": str(config.data_dir),
                "sites": list(config.sites),
                "contacts": list(config.contacts),
                "sqlite_version": sqlite3.sqlite_version,
                "stacks": standing,
                "weather_issued_at": {k: v and v.isoformat() for k, v in issued.items()},
            }
        )
        return
    click.echo(f"{config.yard_name}, clocks of {config.zone.key}, units {config.units}")
    click.echo(f"Data in {config.data_dir}; {standing} stacks stand.")
    for site in config.sites.values():
        click.echo(_site_words(site, config.units))
    if warning := sqlite_warning():
        click.echo(click.wrap_text(warning, 80, "", "  "))
    for line in weather:
        click.echo(line)
    for contact in config.contacts.values():
        click.echo(_contact_words(contact))
    if not config.contacts:
        click.echo("Nobody is told: there is no [[contacts]] table.")
    policy = config.policy
    click.echo(
        f"Warns up to {policy.warn_hours_ahead} h ahead, repeats after {policy.repeat_hours} h."
    )
    click.echo(f"At most {policy.daily_texts} texts a day to each phone; e-mails are not counted.")
    click.echo(
        f"Digest from {policy.digest_at:%H:%M}, unless all is well; outlook each"
        f" {policy.outlook_day.capitalize()}."
    )
    for key, limit in policy.safe_loss.items():
        click.echo(f"Holds 4/4 {find_species(key).name} to {limit:g} points of MC a day.")


def _weather_lines(config: Config, store: Store) -> list[str]:
    """Say for each place which forecast is believed, how old it is and how humidity fares."""
    from drywind.gather import place_of, site_weather  # noqa: PLC0415 - pandas only here
    from drywind.learned import humidity_bias, score  # noqa: PLC0415
    from drywind.weather.services import order  # noqa: PLC0415

    now, lines = utc_now(), list[str]()
    by_place = attrgetter("place")
    for place, sites in groupby(sorted(config.sites.values(), key=by_place), key=by_place):
        site, *others = sites
        names = ", ".join(s.name for s in (site, *others))
        seen = site_weather(config, store, site, now)
        asked = ", ".join(order(config.weather, place_of(site)))
        age = "no forecast yet"
        if seen.issued_at is not None:
            hours = (now - seen.issued_at).total_seconds() / 3600
            age = f"{seen.source or 'forecast too old to be believed,'} {hours:.0f} h old"
        told = [f"Weather of {names}: {age} (asks {asked})"]
        if seen.error:
            told.append(seen.error)
        bias = humidity_bias(score(store, place, seen.source or "", now))
        if bias is not None:
            damper = "damper" if bias.points > 0 else "drier"
            told.append(
                f"its air is {abs(bias.points):.0f} points of humidity {damper} than observed"
                f" ({bias.days} days)"
            )
        lines.append(click.wrap_text("; ".join(told), 80, "", "  "))
    return lines


def check_names(config: Config) -> None:
    """Check what the configuration says about things only other layers know."""
    from drywind.wood.limits import safe_loss_pct_per_day  # noqa: PLC0415 - numpy only here

    lines = []
    for key, limit in config.policy.safe_loss.items():
        try:
            safe_loss_pct_per_day(find_species(key), Thickness.parse("4/4"), limit)
        except UsageError as error:
            lines.append(f"policy.safe_loss.{key}: {error}")
    lines += [
        f"contacts, {name}: its URL is not one Apprise can use; allowed: an Apprise URL for one"
        " recipient"
        for name, destination in destinations(config).items()
        if not usable(destination)
    ]
    if lines:
        raise ConfigError(lines)


def _site_words(site: Site, units: Units) -> str:
    height = (
        f"{site.altitude_m / FOOT_M:.0f} ft" if units is Units.US else f"{site.altitude_m:.0f} m"
    )
    roof = "roofed" if site.roof else "no roof"
    room = f", room for {site.room}" if site.room else ""
    ground = "" if site.ground is Ground.GRAVEL else f", {site.ground} ground"
    where = f"{site.lat}, {site.lon}, {height}, {site.exposure}{ground}"
    return f"Site {site.name}: {where}, {roof}{room}"


def _contact_words(contact: Contact) -> str:
    quiet = ""
    if contact.quiet is not None:
        quiet = f", quiet {contact.quiet[0]:%H:%M}-{contact.quiet[1]:%H:%M}"
    return f"Tells {contact.name} by {contact.kind}: {', '.join(sorted(contact.hear))}{quiet}"


def send_tests(config: Config, names: Collection[str]) -> list[dict[str, str]]:
    """Send a test message to all contacts, or to those named; return how each fared."""
    words = f"drywind test from {config.yard_name}: if you read this, warnings reach you."
    message = Message(subject="drywind: test", text=words, story=words + "\n")
    results = []
    for name, destination in destinations(config).items():
        if name in names:
            outcome, detail = send_apprise(destination.url, message, destination.kind)
            results.append({"contact": name, "outcome": outcome.value, "detail": detail})
    return results


@click.command("send-test")
@click.argument("names", nargs=-1)
@config_option
@json_option
def send_test(names: tuple[str, ...], config_path: str | None, as_json: bool) -> None:
    """Send a test message to all contacts, or to those named."""
    config = load_config(config_path)
    unknown = sorted(set(names) - set(config.contacts))
    if unknown:
        known = ", ".join(config.contacts) or "none"
        raise UsageError(f"no contact named {', '.join(unknown)}; there are: {known}")
    results = send_tests(config, names or config.contacts)
    if as_json:
        print_json(results)
    else:
        for result in results:
            click.echo(f"{result['contact']}: {result['outcome']} ({result['detail']})")
    if any(result["outcome"] != Outcome.SENT for result in results):
        raise DeliveryError("not every test message was accepted")
