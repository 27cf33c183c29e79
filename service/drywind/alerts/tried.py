"""What was tried on a stack, and of what is advised: its cautions, its end, how to enter it."""

from collections.abc import Iterator
from math import floor

from drywind.alerts.other_words import SIDE_EFFECTS
from drywind.alerts.parts import Lines, Paragraph, Part, Row
from drywind.alerts.wording import Reader, doing, points
from drywind.judge.measures import Remedy, Trial
from drywind.judge.outlook import Outlook
from drywind.units import INCH_M
from drywind.yard import Measure

CAUTION_COVER = (
    "Covers sail: tie cloth and burlap down, weight or strap roofs, and leave them alone once it"
    " blows hard."
)
CAUTION_LOADER = (
    "Stacks tip: lift only what the loader is rated for, on level ground, with nobody beside it;"
    " your local rules come first."
)
CAUTION_TARP = (
    "A tarp keeps in what the wood gives off: batten it clear of the boards, look under it every"
    " day, and take it off at the first mold."
)
TRIED_SHOWN = 10
KILN_PCT = 30.0
"""From here on an early kiln is named (assumption)."""


def what_to_do(outlook: Outlook, reader: Reader) -> Iterator[Part]:
    """Yield all of it that there is to tell."""
    parts: list[Part | None] = [_tried(outlook), _kiln(outlook), _undo(outlook, reader)]
    parts += [*_cautions(outlook), _enter(outlook)]
    yield from (part for part in parts if part is not None)


def _tried(outlook: Outlook) -> Lines | None:
    if not outlook.trials:
        return None
    shown = list(outlook.trials[:TRIED_SHOWN])
    if outlook.chosen is not None and outlook.chosen not in shown:
        shown.append(outlook.chosen)
    head = "What we tried on it in the model, the least work first (the work is our estimate):"
    return Lines(head, tuple(_trial_row(t, outlook) for t in shown))


def _trial_row(trial: Trial, outlook: Outlook) -> Row:
    worst = trial.pace.worst
    verdict = _verdict(trial)
    figures = "unknown"
    if worst is not None:
        skin = "" if worst.shell_pct is None else f", skin {floor(worst.shell_pct)} %"
        figures = f"{points(worst.loss_pct_per_day, worst.safe_pct_per_day)} pts/day{skin}"
    told = f"{figures}, {verdict} (about {trial.remedy.minutes} min)"
    return Row(doing(trial.remedy), told, advised=trial is outlook.chosen)


def _verdict(trial: Trial) -> str:
    """Return how a trial came out, its side effects included."""
    harms = ["still too fast"] if trial.pace.onset else []
    harms += [SIDE_EFFECTS[f.sign] for f in trial.others if f.over]
    if harms:
        return " and ".join(harms)
    if not trial.spared:
        return "unknown"
    if trial.chance is None or trial.safe:
        return "safe"
    return f"safe in {10 * trial.chance:.0f} of 10 weathers"


def _kiln(outlook: Outlook) -> Paragraph | None:
    """Return that the kiln is a way out, too; lumber is handed to it at 20 to 25 % (FPL 1684)."""
    mc_pct = float(outlook.run.mc_pct[max(outlook.now, 0), 0])
    if not mc_pct <= KILN_PCT:
        return None
    return Paragraph(f"At {mc_pct:.0f} % MC it can also go to the kiln early, if yours takes it.")


def _undo(outlook: Outlook, reader: Reader) -> Paragraph | None:
    """Return when the covers can come off again."""
    chosen = outlook.chosen
    if chosen is None or not set(chosen.remedy.measures) - {Measure.PILE_ROOF}:
        return None
    if chosen.off_at is None:
        return Paragraph(
            "Leave it on until drywind says otherwise: as far as the forecast reaches, the danger"
            " is not over."
        )
    return Paragraph(
        f"It can come off again {reader.when(chosen.off_at)}: on for longer it only slows the"
        " drying and invites stain."
    )


def _enter(outlook: Outlook) -> Lines | None:
    """Return how to tell what was done, which is what ends the warning."""
    if outlook.chosen is None:
        return None
    name = outlook.case.stack.id
    events = _events(outlook.chosen.remedy)
    rows = tuple(Row(f"drywind stack event {name} {what}") for what in events)
    head = "When it is done, enter it, and the findings change by themselves:"
    return Lines(head, rows, typed=True)


def _events(remedy: Remedy) -> list[str]:
    """Return what to enter when it is done."""
    done = [] if remedy.move_to is None else [f'moved "{remedy.move_to}"']
    if remedy.sticker_m is not None:
        done.append(f'restickered "{remedy.sticker_m / INCH_M:g} in"')
    done += [f"uncovered {m}" for m in remedy.off]
    return done + [f"covered {m}" for m in remedy.measures]


def _cautions(outlook: Outlook) -> list[Paragraph]:
    if outlook.chosen is None:
        return []
    remedy = outlook.chosen.remedy
    found = []
    if {*remedy.measures, *remedy.off} - {Measure.PACKS_CLOSED}:
        found.append(Paragraph(CAUTION_COVER))
    if Measure.TARP in remedy.measures:
        found.append(Paragraph(CAUTION_TARP))
    if remedy.needs_loader:
        found.append(Paragraph(CAUTION_LOADER))
    return found
