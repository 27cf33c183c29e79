"""What weighings taught of a stack's wood, in words and as JSON."""

from math import exp

from drywind.cli.records import Json
from drywind.judge.cases import Case, Wood
from drywind.learn.ahead import NINETY
from drywind.learn.priors import PRIORS
from drywind.wood.species import find_species


def wood_words(case: Case) -> str:
    """Return how the wood dries against its species' table, each with its interval."""
    wood, name = case.wood, find_species(case.stack.species).name
    whose = f"{wood.readings} reading{'s' if wood.readings > 1 else ''}"
    if not wood.readings:
        whose = "Other stacks' readings"
    low, high = interval(wood.diffusion, wood.diffusion_sd)
    told = (
        f"{whose}: water moves {wood.diffusion:.2f} ({low:.2f} to {high:.2f}) times as fast in it"
        f" as in the table's {name}"
    )
    if wood.green_sd:
        low, high = interval(100.0 * case.green_mc, wood.green_sd)
        told += f"; it began at {100.0 * case.green_mc:.0f} % MC ({low:.0f} to {high:.0f})"
    told += "."
    if wood.edge_ease_sd is not None:
        low, high = interval(wood.edge_ease, wood.edge_ease_sd)
        told += f" Its edges give off water {wood.edge_ease:.1f} ({low:.1f} to {high:.1f}) times"
        told += " as readily, beside its inside, as the model has it."
    return told


def wood_json(case: Case) -> Json | None:
    """Return what was taught; None where nothing was. Intervals hold nine tenths."""
    wood = case.wood
    if not wood.diffusion_sd:
        return None
    return {
        "readings": wood.readings,
        "diffusion_multiplier": _with_interval(wood.diffusion, wood.diffusion_sd, 3),
        "green_mc_pct": _with_interval(100.0 * case.green_mc, wood.green_sd, 1)
        if wood.green_sd
        else None,
        "edge_ease": None
        if wood.edge_ease_sd is None
        else _with_interval(wood.edge_ease, wood.edge_ease_sd, 2),
        "priors": PRIORS.version,
    }


def interval(middle: float, ln_sd: float) -> tuple[float, float]:
    """Return what nine tenths of a lognormal belief lie within."""
    return middle * exp(-NINETY * ln_sd), middle * exp(NINETY * ln_sd)


def _with_interval(middle: float, ln_sd: float, digits: int) -> Json:
    low, high = interval(middle, ln_sd)
    return {name: round(v, digits) for name, v in (("value", middle), ("low", low), ("high", high))}


def is_taught(wood: Wood) -> bool:
    """Return whether anything was taught of it."""
    return wood.diffusion_sd > 0.0
