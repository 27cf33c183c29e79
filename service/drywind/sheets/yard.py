"""The whole page of a yard as data: what a pass found, the weather ahead, and the watch itself."""

import logging
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from drywind import __version__
from drywind.alerts.lot_words import lot_name, lot_to_do
from drywind.alerts.other_words import STAINS
from drywind.alerts.records import Reason
from drywind.alerts.story import in_short
from drywind.alerts.wording import Reader
from drywind.clock import floor_hour
from drywind.config import Config
from drywind.cycle import look_at_lots, make_grounds
from drywind.db.backups import folder_of, made_at, newest_first
from drywind.gather import site_weather
from drywind.judge.band import wholes
from drywind.judge.outlook import Outlook
from drywind.report import FILE_NAME
from drywind.report.page import render, write
from drywind.report.record import (
    Health,
    LotSheet,
    Plans,
    Reach,
    Sight,
    StackSheet,
    State,
    Task,
    YardSheet,
)
from drywind.sheets.plans import kept_plans
from drywind.sheets.stacks import most_pressing, stack_sheet
from drywind.sheets.weather import DAYS, places_ahead
from drywind.speaking import LotWords, Matter
from drywind.store import Store
from drywind.weather.credit import credit
from drywind.weather.seen import SiteWeather

_log = logging.getLogger(__name__)

STALE = timedelta(hours=24)
"""A forecast as old says that something is broken; see `drywind.alerts.blind`."""

URGENCY = list(State)
NO_PLANS = Plans()


def yard_sheet(
    config: Config,
    store: Store,
    outlooks: Sequence[Outlook],
    now: datetime,
    plans: Plans = NO_PLANS,
) -> YardSheet:
    """Return what the page shows of the yard at `now`, from outlooks made at `now`."""
    reader = Reader(config.units, config.zone, now)
    start = min((o.case.start for o in outlooks), default=floor_hour(now))
    end = floor_hour(now) + timedelta(days=DAYS)
    grounds = make_grounds(config, store, start, end, now)
    drawn = zip(outlooks, wholes(outlooks, grounds), strict=True)
    stacks = sorted((stack_sheet(o, whole, reader) for o, whole in drawn), key=_urgency)
    lots = look_at_lots(config, store, now)
    sights = _sights(config, store, now)
    sources = {sight.source for sight in sights if sight.source}
    tasks = [*_stack_tasks(outlooks, reader), *_lot_tasks(lots, reader)]
    return YardSheet(
        yard=config.yard_name,
        reader=reader,
        head=_head(stacks),
        rest=tuple(_rest(stacks)),
        tasks=tuple(sorted(tasks, key=lambda t: t.by or now)),
        places=places_ahead(config.sites, grounds.tables, now, config.zone),
        stacks=tuple(stacks),
        lots=tuple(_lot_sheet(matter, reader) for matter in lots),
        health=_health(config, store, sights, now),
        credits=sorted(credit(source) for source in sources),
        plans=plans,
    )


def write_page(config: Config, store: Store, outlooks: Sequence[Outlook], now: datetime) -> None:
    """Write the page of the yard into the data folder, in place of the one before.

    Where it cannot be made or written that is logged: a picture must not silence a warning.
    """
    try:
        page = render(yard_sheet(config, store, outlooks, now, kept_plans(config, now) or NO_PLANS))
        write(page, config.data_dir / FILE_NAME)
    except Exception:  # noqa: BLE001 - whatever it is, what the pass found is told
        _log.exception("the yard's page could not be written")


def _urgency(sheet: StackSheet) -> tuple[int, float, str]:
    return URGENCY.index(sheet.state), -(sheet.pace or 0.0), sheet.name


def _head(stacks: Sequence[StackSheet]) -> str:
    """Return the yard today in one sentence."""
    if not stacks:
        return "No stack stands in the yard."
    over = [s for s in stacks if s.state is State.OVER]
    if not over:
        blind = [s for s in stacks if s.state is State.UNKNOWN]
        if len(blind) == len(stacks):
            return "Nothing can be said of the stacks."
        what = "Every stack keeps" if not blind else "Every stack that can be judged keeps"
        return f"{what} within its limits."
    if len(stacks) == 1:
        return "The one stack needs work."
    need = "needs" if len(over) == 1 else "need"
    return f"{len(over)} of {len(stacks)} stacks {need} work."


