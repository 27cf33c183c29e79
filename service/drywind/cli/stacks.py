"""`drywind stack`: register stacks, tell what happens to them, and see how they dry."""

import csv
import io
from datetime import datetime, timedelta
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
from drywind.clock import parse_instant, utc_now
from drywind.config import Config
from drywind.errors import UsageError
from drywind.store import Store
from drywind.units import Thickness, parse_length_m, parse_mass_kg
from drywind.wood.species import find_species
from drywind.yard import Event, EventKind, Measure, Setup, Stack, check_id

NEEDED = ("id", "species", "thickness", "site")
COLUMNS = (*NEEDED, "stacked", "green_mc", "sticker", "pack_width", "measures")
SIZES_M = {"sticker": (0.006, 0.08), "pack_width": (0.3, 4.0)}
FIRST_YEAR, LONGEST_PLAN = 2000, timedelta(days=366)
MC_RANGE_PCT = (4.0, 250.0)


@click.group()
def stack() -> None:
    """Register stacks, and tell what happens to them."""


def make_stack(config: Config, given: dict[str, str], now: datetime) -> Stack:
    """Make a stack of what a person wrote, by the names of `COLUMNS`; empty is not given."""
    stacked = _when(config, given["stacked"], now) if given.get("stacked") else now
    setup = Setup(
        site=_site(config, given["site"]),
        measures=frozenset(_measure(m) for m in given.get("measures", "").split()),
        **{f"{name}_m": _size(given[name], *SIZES_M[name]) for name in SIZES_M if given.get(name)},
    )
    return Stack(
        id=check_id(given["id"]),
        species=find_species(given["species"]).key,
        thickness=Thickness.parse(given["thickness"]),
        stacked_at=stacked,
        setup=setup,
        green_mc_pct=_mc(given["green_mc"]) if given.get("green_mc") else None,
    )


@stack.command()
@click.argument("stack_id", metavar="ID")
@click.option("--species", required=True, help="Like red_oak; see `drywind species`.")
@click.option("--thickness", required=True, help="Like 4/4, 8/4 or 27mm.")
@click.option("--site", required=True, help="Where it stands.")
@click.option("--stacked", default="", help="When (ISO 8601); now if not given.")
@click.option("--green-mc", default="", help="Moisture content when stacked, in percent.")
@click.option("--sticker", default="", help='Sticker thickness, like "3/4 in"; 1 in.')
@click.option("--pack-width", default="", help='Like "4 ft".')
@click.option("--measures", default="", help='Covers in place from the start: "pile_roof burlap".')
@config_option
@json_option
def add(stack_id: str, config_path: str | None, as_json: bool, **given: str) -> None:
    """Register a stack."""
    config = load_config(config_path)
    made = make_stack(config, {"id": stack_id, **given}, utc_now())
    with open_store(config) as store:
        store.add_stack(made)
    _tell(made, made.stacked_at, as_json)


@stack.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@config_option
def import_(file: str, config_path: str | None) -> None:
    """Register stacks from a CSV file: all of them, or none if a row has a fault."""
    config = load_config(config_path)
    made = read_stacks(config, Path(file), utc_now())
    with open_store(config) as store:
        store.add_stacks(made)
    click.echo(f"Registered {len(made)} stacks.")


def read_stacks(config: Config, file: Path, now: datetime) -> list[Stack]:
    """Read stacks from a CSV file with the columns of `COLUMNS`.

    Raises
    ------
    UsageError
        With one line for each row that has a fault.
    """
    made, faults = [], []
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise UsageError(f"{file} cannot be read; allowed: a CSV file in UTF-8") from None
    with io.StringIO(text, newline="") as lines:
        rows = csv.DictReader(lines)
        unknown = set(rows.fieldnames or []) - set(COLUMNS)
        missing = set(NEEDED) - set(rows.fieldnames or [])
        if unknown or missing:
            raise UsageError(
                f"{file}: columns unknown: {', '.join(sorted(unknown)) or 'none'}; missing: "
                f"{', '.join(sorted(missing)) or 'none'}; allowed: {', '.join(COLUMNS)}"
            )
        for number, row in enumerate(rows, start=2):
            given = {name: (value or "").strip() for name, value in row.items()}
            try:
                made.append(make_stack(config, given, now))
            except UsageError as error:
                faults.append(f"{file}, line {number}: {error}")
    if faults:
        raise UsageError("\n".join(faults))
    return made


