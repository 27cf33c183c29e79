"""The page's table of where the model's numbers come from, read from the code that uses them."""

from typing import NamedTuple

from drywind.climate.assumptions import Assumptions
from drywind.judge import hazards
from drywind.learn.assumed import learning_rows
from drywind.learn.ready import GOALS_PCT
from drywind.wood import diffusion, limits, solver, stain, stress, traits
from drywind.wood.species import load_species

SEEN, MEMORY, ASSUMPTION, FITTED = "seen", "from memory", "assumption", "fitted by us"


class Number(NamedTuple):
    """A quantity of the model, its value as the code has it, whose it is, and how it was had."""

    quantity: str
    value: str
    source: str
    how: str


def all_numbers() -> list[Number]:
    """Return the table in the order of the page."""
    return [*_of_the_air(), *_inside_the_board(), *_of_harm(), *_of_learning()]


def _of_the_air() -> list[Number]:
    rows = len(Assumptions.rows())
    stack = f"{rows} values: `drywind sensitivity`"
    return [
        Number(
            "EMC of wood in steady air",
            "sorption equation, two hydrates",
            "Simpson 1973, Wood and Fiber 5(1):41; 1998, FPL-RN-0268",
            f"abstract {SEEN}; coefficients {MEMORY} and in public code",
        ),
        Number(
            "heat to a board in a sticker gap",
            "Nu 7.54 and its entrance, or turbulent",
            "Hausen 1943; Dittus and Boelter 1930; as in Incropera and DeWitt, ch. 8",
            MEMORY,
        ),
        Number(
            "heat to a board of the top course",
            "flat plate",
            "Incropera and DeWitt, ch. 7",
            MEMORY,
        ),
        Number("vapor, given heat", "Le^⅔ = 0.92", "Chilton and Colburn 1934", MEMORY),
        Number(
            "the sky's long-wave radiation",
            "1.24 (e/T)^⅐ and cloud",
            "Brutsaert 1975, Water Resources Research 11:742; Crawford and Duchon 1999",
            MEMORY,
        ),
        Number("rain driven against a side", "0.222 v R^0.88", "Lacy 1965", MEMORY),
        Number("wind, sun and rain that reach a stack; covers", stack, "none found", ASSUMPTION),
    ]


def _inside_the_board() -> list[Number]:
    multipliers = [species.diffusion_multiplier for species in load_species().values()]
    red_oak = load_species()["red_oak"]
    across = diffusion.transverse_diffusivity(red_oak.basic_specific_gravity)
    return [
        Number(
            "fiber saturation",
            f"{100 * diffusion.FIBER_SATURATION:.0f} % MC, all woods",
            "Wood Handbook FPL-GTR-190, ch. 4",
            SEEN,
        ),
        Number(
            "diffusion across the grain, 20 °C, fiber saturation",
            f"{1e10 * across:.1f}e-10 m²/s at gravity {red_oak.basic_specific_gravity}",
            "Siau 1984, Transport Processes in Wood",
            MEMORY,
        ),
        Number(
            "what each wood multiplies it by",
            f"{min(multipliers):.2f} to {max(multipliers):.2f}",
            "the middle of the range of Rietz and Page 1971, Agriculture Handbook 402",
            f"{FITTED}; the ranges {MEMORY}",
        ),
        Number(
            "rise of ln D per unit of MC, to fiber saturation",
            f"{diffusion.MOISTURE_SLOPE}",
            "Siau 1984",
            f"{FITTED}, {MEMORY}",
        ),
        Number(
            "rise of D with temperature, E/R",
            f"{diffusion.ACTIVATION_K:.0f} K (3600 to 5300)",
            "between Siau, Tschernitz and Simpson 1979, and Simpson and Hart 2000",
            ASSUMPTION,
        ),
        Number(
            "free water is ice below",
            f"{solver.FREEZING_C:g} °C (-5 to -0.5)",
            "sugars and salts keep some liquid",
            ASSUMPTION,
        ),
        Number(
            "what falls is snow below", f"{solver.SNOW_C:g} °C (0 to 1.5)", "none found", ASSUMPTION
        ),
        Number(
            "heat capacity of dry wood; density of cell walls",
            f"{solver.WOOD_HEAT_CAPACITY:.0f} J/(kg K); {solver.CELL_WALL_DENSITY} of water",
            "Wood Handbook FPL-GTR-190, ch. 4",
            MEMORY,
        ),
        Number(
            "quartersawn boards take so much longer",
            f"{traits.QUARTERSAWN_TIME:g} times",
            "Wengert 2007 and 2012, woodweb.com",
            SEEN,
        ),
        Number(
            "gravity, green MC and shrinkage of each wood",
            "`drywind species red_oak`",
            "Wood Handbook FPL-GTR-190, Tables 5-3, 4-1, 4-3",
            f"partly {SEEN}, partly {MEMORY}",
        ),
    ]


