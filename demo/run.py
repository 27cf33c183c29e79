"""The whole job on real past weather, with the clock running fast: no network, account or key.

Every part is the real one: weather over HTTP in the service's own format, SQLite, Apprise, an SMTP
server and a phone's push endpoint on loopback. Only the clock, the forecasts' error and the
sawyer are made up.
"""

import os
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from drywind.alerts.records import Reason
from drywind.alerts.wording import doing
from drywind.cli.entry import read_stacks
from drywind.cli.views import daily_json
from drywind.config import Config, load
from drywind.cycle import Pass, look_ahead, run_pass
from drywind.delivery import deliver_due, destinations
from drywind.judge.measures import Remedy
from drywind.report.page import render, write
from drywind.sheets.yard import yard_sheet
from drywind.store import Store
from drywind.weather.http import Getter
from drywind.wood.species import find_species
from drywind.yard import Event, EventKind, Stack
from forecaster import Forecaster, read_isd_lite
from inboxes import Mailbox, Phone

HERE = Path(__file__).parent
START = datetime(2012, 6, 3, 18, tzinfo=UTC)
END = datetime(2012, 6, 17, 12, tzinfo=UTC)
STEP = timedelta(hours=3)
SAWYER_ACTS_AFTER = timedelta(hours=3)
SEED = 20120615
PAGE_AT = datetime(2012, 6, 13, 9, tzinfo=UTC)
"""A morning with work to do: so the yard's page is left behind."""
PAGE = HERE / "out" / "yard.html"
PHONE = "Ada phone"
PREAMBLE = """{yard}, {start:%d %b} to {end:%d %b %Y}, the clock running fast.
Weather: observed at Chicago O'Hare (NOAA). Forecasts: those hours plus an error that
grows with lead time; SYNTHETIC. The yard, the stacks and the sawyer are invented.
"""


@dataclass
class World:
    """The demo's clock, loopback services, and the sawyer's plans."""

    now: datetime = START
    phone: Phone = field(default_factory=Phone)
    mailbox: Mailbox = field(default_factory=Mailbox)
    todo: list[tuple[datetime, str, Remedy]] = field(default_factory=list)
    said: Counter[tuple[str, Reason]] = field(default_factory=Counter)


def main() -> None:
    """Run the demo."""
    began = time.monotonic()
    world = World()
    forecaster = Forecaster(
        read_isd_lite(HERE / "weather" / "isdlite_725300_2012_05_06.gz"), lambda: world.now, SEED
    )
    server = forecaster.serve()
    with tempfile.TemporaryDirectory() as folder:
        config = load(HERE / "yard.toml", _environment(world, server.server_port, folder))
        print(PREAMBLE.format(yard=config.yard_name, start=START, end=END))
        with Store(config.data_dir / "drywind.db") as store:
            waiting = read_stacks(config, HERE / "stacks.csv", START)
            getter = Getter(config.weather.contact)
            while world.now < END:
                waiting = _stack_today(world, store, config, waiting)
                _do_work(world, store, config)
                result = run_pass(config, store, getter, world.now)
                deliver_due(store, destinations(config), world.now)
                _report(world, config, result)
                if world.now == PAGE_AT:
                    PAGE.parent.mkdir(exist_ok=True)
                    write(render(yard_sheet(config, store, result.outlooks, world.now)), PAGE)
                world.now += STEP
            _summary(world, store, config)
    server.shutdown()
    world.mailbox.stop()
    print(f"\nThe yard's page of {PAGE_AT:%d %b}, to open in a browser: {PAGE}")
    print(f"\n{forecaster.requests} forecasts over HTTP; {time.monotonic() - began:.0f} s in all.")


def _environment(world: World, port: int, folder: str) -> dict[str, str]:
    return {
        **{name: value for name, value in os.environ.items() if not name.startswith("DRYWIND_")},
        "DRYWIND_WEATHER__NWS_URL": f"http://127.0.0.1:{port}",
        "DRYWIND_YARD__DATA_DIR": folder,
        "DRYWIND_URL_ADA": world.phone.url,
        "DRYWIND_URL_OFFICE": world.mailbox.url,
    }