@stack.command("list")
@click.option("--all", "include_ended", is_flag=True, help="Also those taken down.")
@config_option
@now_option
@json_option
def list_(include_ended: bool, config_path: str | None, now: str | None, as_json: bool) -> None:
    """List the stacks, as they stand."""
    from drywind.cli.views import stack_json  # noqa: PLC0415 - numpy only where it is needed

    config = load_config(config_path)
    instant = read_now(now, config)
    with open_store(config) as store:
        stacks = store.stacks(include_ended=True)
    rows = [
        stack_json(s, instant)
        for s in stacks
        if include_ended or s.ended_at is None or instant < s.ended_at
    ]
    if as_json:
        print_json(rows)
        return
    for row in rows:
        covers = ", ".join(row["measures"]) or "no covers"
        click.echo(
            f"{row['id']:<12} {row['species']:<16} {row['thickness']:<5} {row['site']:<16} "
            f"{row['age_days']:>5.1f} d  {covers}"
        )


@stack.command()
@click.argument("stack_id", metavar="ID")
@config_option
@now_option
@json_option
def show(stack_id: str, config_path: str | None, now: str | None, as_json: bool) -> None:
    """Show how a stack has dried and will, by the weather stored for its site."""
    from drywind.cli.views import (  # noqa: PLC0415 - numpy only where it is needed
        daily_json,
        outlook_json,
        verdict_line,
    )
    from drywind.cycle import look_ahead  # noqa: PLC0415

    config = load_config(config_path)
    instant = read_now(now, config)
    with open_store(config) as store:
        if not store.stack(stack_id).stands_at(instant):
            raise UsageError(f"{stack_id} does not stand at {instant:%Y-%m-%d %H:%M} UTC")
        outlooks = look_ahead(config, store, instant, stack_id)
    if not outlooks:
        raise UsageError(f"{stack_id} cannot be judged; see above")
    (outlook,) = outlooks
    daily = daily_json(outlook, config.zone)
    if as_json:
        print_json(outlook_json(outlook, instant) | {"daily": daily})
        return
    click.echo(verdict_line(outlook))
    _print_daily(daily, instant.astimezone(config.zone).date().isoformat())
    if outlook.unknown_hours:
        click.echo(f"MC uncertain: {outlook.unknown_hours} h of weather missing.")


def _print_daily(daily: list[dict[str, Any]], today: str) -> None:
    has_top = "top_mc_pct" in daily[0]
    top = f" {'top':>6} {'loss':>5}" if has_top else ""
    click.echo(
        f"{'day':<11} {'MC %':>6} {'loss':>5} {'edge':>6} {'loss':>5}{top} {'safe':>5} {'EMC':>5}"
    )

    def cell(value: float | None, width: int) -> str:
        return f"{'?':>{width}}" if value is None else f"{value:>{width}.1f}"

    for day in daily:
        row = [(day["mc_pct"], 6), (day["loss_pct"], 5), (day["edge_mc_pct"], 6)]
        row.append((day["edge_loss_pct"], 5))
        if has_top:
            row += [(day["top_mc_pct"], 6), (day["top_loss_pct"], 5)]
        row += [(day["limit_pct"], 5), (day["emc_pct"], 5)]
        mark = "*" if day["date"] == today else " "
        click.echo(f"{day['date']}{mark} " + " ".join(cell(v, w) for v, w in row))


@stack.command()
@click.argument("stack_id", metavar="ID")
@click.argument("kind", type=click.Choice([k.value for k in EventKind if k is not EventKind.ENDED]))
@click.argument("what", default="")
@click.option("--at", default="", help="When (ISO 8601); now if not given.")
@config_option
def event(stack_id: str, kind: str, what: str, at: str, config_path: str | None) -> None:
    """Tell what happened: covered burlap, uncovered burlap, moved SITE, restickered "3/4 in".

    weighed and metered take the moisture content in percent.
    """
    config = load_config(config_path)
    detail = _detail(config, EventKind(kind), what)
    with open_store(config) as store:
        _add_event(config, store, (stack_id, EventKind(kind), detail), at)


