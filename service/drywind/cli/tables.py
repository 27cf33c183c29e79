"""Commands that look things up: `emc` and `species`."""

from collections.abc import Mapping

import click

from drywind.cli.common import json_option, print_json
from drywind.errors import UsageError
from drywind.units import Thickness, parse_temperature_c
from drywind.wood.species import Species, find_species, load_species
from drywind.wood.species import as_json as species_json


@click.command()
@click.option("--temp", required=True, help="Air temperature, like 70F or 21.1C.")
@click.option("--rh", required=True, type=float, help="Relative humidity in percent, like 65.")
@json_option
def emc(temp: str, rh: float, as_json: bool) -> None:
    """Equilibrium moisture content of wood in steady air."""
    from drywind.wood.emc import emc_pct  # noqa: PLC0415 - numpy only where it is needed

    temp_c = parse_temperature_c(temp)
    if not (rh == 0 or 1 <= rh <= 100):  # noqa: PLR2004 - percent
        raise UsageError(f"--rh {rh:g}: relative humidity is in percent, from 1 to 100, like 65")
    value = float(emc_pct(temp_c, rh / 100))
    if as_json:
        print_json({"temp_c": round(temp_c, 2), "rh_pct": rh, "emc_pct": round(value, 2)})
    else:
        click.echo(f"EMC at {temp} and {rh:g} % RH: {value:.1f} % MC")
        if not -1.2 <= temp_c <= 132:  # noqa: PLR2004 - the range of the published table
            click.echo("(outside -1 to 132 C, the range of the published equation)")


@click.command()
@click.argument("names", nargs=-1)
@json_option
def species(names: tuple[str, ...], as_json: bool) -> None:
    """Print what is known of each wood, and where every number is from."""
    chosen = [find_species(name) for name in names] or list(load_species().values())
    if as_json:
        print_json([_facts(one) for one in chosen])
        return
    if names:
        for one in chosen:
            _describe(_facts(one))
        return
    click.echo(f"{'species':<20} {'green MC':>8} {'safe loss 4/4':>14} {'8/4':>5}  air drying days")
    for one in chosen:
        thin, thick = (one.safe_loss_pct_per_day.get(size, "-") for size in ("4/4", "8/4"))
        mark = "" if one.safe_loss_is_published else "*"
        days = "-".join(str(d) for d in one.air_drying_days)
        click.echo(f"{one.key:<20} {one.green_mc_pct:>6g} % {thin:>13}{mark:1} {thick:>4}  {days}")
    click.echo("Safe loss in points of MC a day while wet; * our own assumption, none published.")


def _facts(one: Species) -> dict[str, object]:
    """Return what is known of a wood, with the limit of every size it is sawn to."""
    from drywind.wood.limits import SIZES, safe_loss_pct_per_day  # noqa: PLC0415 - numpy

    limits = {size: safe_loss_pct_per_day(one, Thickness.parse(size)) for size in SIZES}
    return species_json(one) | {
        "safe_loss_pct_per_day": {size: round(limit.value, 2) for size, limit in limits.items()},
        "safe_loss_basis": {size: limit.basis for size, limit in limits.items()},
    }


def _describe(facts: dict[str, object]) -> None:
    sources, basis = facts["sources"], facts["safe_loss_basis"]
    assert isinstance(sources, dict)
    assert isinstance(basis, dict)
    click.echo(f"{facts['key']}")
    for field, source in sources.items():
        value = facts.get(field)
        if field == "safe_loss_pct_per_day":
            assert isinstance(value, dict)
            click.echo(f"  {field}:")
            for size, limit in value.items():
                click.echo(f"    {size:>5}  {limit!s:<5} {basis[size]}")
        else:
            click.echo(f"  {field}: {_plain(value)}")
        click.echo(click.wrap_text(str(source), 80, " " * 4, " " * 4))


def _plain(value: object) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {part}" for name, part in value.items()) or "unknown"
    if not isinstance(value, list):
        return str(value)
    return (" to " if all(isinstance(v, int) for v in value) else ", ").join(map(str, value))