def _rest(stacks: Sequence[StackSheet]) -> Iterator[str]:
    """Yield what is to be said of the stacks that need no work."""
    by_state = {state: [s for s in stacks if s.state is state] for state in State}
    if unknown := by_state[State.UNKNOWN]:
        yield f"Unknown: {_names(unknown)}."
    well = by_state[State.WELL]
    if well and well[0].pace is not None:
        nearest = f"{well[0].name} is nearest its limit, at {well[0].pace:.0%} of it"
        who = "All is calm at" if len(well) > 1 else "Calm:"
        yield f"{who} {_names(well)}; {nearest}."
    if done := by_state[State.DONE]:
        yield f"Too dry to be harmed by drying: {_names(done)}."


def _names(stacks: Sequence[StackSheet]) -> str:
    shown = [s.name for s in stacks[:8]]
    more = len(stacks) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _stack_tasks(outlooks: Sequence[Outlook], reader: Reader) -> Iterator[Task]:
    for outlook in outlooks:
        worst = most_pressing(outlook)
        if worst is None:
            continue
        do, why = in_short(outlook, Reason.FIRST, reader, worst.hazard)
        name = outlook.case.stack.id
        yield Task(name, outlook.site_now, do, why, worst.act_by)


def _lot_tasks(matters: Sequence[Matter], reader: Reader) -> Iterator[Task]:
    for matter in matters:
        if matter.finding.over:
            do, why = matter.words.in_short(matter.finding, Reason.FIRST, reader)
            found = matter.finding
            yield Task(found.subject, found.site, do, why, found.act_by)


def _lot_sheet(matter: Matter, reader: Reader) -> LotSheet:
    finding = matter.finding
    assert isinstance(matter.words, LotWords)
    lot = matter.words.lot
    about = lot_name(lot, reader.now).removeprefix("lot ").removeprefix(f"{lot.id} ")
    if finding.over:
        do, why = lot_to_do(lot, finding, reader)
        return LotSheet(lot.id, about, State.OVER, f"{do}. {why}.")
    if not finding.complete:
        return LotSheet(lot.id, about, State.UNKNOWN, "too little of its weather is known.")
    told = f"{STAINS[finding.sign]} {finding.severity:.0%} of the way"
    return LotSheet(lot.id, about, State.WELL, f"{told} as far as is looked ahead.")


def _sights(config: Config, store: Store, now: datetime) -> list[Sight]:
    """Return what is seen of the weather, a place at a time."""
    by_place: dict[str, list[SiteWeather]] = {}
    for site in config.sites.values():
        by_place.setdefault(site.place, []).append(site_weather(config, store, site, now))
    return [
        Sight(
            sites=", ".join(seen.site for seen in group),
            source=group[0].source or "",
            issued_at=group[0].issued_at,
            trouble=group[0].error or "",
        )
        for group in by_place.values()
    ]


def _health(config: Config, store: Store, sights: Sequence[Sight], now: datetime) -> Health:
    last = store.last_outcomes()
    reach = []
    for contact in config.contacts.values():
        at, outcome, detail = last.get(contact.name, (None, "", ""))
        reach.append(Reach(contact.name, contact.kind.value, at, detail or outcome))
    folder = folder_of(config.data_dir / "drywind.db")
    copies = newest_first(folder) if folder.is_dir() else []
    trouble = [
        f"No new forecast for {sight.sites} in a day."
        for sight in sights
        if sight.issued_at is None or now - sight.issued_at >= STALE
    ]
    return Health(
        sights=tuple(sights),
        reach=tuple(reach),
        backup_at=made_at(copies[0]) if copies else None,
        version=__version__,
        trouble=tuple(trouble),
    )
