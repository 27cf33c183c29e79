"""`drywind stack sample|weigh|dried|meter|readings|strike`: what sample boards tell."""

from datetime import datetime, timedelta
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
from drywind.cli.entry import read_mc, read_when
from drywind.clock import iso, utc_now
from drywind.config import Config
from drywind.errors import UsageError
from drywind.samples import (
    METER_LIMIT_PCT,
    UNNAMED,
    Entry,
    Position,
    corrected_meter_pct,
    mc_pct,
    sample_boards,
    sections_mc_pct,
)
from drywind.store import Store
from drywind.units import parse_mass_kg, parse_temperature_c
from drywind.yard import Event, EventKind, Stack, check_id

board_option = click.option("--board", default=UNNAMED, help="Which sample board, like A.")
at_option = click.option("--at", default="", help="When (ISO 8601); now if not given.")
position_option = click.option(
    "--position",
    type=click.Choice([p.value for p in Position]),
    default=Position.MIDDLE.value,
    help="Where it lies.",
)
sure_option = click.option("--sure", is_flag=True, help="Keep it although it is doubtful.")
instead_option = click.option(
    "--instead-of", type=int, help="The number of the wrong entry this stands for."
)


@click.command()
@click.argument("stack_id", metavar="ID")
@click.argument("board")
@position_option
@click.option("--weight", required=True, help='The trimmed board, like "2310 g" or "5 lb 1.5 oz".')
@click.option("--section", "sections", multiple=True, help="Wet/oven-dry, like 98.2g/55.1g; twice.")
@at_option
@config_option
def sample(stack_id: str, board: str, config_path: str | None, **given: Any) -> None:
    """Tell that a sample board was cut, and what it weighed.

    Cut it 12 in or more from the end, saw a 1 in section off each of its own ends, weigh these at
    once, dry them at 103 C (217 F) until they lose no more, weigh them again. End-coat the board,
    weigh it and put it back where you can draw it out.
    """
    sections = tuple(map(_section, given["sections"]))
    entry = Entry(
        check_id(board), Position(given["position"]), _mass(given["weight"]), sections=sections
    )
    config = load_config(config_path)
    with open_store(config) as store:
        _add(config, store, (stack_id, EventKind.SAMPLED, entry), given["at"])
    if not sections:
        click.echo(f"{stack_id} board {board}: its oven-dry weight is not known yet.")
        return
    found = sections_mc_pct(sections)
    click.echo(f"{stack_id} board {board}: {found:.1f} % MC by its sections.")


@click.command()
@click.argument("stack_id", metavar="ID")
@board_option
@position_option
@click.option("--weight", required=True, help='Its weight now, like "1834 g" or "4 lb 0.7 oz".')
@click.option("--oven-dry", default="", help="Its oven-dry weight, if not told before.")
@at_option
@sure_option
@instead_option
@config_option
def weigh(stack_id: str, config_path: str | None, **given: Any) -> None:
    """Enter a sample board's weight; moisture content is (weight / oven-dry - 1) x 100."""
    dry_kg = _dry_mass(given["oven_dry"]) if given["oven_dry"] else None
    kg = _mass(given["weight"])
    if dry_kg is not None:
        read_mc(f"{mc_pct(kg, dry_kg):.1f}")
    config = load_config(config_path)
    entry = Entry(check_id(given["board"]), Position(given["position"]), kg, dry_kg)
    _enter(config, (stack_id, EventKind.WEIGHED, entry), given)