def _of_harm() -> list[Number]:
    bears = {name: classes["prone"] for name, classes in stain.BEARS_DAYS.items()}
    return [
        Number(
            "safe daily loss, 4/4 and 8/4",
            "`drywind species red_oak`",
            "Table 9 of FOR-128, Hardwood Dry Kiln Operation",
            f"{SEEN}, for 14 woods; the others {ASSUMPTION}",
        ),
        Number(
            "safe loss by thickness",
            f"thickness to the power {limits.THICKNESS_EXPONENT}",
            "6/4: FPL-GTR-118 (from memory); 8/4: FOR-128",
            f"{SEEN} for 8/4; past it {ASSUMPTION}",
        ),
        Number(
            "the limit counts in full to, and not below",
            f"{limits.FULL_WEIGHT_MC_PCT:.0f} %, {limits.NO_WEIGHT_MC_PCT:.0f} % MC",
            "Wengert, and a contributor, woodweb.com",
            f"{SEEN}; the taper {ASSUMPTION}",
        ),
        Number(
            "oak from old logs",
            f"{limits.STORED_LOGS_SHARE} of its limit",
            "Wengert, Lower-quality stored-log lumber, woodworkingnetwork.com",
            f"{SEEN} for 4/4; else {ASSUMPTION}",
        ),
        Number(
            "outer millimeter of a fresh board in danger",
            f"below {hazards.SHELL_CHECKS_PCT:.0f} % MC within {hazards.SHELL_HOURS} h",
            "the order of simulated weathers",
            ASSUMPTION,
        ),
        Number(
            "enzymatic stain doubles its speed for",
            f"{stain.DOUBLING_C:.1f} K, above {100 * stain.ENZYMES_NEED_MC:.0f} % MC",
            "Wengert 2006, Stain in maple, woodweb.com",
            SEEN,
        ),
        Number(
            "and rests below", f"{stain.ENZYMES_WAKE_C:g} °C (5 to 15)", "none found", ASSUMPTION
        ),
        Number(
            "blue stain grows between, fastest between",
            "{0:g} and {3:g} °C, {1:g} and {2:g} °C".format(*stain.FUNGUS_C),
            "Shupe, drtoddshupe.com; IRG/WP 1177",
            f"{SEEN}; the upper optimum {MEMORY}",
        ),
        Number(
            "days a prone wood bears: enzymatic (at 20 °C), blue (at its best)",
            f"{bears['enzymatic']:g} (2 to 5), {bears['blue']:g} (2 to 4)",
            "hints of Wengert 2006 and of gltpa.org",
            ASSUMPTION,
        ),
        Number(
            "mold index",
            "the published equations, sawn pine",
            "Hukka and Viitanen 1999, Wood Science and Technology 33:475",
            f"{MEMORY} and in public code; for hardwood {ASSUMPTION}",
        ),
        Number(
            "stiffness and strength across the grain",
            f"{stress.STIFFNESS_PA / 1e9:g} G² GPa, {stress.STRENGTH_PA / 1e6:g}"
            f" G^{stress.STRENGTH_EXPONENT:g} MPa, green",
            "Wood Handbook FPL-GTR-190, ch. 5",
            f"{FITTED}, {MEMORY}",
        ),
        Number(
            "toughness",
            f"{stress.TOUGHNESS / 1e6:g} MPa √m, all woods",
            "Wood Handbook FPL-GTR-190, Table 5-10, red oak",
            f"{MEMORY}; for other woods {ASSUMPTION}",
        ),
        Number(
            "creep while moisture changes; while it does not",
            f"{stress.SORPTIVE_CREEP:g} (20 to 60); {stress.RELAXATION_DAYS:g} d (5 to 60)",
            "about Perez et al. 2016, BioResources 11:8277",
            ASSUMPTION,
        ),
    ]


def _of_learning() -> list[Number]:
    goals = ", ".join(f"{pct:.0f}" for pct in GOALS_PCT.values())
    return [
        Number(
            "moisture content of a sample board",
            "by sections off its ends, or oven-dry weight",
            "Wengert, Drying Oak Lumber 3A and 3B",
            SEEN,
        ),
        Number(
            "a meter's reading in cold wood",
            "corrected, refused above 30 % MC",
            "Pfaff and Garrahan 1986, Forest Products Journal 36(3):28",
            f"{MEMORY}; the refusal {SEEN}",
        ),
        Number(
            "what weighings, loggers and outcomes teach",
            f"{len(learning_rows())} values: `drywind sensitivity`",
            "none found",
            ASSUMPTION,
        ),
        Number(
            "past checking, ready for the kiln, air-dry",
            f"{goals} % MC",
            "30: FPL-GTR-118; the others common practice",
            f"{MEMORY}; no source",
        ),
    ]
