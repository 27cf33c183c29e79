"""The species table: what is known of each hardwood, and where every number is from."""

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from drywind.errors import UsageError


@dataclass(frozen=True)
class Species:
    """One hardwood as the trade names it.

    Attributes
    ----------
    latin_name
        None for a trade class of several species.
    basic_specific_gravity
        Oven-dry mass over green volume, relative to water.
    green_mc_pct
        Moisture content of a freshly sawn board, percent of oven-dry mass.
    green_mc_heart_pct, green_mc_sap_pct
        The same of heartwood and of sapwood, where published.
    shrinkage_pct
        ``radial``, ``tangential`` and ``volumetric``, from green to oven-dry.
    safe_loss_pct_per_day
        Points of moisture content a day at high moisture content, by thickness; always ``4/4``,
        and ``8/4`` where there is one.
    air_drying_days
        Least and most days for 1-inch lumber from green to 20 % moisture content.
    stain
        How readily it takes a stain (``enzymatic``, ``blue``): ``prone``, ``some`` or ``little``.
        A stain not named is one nothing is known of.
    insects
        Which bore into it while it dries (``ambrosia``, ``lyctid``, ``anobiid``). Nothing is known
        of one not named.
    diffusion_multiplier
        What the drying model's diffusion coefficient is multiplied by.
    sources
        Where each of the fields above is from.
    """

    key: str
    name: str
    latin_name: str | None
    basic_specific_gravity: float
    green_mc_pct: float
    green_mc_heart_pct: float | None
    green_mc_sap_pct: float | None
    shrinkage_pct: Mapping[str, float]
    safe_loss_pct_per_day: Mapping[str, float]
    air_drying_days: tuple[int, int]
    stain: Mapping[str, str]
    insects: tuple[str, ...]
    diffusion_multiplier: float
    sources: Mapping[str, str]

    @property
    def safe_loss_is_published(self) -> bool:
        """Whether somebody published the safe loss, rather than drywind assuming it."""
        return not self.sources["safe_loss_pct_per_day"].startswith("assumption")


@cache
def load_species() -> Mapping[str, Species]:
    """Return every species by its key, in the order of the table."""
    text = resources.files("drywind.wood").joinpath("species.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    return MappingProxyType(
        {key: _species(key, entry, table) for key, entry in table["species"].items()}
    )


def _species(key: str, entry: Mapping[str, Any], table: Mapping[str, Any]) -> Species:
    usual = {field: short for field, short in table["usual"].items() if field in entry}
    named = usual | entry.get("sources", {})
    least, most = entry["air_drying_days"]
    return Species(
        key=key,
        name=entry["name"],
        latin_name=entry.get("latin_name"),
        basic_specific_gravity=entry["basic_specific_gravity"],
        green_mc_pct=entry["green_mc_pct"],
        green_mc_heart_pct=entry.get("green_mc_heart_pct"),
        green_mc_sap_pct=entry.get("green_mc_sap_pct"),
        shrinkage_pct=MappingProxyType(entry["shrinkage_pct"]),
        safe_loss_pct_per_day=MappingProxyType(entry["safe_loss_pct_per_day"]),
        air_drying_days=(least, most),
        stain=MappingProxyType(entry["stain"]),
        insects=tuple(entry["insects"]),
        diffusion_multiplier=entry["diffusion_multiplier"],
        sources=MappingProxyType({field: table["sources"][named[field]] for field in named}),
    )


def find_species(key: str) -> Species:
    """Return the species of that key; ``Red-Oak`` and ``red oak`` are ``red_oak``.

    Raises
    ------
    UsageError
        If there is none; it names the nearest keys.
    """
    species = load_species()
    plain = re.sub(r"[^a-z0-9]+", "_", key.lower()).strip("_")
    if plain in species:
        return species[plain]
    alike = [known for known in species if plain and plain in known]
    near = (alike or difflib.get_close_matches(plain, species, n=4, cutoff=0.4))[:5]
    hint = f"did you mean {', '.join(near)}?" if near else "`drywind species` lists them"
    raise UsageError(f"{key!r} is not a species drywind knows; {hint}")


def as_json(species: Species) -> dict[str, Any]:
    """Return what ``drywind species --json`` tells of a species, each field with its source."""
    told: dict[str, Any] = {
        "name": species.name,
        "basic_specific_gravity": species.basic_specific_gravity,
        "green_mc_pct": species.green_mc_pct,
        "safe_loss_pct_per_day": dict(species.safe_loss_pct_per_day),
        "air_drying_days": list(species.air_drying_days),
        "shrinkage_pct": dict(species.shrinkage_pct),
        "stain": dict(species.stain),
        "insects": list(species.insects),
        "diffusion_multiplier": species.diffusion_multiplier,
    }
    return {
        "key": species.key,
        **told,
        "sources": {field: species.sources[field] for field in told},
    }