@click.command()
@click.argument("stack_id", metavar="ID")
@board_option
@click.option("--oven-dry", required=True, help="The board's weight, dried in an oven.")
@at_option
@instead_option
@config_option
def dried(stack_id: str, config_path: str | None, **given: Any) -> None:
    """Enter a sample board's oven-dry weight, once you have it: all its weighings gain by it."""
    entry = Entry(check_id(given["board"]), dry_kg=_dry_mass(given["oven_dry"]))
    config = load_config(config_path)
    with open_store(config) as store:
        chosen = store.stack(stack_id)
        known = sample_boards(chosen.events, utc_now())
        board = next((b for b in known if b.name == entry.board), None)
        if board is None:
            names = ", ".join(b.name for b in known) or "none"
            raise UsageError(f"{stack_id} has no board {entry.board}; there are: {names}")
        entry = Entry(board.name, board.position, dry_kg=entry.dry_kg)
        for reading in board.readings:
            if reading.kg is not None and entry.dry_kg is not None:
                read_mc(f"{mc_pct(reading.kg, entry.dry_kg):.1f}")
        _add(
            config, store, (stack_id, EventKind.OVEN_DRIED, entry), given["at"], given["instead_of"]
        )
        _tell_board(store.stack(stack_id), board.name)


@click.command()
@click.argument("stack_id", metavar="ID")
@click.argument("shown")
@click.option("--temp", required=True, help="How warm the wood is, like 45F.")
@click.option("--wood", default=0.0, help="What the meter's table adds for this wood, in points.")
@board_option
@position_option
@at_option
@sure_option
@instead_option
@config_option
def meter(stack_id: str, shown: str, config_path: str | None, **given: Any) -> None:
    """Enter what a pin meter shows, in percent, below fiber saturation; it is corrected."""
    shown_pct, temp_c = read_mc(shown), parse_temperature_c(given["temp"])
    found = corrected_meter_pct(shown_pct, temp_c, given["wood"])
    if found > METER_LIMIT_PCT:
        raise UsageError(
            f"{shown} on the meter is {found:.0f} % MC: above {METER_LIMIT_PCT:.0f} % meters err"
            " widely; weigh a sample board"
        )
    entry = Entry(
        check_id(given["board"]),
        Position(given["position"]),
        mc_pct=round(found, 1),
        meter_pct=shown_pct,
        temp_c=temp_c,
    )
    _enter(load_config(config_path), (stack_id, EventKind.METERED, entry), given)


@click.command()
@click.argument("stack_id", metavar="ID")
@config_option
@now_option
@json_option
def readings(stack_id: str, config_path: str | None, now: str | None, as_json: bool) -> None:
    """List a stack's sample boards and their readings, each with its number."""
    config = load_config(config_path)
    with open_store(config) as store:
        boards = sample_boards(store.stack(stack_id).events, read_now(now, config))
    if as_json:
        print_json([_board_json(board) for board in boards])
        return
    for board in boards:
        dry = "not known" if board.dry_kg is None else f"{1000 * board.dry_kg:.0f} g"
        click.echo(f"board {board.name}, {board.position}; oven-dry weight {dry} ({board.basis})")
        for r in board.readings:
            weight = "" if r.kg is None else f"{1000 * r.kg:.0f} g"
            mc = "?" if r.mc_pct is None else f"{r.mc_pct:.1f}"
            when = r.time.astimezone(config.zone)
            how = "by meter" if r.metered else ""
            click.echo(
                f"  #{r.id:<5} {when:%Y-%m-%d %H:%M} {weight:>8} {mc:>6} % MC {how}".rstrip()
            )


@click.command()
@click.argument("stack_id", metavar="ID")
@click.argument("number", type=int)
@config_option
def strike(stack_id: str, number: int, config_path: str | None) -> None:
    """Take back a wrong entry, by the number `readings` or `show` gives; it stays on record."""
    config = load_config(config_path)
    with open_store(config) as store:
        store.add_event(_struck(store.stack(stack_id), number))
    click.echo(f"{stack_id}: entry #{number} counts no more.")


def _struck(stack: Stack, number: int) -> Event:
    if number not in {event.id for event in stack.events}:
        raise UsageError(f"{stack.id} has no entry #{number}; `drywind stack readings` lists them")
    return Event(stack.id, utc_now(), EventKind.STRUCK, str(number))


