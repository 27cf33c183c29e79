"""What a person is told of a stack's lumber: which limit holds, and on what it rests."""

import textwrap
from collections.abc import Iterator
from datetime import datetime, timedelta

from drywind.cli.records import Json
from drywind.wood.limits import THICKEST_PUBLISHED, THINNEST_PUBLISHED, Limit, is_oak
from drywind.wood.species import find_species
from drywind.wood.traits import sorted_green_mc_pct
from drywind.yard import Stack, Trait

HALF_KNOWN = timedelta(days=2)
"""A stack that stood longer before it was registered has dried unseen."""

COLUMNS = 80


def limit_json(limit: Limit) -> Json:
    """Return a limit and what it rests on."""
    return {"limit_pct_per_day": round(limit.value, 2), "limit_basis": limit.basis}


def lumber_words(stack: Stack, limit: Limit) -> str:
    """Return a stack's wood, what was told of it, its limit, and what that rests on."""
    wood = f"{find_species(stack.species).name} {stack.thickness.label}"
    told = ", ".join([wood, *(trait.replace("_", " ") for trait in sorted(stack.traits))])
    safe = f"{round(limit.value, 2):g} points of MC a day ({limit.basis})"
    return f"{told}: safe loss while wet {safe}."


def registered_words(stack: Stack, limit: Limit, now: datetime) -> str:
    """Return what to know of a stack just registered."""
    head = f"{stack.id} at {stack.setup.site}, {lumber_words(stack, limit)}"
    lines = [paragraph(head, *_cautions(stack))]
    if now - stack.stacked_at > HALF_KNOWN:
        lines.append("  If drywind has not watched its weather since, measure it now and enter it:")
        lines.append(f"    drywind stack event {stack.id} weighed 35")
    return "\n".join(lines)


def paragraph(*sentences: str) -> str:
    """Return sentences as lines that fit a terminal."""
    return textwrap.fill(" ".join(sentences), COLUMNS, subsequent_indent="  ")


def _cautions(stack: Stack) -> Iterator[str]:
    species, quarters, traits = find_species(stack.species), stack.thickness.quarters, stack.traits
    if not species.safe_loss_is_published:
        yield "Nobody published its safe loss that we know of: it is our own assumption."
    if quarters > THICKEST_PUBLISHED:
        yield "Beyond 8/4 none is published: it is extrapolated from thinner boards."
    if quarters < THINNEST_PUBLISHED:
        yield "Thinner than 4/4 none is published: it is held to that of 4/4."
    if Trait.OLD_LOGS in traits and is_oak(species) and stack.thickness.label != "4/4":
        yield "That share is published for 4/4: for other sizes it is assumed."
    if Trait.OLD_LOGS in traits and not is_oak(species):
        yield "Old logs are known to lower the safe loss of oak alone: it stays as it is."
    if Trait.QUARTERSAWN in traits:
        yield "Quartersawn, it dries about 15 % slower; nobody published another safe loss for it."
    for kind in traits & {Trait.HEART, Trait.SAP}:
        if stack.green_mc_pct is None and sorted_green_mc_pct(species, traits) is None:
            yield (
                f"No green moisture content of its {kind}wood is published: the usual"
                f" {species.green_mc_pct:g} % stands in; --green-mc takes your own."
            )