@stack.command()
@click.argument("stack_id", metavar="ID")
@click.option("--weight", required=True, help="The sample board now, like 1834 g.")
@click.option("--oven-dry", required=True, help="Its oven-dry weight, like 1210 g.")
@click.option("--at", default="", help="When (ISO 8601); now if not given.")
@config_option
def weigh(stack_id: str, weight: str, oven_dry: str, at: str, config_path: str | None) -> None:
    """Enter a sample board's weight; moisture content is (weight / oven-dry - 1) x 100."""
    dry_kg = parse_mass_kg(oven_dry)
    if dry_kg <= 0:
        raise UsageError(f"--oven-dry {oven_dry}: an oven-dry weight is above zero")
    mc_pct = _mc(f"{100 * (parse_mass_kg(weight) / dry_kg - 1):.1f}")
    config = load_config(config_path)
    with open_store(config) as store:
        _add_event(config, store, (stack_id, EventKind.WEIGHED, f"{mc_pct:.1f}"), at)
    click.echo(f"{stack_id}: {mc_pct:.1f} % MC by weight.")


@stack.command()
@click.argument("stack_id", metavar="ID")
@click.option("--at", default="", help="When (ISO 8601); now if not given.")
@config_option
def end(stack_id: str, at: str, config_path: str | None) -> None:
    """Tell that a stack was taken down; it is watched no longer."""
    config = load_config(config_path)
    with open_store(config) as store:
        _add_event(config, store, (stack_id, EventKind.ENDED, ""), at)


def _add_event(config: Config, store: Store, told: tuple[str, EventKind, str], at: str) -> None:
    stack_id, kind, detail = told
    chosen = store.stack(stack_id)
    when = _when(config, at, utc_now()) if at else utc_now()
    if chosen.ended_at is not None:
        raise UsageError(f"{stack_id} was taken down at {chosen.ended_at:%Y-%m-%d %H:%M} UTC")
    if when < chosen.stacked_at and kind not in {EventKind.FELLED, EventKind.SAWN}:
        raise UsageError(f"{stack_id} was stacked only at {chosen.stacked_at:%Y-%m-%d %H:%M} UTC")
    store.add_event(Event(stack_id, when, kind, detail))


def _detail(config: Config, kind: EventKind, what: str) -> str:
    match kind:
        case EventKind.COVERED | EventKind.UNCOVERED:
            return _measure(what)
        case EventKind.MOVED:
            return _site(config, what)
        case EventKind.RESTICKERED:
            return repr(_size(what, *SIZES_M["sticker"]))
        case EventKind.WEIGHED | EventKind.METERED:
            return f"{_mc(what):.1f}"
        case _ if what:
            raise UsageError(f"{kind} takes nothing more, not {what!r}")
        case _:
            return ""


def _when(config: Config, text: str, now: datetime) -> datetime:
    instant = parse_instant(text, config.zone)
    if instant.year < FIRST_YEAR or instant > now + LONGEST_PLAN:
        raise UsageError(
            f"{text!r} is too long ago or too far ahead; write it like 2026-06-13T07:30"
        )
    return instant


def _size(text: str, least_m: float, most_m: float) -> float:
    size_m = parse_length_m(text)
    if not least_m <= size_m <= most_m:
        raise UsageError(
            f"{text!r} cannot be: allowed are {1000 * least_m:.0f} to {1000 * most_m:.0f} mm"
        )
    return size_m


def _site(config: Config, name: str) -> str:
    if name not in config.sites:
        raise UsageError(f"no site named {name!r}; there are: {', '.join(config.sites)}")
    return name


def _measure(text: str) -> Measure:
    try:
        return Measure(text.strip().lower().replace("-", "_"))
    except ValueError:
        raise UsageError(f"{text!r} is not a cover; allowed: {', '.join(Measure)}") from None


def _mc(text: str) -> float:
    try:
        value = float(text.rstrip(" %"))
    except ValueError:
        raise UsageError(f"{text!r} is not a moisture content in percent, like 78") from None
    if not MC_RANGE_PCT[0] <= value <= MC_RANGE_PCT[1]:
        raise UsageError(f"{text}: a moisture content lies between 4 and 250 percent")
    return value


def _tell(made: Stack, now: datetime, as_json: bool) -> None:
    from drywind.cli.views import stack_json  # noqa: PLC0415 - numpy only where it is needed
    from drywind.judge.runs import BORNE_HOURS  # noqa: PLC0415

    if as_json:
        print_json(stack_json(made, now))
        return
    species = find_species(made.species)
    click.echo(f"{made.id}: {species.name} {made.thickness.label} at {made.setup.site}.")
    if not species.safe_loss_is_published:
        click.echo("Its safe loss is our own assumption; nobody published one we know of.")
    if utc_now() - made.stacked_at > timedelta(hours=BORNE_HOURS):
        click.echo(
            "If drywind has not watched its weather since then, measure it now and enter it:"
            f" drywind stack event {made.id} metered 35"
        )