def _enter(config: Config, told: tuple[str, EventKind, Entry], given: dict[str, Any]) -> None:
    """Keep a reading, unless it is doubtful, and say what it comes to."""
    from drywind.cli.weighing import doubt_of, taught_words  # noqa: PLC0415 - numpy only here

    stack_id, kind, entry = told
    with open_store(config) as store:
        event = _event(config, store, (stack_id, kind, entry), given["at"])
        stack = store.stack(stack_id)
        wrong = given["instead_of"]
        kept = [e for e in stack.events if wrong is None or e.id != wrong]
        why = None if given["sure"] else doubt_of(config, store, (stack, kept), event)
        if why is not None:
            raise UsageError(f"{why} Nothing was entered; --sure enters it all the same.")
        store.add_events([*([] if wrong is None else [_struck(stack, wrong)]), event])
        _tell_board(store.stack(stack_id), entry.board)
        click.echo(taught_words(config, store, stack_id), nl=False)


def _add(
    config: Config,
    store: Store,
    told: tuple[str, EventKind, Entry],
    at: str,
    instead_of: int | None = None,
) -> None:
    event = _event(config, store, told, at)
    struck = [] if instead_of is None else [_struck(store.stack(told[0]), instead_of)]
    store.add_events([*struck, event])


def _event(config: Config, store: Store, told: tuple[str, EventKind, Entry], at: str) -> Event:
    """Return an event of a stack that stands, not before it was stacked nor ahead."""
    stack_id, kind, entry = told
    chosen, now = store.stack(stack_id), utc_now()
    when = read_when(config, at, now) if at else now
    if chosen.ended_at is not None and kind is not EventKind.OVEN_DRIED:
        raise UsageError(f"{stack_id} was taken down at {chosen.ended_at:%Y-%m-%d %H:%M} UTC")
    if when < chosen.stacked_at - timedelta(hours=1):
        raise UsageError(f"{stack_id} was stacked only at {chosen.stacked_at:%Y-%m-%d %H:%M} UTC")
    return Event(stack_id, max(when, chosen.stacked_at), kind, entry.detail)


def _tell_board(stack: Stack, name: str) -> None:
    board = next(b for b in sample_boards(stack.events, _last(stack)) if b.name == name)
    called = "" if name == UNNAMED else f" board {name}"
    last = board.readings[-1] if board.readings else None
    if last is None or last.mc_pct is None:
        click.echo(f"{stack.id}{called}: kept; its oven-dry weight is not known yet.")
        return
    click.echo(
        f"{stack.id}{called}: {last.mc_pct:.1f} % MC by {'meter' if last.metered else 'weight'}."
    )


def _last(stack: Stack) -> datetime:
    return max(utc_now(), *(event.time for event in stack.events))


def _mass(text: str) -> float:
    kg = parse_mass_kg(text)
    if kg <= 0:
        raise UsageError(f"{text}: a weight is above zero")
    return kg


def _dry_mass(text: str) -> float:
    kg = parse_mass_kg(text)
    if kg <= 0:
        raise UsageError(f"--oven-dry {text}: an oven-dry weight is above zero")
    return kg


def _section(text: str) -> tuple[float, float]:
    wet, slash, dry = text.partition("/")
    if not slash:
        raise UsageError(f"--section {text}: write wet and oven-dry weight, like 98.2g/55.1g")
    wet_kg, dry_kg = _mass(wet), _dry_mass(dry)
    read_mc(f"{mc_pct(wet_kg, dry_kg):.1f}")
    return wet_kg, dry_kg


def _board_json(board: Any) -> dict[str, Any]:
    return {
        "board": board.name,
        "position": board.position,
        "oven_dry_g": None if board.dry_kg is None else round(1000 * board.dry_kg, 1),
        "oven_dry_basis": board.basis,
        "readings": [
            {
                "number": r.id,
                "time": iso(r.time),
                "weight_g": None if r.kg is None else round(1000 * r.kg, 1),
                "mc_pct": None if r.mc_pct is None else round(r.mc_pct, 2),
                "metered": r.metered,
            }
            for r in board.readings
        ],
    }
