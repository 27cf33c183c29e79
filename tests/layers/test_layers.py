"""The order of the layers: imports only go up the list, and a layer knows no more than it may."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import drywind

ROOT = Path(drywind.__file__).parent

ORDER = (
    *("ground", "yard", "weather", "climate", "wood"),
    *("judge", "learn", "alerts", "edge", "run"),
)
"""A layer may import itself and those before it."""

LAYERS = {
    "errors": "ground",
    "clock": "ground",
    "units": "ground",
    "files": "ground",
    "config": "yard",
    "yard": "yard",
    "samples": "yard",
    "outcomes": "yard",
    "weather": "weather",
    "climate": "climate",
    "wood": "wood",
    "judge": "judge",
    "learn": "learn",
    "alerts": "alerts",
    "store": "edge",
    "db": "edge",
    "delivery": "edge",
    "mail": "edge",
    "report": "edge",
    "logs": "run",
    "cycle": "run",
    "arrivals": "run",
    "gather": "run",
    "learned": "run",
    "learning": "run",
    "planning": "run",
    "readiness": "run",
    "plots": "run",
    "yard_plan": "run",
    "speaking": "run",
    "self_watch": "run",
    "reports": "run",
    "sheets": "run",
    "daemon": "run",
    "season": "run",
    "cli": "run",
    "__main__": "run",
}
"""The layer of each module or package directly under drywind."""

PHYSICS = {"httpx", "sqlite3", "apprise", "click", "apscheduler", "drywind.config"}
MAY_NOT_KNOW = {
    "yard": {"numpy", "pandas", "httpx", "sqlite3"},
    "weather": {"sqlite3", "apprise", "click"},
    "climate": PHYSICS,
    "wood": PHYSICS,
    "judge": PHYSICS,
    "learn": PHYSICS,
    "alerts": {"numpy", "httpx", "sqlite3", "apprise", "click"},
    "edge": {"numpy", "pandas", "httpx"},
}

MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted(ROOT.rglob("*.py"))
}
"""Every module by its name under drywind; drywind itself is ``__init__``."""


def layer_of(module: str) -> str:
    """Return the layer of a module named under drywind; drywind itself is ground."""
    return "ground" if module == "__init__" else LAYERS[module.split(".", maxsplit=1)[0]]


def imports(source: str) -> Iterator[str]:
    """Return the full name of all a module imports, wherever in it, also for types alone."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide what they import"
            assert node.module is not None
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func):
            yield ast.literal_eval(node.args[0])


def within(name: str, package: str) -> bool:
    """Return whether a name is that of a package, or of something in it."""
    return name == package or name.startswith(f"{package}.")


def own(source: str) -> Iterator[str]:
    """Return the modules under drywind that a module imports, or imports something from."""
    for name in imports(source):
        parts = name.split(".")
        if parts[0] == "drywind":
            found = [".".join(parts[1:end]) for end in range(2, len(parts) + 1)]
            yield next((m for m in reversed(found) if m in MODULES), "__init__")


def test_every_module_has_a_layer() -> None:
    unplaced = {module.split(".")[0] for module in MODULES} - {*LAYERS, "__init__"}

    assert unplaced == set()
    assert set(LAYERS.values()) == set(ORDER)


@pytest.mark.parametrize("module", MODULES)
def test_imports_only_go_up_the_list(module: str) -> None:
    rank = ORDER.index(layer_of(module))

    below = {m for m in own(MODULES[module].read_text()) if ORDER.index(layer_of(m)) > rank}

    assert below == set()


@pytest.mark.parametrize("module", MODULES)
def test_a_layer_knows_no_more_than_it_may(module: str) -> None:
    forbidden = MAY_NOT_KNOW.get(layer_of(module), set())

    known = {
        name
        for name in imports(MODULES[module].read_text())
        if any(within(name, package) for package in forbidden)
    }

    assert known == set()


@pytest.mark.parametrize("module", [m for m in MODULES if layer_of(m) == "ground"])
def test_the_ground_needs_nothing_but_the_standard_library(module: str) -> None:
    needed = {name.split(".")[0] for name in imports(MODULES[module].read_text())}

    assert needed <= {*sys.stdlib_module_names, "drywind"}


def test_metpy_is_known_in_one_place() -> None:
    users = {
        module
        for module, path in MODULES.items()
        if any(within(name, "metpy") for name in imports(path.read_text()))
    }

    assert users == {"weather.air"}


def test_every_way_to_import_is_seen() -> None:
    """The tests above would pass on anything if imports were overlooked."""
    source = """
import numpy as np, drywind.store
from drywind import yard, __version__
from drywind.cli.watch import watch
if TYPE_CHECKING:
    from pandas import DataFrame
def late():
    from drywind.judge.hazards import pace
    calc = importlib.import_module("metpy.calc")
"""

    assert {"numpy", "pandas.DataFrame", "metpy.calc"} < set(imports(source))
    assert list(own(source)) == ["store", "yard", "__init__", "cli.watch", "judge.hazards"]
