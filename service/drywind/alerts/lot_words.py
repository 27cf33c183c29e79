"""The words on log lots that wait for the saw, and on boards that wait for their stickers."""

from datetime import datetime

from drywind.alerts.gsm7 import first_that_fits
from drywind.alerts.other_words import STAINS
from drywind.alerts.parts import Headline, Paragraph
from drywind.alerts.records import Message
from drywind.alerts.story import Told, composed, with_age
from drywind.alerts.wording import Reader
from drywind.judge.findings import Finding
from drywind.judge.waiting import SAW_TO_STICKERS
from drywind.weather.credit import credit
from drywind.wood.species import find_species
from drywind.yard import LogLot

HOW_SURE = (
    "How sure: the clock is the weather since felling, by published rules of thumb for how long"
    " such wood keeps; what it bears may be half or twice that. Logs are taken to be as warm as the"
    " air, and shade is not counted."
)
CAUTION = (
    "Logs roll and saws do not wait: work rested, by your local rules. Preventives that are sprayed"
    " or dipped are pesticides: the label is the law."
)


def lot_name(lot: LogLot, now: datetime) -> str:
    """Write which lot: lot L3 hard maple logs, gravel lot."""
    wood = find_species(lot.species).key.replace("_", " ")
    return f"lot {lot.id} {wood} {'boards' if lot.is_sawn_at(now) else 'logs'}, {lot.site}"


def lot_to_do(lot: LogLot, finding: Finding, reader: Reader) -> tuple[str, str]:
    """Return what to do and by when, and what it prevents."""
    work = "put on stickers" if lot.is_sawn_at(reader.now) else "saw and put on stickers"
    by = reader.deadline(finding.act_by or reader.now)
    first = finding.first or reader.now
    return f"{work} {by}", f"{STAINS[finding.sign].capitalize()} likely from {reader.when(first)}"


def lot_message(lot: LogLot, finding: Finding, reader: Reader, told: Told) -> Message:
    """Return the words of a first warning of a lot; nobody is told that it is over."""
    name, (do, cause) = lot_name(lot, reader.now), lot_to_do(lot, finding, reader)
    days = (reader.now - lot.felled_at).days
    head = f"drywind {name}: {do}."
    short = first_that_fits([f"{head} {cause}; felled {days} days ago.", f"{head} {cause}.", head])
    short = with_age(short, told, reader)
    about = f"{name}: waiting too long"
    facts = (("Why", f"{cause}."), ("Felled", f"{days} days ago."))
    hours = SAW_TO_STICKERS.total_seconds() / 3600
    parts = (
        Headline(short, about, do[:1].upper() + do[1:], facts),
        Paragraph(
            f"Its clock stands at {finding.value:.1f} warm days at the end of the forecast, of the"
            f" {finding.limit:.1f} such wood bears. In warm weather boards belong on stickers"
            f" within {hours:.0f} hours of the saw."
        ),
        Paragraph(CAUTION),
        Paragraph(
            f"When it is done, enter it: drywind lot sawn {lot.id}, and once stacked"
            f" drywind lot end {lot.id}."
        ),
        Paragraph(f"{HOW_SURE}\n{credit(told.source)}, issued {told.age_h(reader.now):.0f} h ago."),
    )
    return composed(f"drywind: {about}", short, parts)