def _clock(world: World, config: Config) -> str:
    return f"{world.now.astimezone(config.zone):%a %d %b %H:%M}"


def _stack_today(world: World, store: Store, config: Config, waiting: list[Stack]) -> list[Stack]:
    """Register the stacks whose hour has come; return the rest."""
    for stack in waiting:
        if stack.stacked_at <= world.now:
            store.add_stack(stack)
            covers = " under a pile roof" if stack.setup.measures else ""
            name = find_species(stack.species).name
            print(
                f"{_clock(world, config)}  stacked {stack.id}: {name} {stack.thickness.label}, "
                f"{stack.setup.site}{covers}"
            )
    return [s for s in waiting if s.stacked_at > world.now]


def _do_work(world: World, store: Store, config: Config) -> None:
    """Let the sawyer do what a text advised, and enter it."""
    for entry in [e for e in world.todo if e[0] <= world.now]:
        world.todo.remove(entry)
        _, stack, remedy = entry
        if remedy.move_to is not None:
            store.add_event(Event(stack, world.now, EventKind.MOVED, remedy.move_to))
        for measure in remedy.off:
            store.add_event(Event(stack, world.now, EventKind.UNCOVERED, measure))
        for measure in remedy.measures:
            store.add_event(Event(stack, world.now, EventKind.COVERED, measure))
        print(f"{_clock(world, config)}  the sawyer at {stack}: {doing(remedy)}")


def _report(world: World, config: Config, result: Pass) -> None:
    """Print the texts that arrived, and plan what they advise."""
    outlooks = {o.case.stack.id: o for o in result.outlooks}
    reasons = {
        s.message.text: s.decision for s in result.said if s.message is not None and s.is_new
    }
    for text in world.phone.take():
        reason = reasons[text].reason
        print(f"{_clock(world, config)}  {reason.upper():<9}  {text}  [{len(text)}]")
    for decision in [s.decision for s in result.said if s.is_new]:
        if decision.contact != PHONE or decision.stack not in outlooks:
            continue
        if not decision.reason.speaks:
            continue
        world.said[decision.stack, decision.reason] += 1
        outlook = outlooks[decision.stack]
        advised = outlook.lift if decision.reason is Reason.ALL_CLEAR else outlook.chosen
        if advised is not None:
            world.todo.append((world.now + SAWYER_ACTS_AFTER, decision.stack, advised.remedy))


def _summary(world: World, store: Store, config: Config) -> None:
    """Print how each stack dried, and the first warning by mail as it arrived."""
    print("\nHow the stacks dried: moisture content (MC, %) at the end of each day")
    for stack in store.stacks():
        (outlook,) = look_ahead(config, store, world.now, stack.id)
        texts = sum(n for (name, _), n in world.said.items() if name == stack.id)
        told = f"{texts} texts" if texts else "silence"
        today = world.now.astimezone(config.zone).date().isoformat()
        daily = daily_json(outlook.run, outlook.limit, config.zone)
        past = [day for day in daily if day["date"] <= today]
        curve = " ".join(f"{day['mc_pct']:.0f}" for day in past)
        edge = " ".join(f"{day['edge_mc_pct']:.0f}" for day in past)
        fastest = max(d["edge_loss_pct"] for d in past[2:] or past)
        print(f"\n{stack.id} {find_species(stack.species).name} {stack.thickness.label}: {told}")
        print(f"  typical  {curve}\n  edge     {edge}")
        print(
            f"  safe {outlook.limit.value:.1f} points a day ({outlook.limit.basis});"
            f" fastest edge day after the second: {fastest:.1f}"
        )
    mails = world.mailbox.mails
    warning = next(mail for mail in mails if "drying too fast" in mail["subject"])
    print(f"\nThe first warning of {len(mails)} e-mails, as it arrived:\n")
    print(f"  | Subject: {warning['subject']}\n  |")
    plain = warning.get_body(("plain",))
    for line in plain.get_content().splitlines() if plain else ():
        print(f"  | {line}")


if __name__ == "__main__":
    main()
