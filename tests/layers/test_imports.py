"""What starts at once on a small machine: the numeric packages stay out until they are needed."""

import subprocess
import sys

import pytest

NUMERIC = {"numpy", "pandas", "scipy", "metpy"}


def loaded(*arguments: str) -> set[str]:
    """Return the top-level modules a Python process has imported at its end."""
    ended = subprocess.run(
        [sys.executable, "-X", "importtime", *arguments],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    lines = [line for line in ended.stderr.splitlines() if line.startswith("import time:")]
    return {line.rpartition("|")[2].strip().split(".")[0] for line in lines}


@pytest.mark.parametrize(
    "module", ["drywind.cli", "drywind.store", "drywind.delivery", "drywind.config"]
)
def test_a_module_is_imported_without_the_numeric_packages(module: str) -> None:
    modules = loaded("-c", f"import {module}")

    assert "drywind" in modules
    assert modules & NUMERIC == set()


@pytest.mark.parametrize(
    "arguments",
    [["--help"], ["--version"], ["watch", "--help"], ["stack", "add", "--help"], ["species"]],
    ids=" ".join,
)
def test_a_command_that_computes_nothing_starts_without_them(arguments: list[str]) -> None:
    modules = loaded("-m", "drywind", *arguments)

    assert "click" in modules
    assert modules & NUMERIC == set()


def test_a_pass_needs_all_but_metpy_which_takes_longest() -> None:
    assert loaded("-c", "import drywind.cycle") & NUMERIC == NUMERIC - {"metpy"}
