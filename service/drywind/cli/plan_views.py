"""The yard plan as a plain dictionary for `--json`, and as words for the terminal."""

from collections.abc import Iterator

from drywind.cli.records import Json
from drywind.cli.told import paragraph
from drywind.judge.plan import Placing, Plan

CAUTION = (
    "Packs weigh tons: move them with a loader rated for it, by people trained on it, on level"
    " ground, nobody between; the rules of your place and trade come first."
)


def plan_json(plan: Plan) -> Json:
    """Return where everything is to go."""
    return {
        "placings": [
            {
                "name": placing.item.name,
                "is_lot": placing.item.at is None,
                "species": placing.item.species,
                "thickness": placing.item.thickness,
                "from": placing.item.at,
                "to": placing.to,
                "moves": placing.moves,
                "harm": {site: round(harm, 3) for site, harm in placing.item.harm.items()},
                "known": placing.item.known,
                "saves": round(placing.saves, 3),
                "move_minutes": placing.minutes,
            }
            for placing in plan.placings
        ],
        "move_minutes": plan.minutes,
        "room_left": dict(plan.left),
    }


def plan_words(plan: Plan) -> str:
    """Return the plan to read, 80 columns wide."""
    if not plan.placings:
        return "Nothing stands in the yard and no lot waits."
    return "\n".join(_lines(plan))


def _lines(plan: Plan) -> Iterator[str]:
    moves = [p for p in plan.placings if p.moves]
    lots = [p for p in plan.placings if p.item.at is None]
    stay = [p for p in plan.placings if p.item.at is not None and not p.moves]
    for placing in moves:
        yield paragraph(f"Move {_name(placing)} from {placing.item.at} to {placing.to}.")
    for placing in lots:
        if placing.to is None:
            yield paragraph(f"No room for {_name(placing)}: saw it later, or make room.")
        else:
            yield paragraph(f"Stack {_name(placing)} at {placing.to}.")
    if stay:
        yield paragraph("Stay: " + ", ".join(f"{p.item.name} ({p.to})" for p in stay) + ".")
    unknown = [p.item.name for p in plan.placings if not p.item.known]
    if unknown:
        yield paragraph(f"Unknown, so left out of account: {', '.join(unknown)}.")
    left = [f"{name} {count}" for name, count in plan.left.items() if count is not None]
    if left:
        yield paragraph(f"Room left then: {', '.join(left)}.")
    if moves:
        yield paragraph(f"Work of moving: about {plan.minutes} minutes for two.", CAUTION)


def _name(placing: Placing) -> str:
    item = placing.item
    return f"{item.name} {item.species.replace('_', ' ')} {item.thickness}"
