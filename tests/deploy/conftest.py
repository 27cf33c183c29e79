"""One fresh root, and one with drywind just installed, for the tests of a file to lay theirs over.

These tests change users, mounts and services, in roots of their own: they run as root or not at
all. As root, a machine that cannot make such a root fails them.
"""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.deploy.roots import (
    Root,
    checkout,
    fresh_root,
    in_memory,
    keep_libraries,
    kept_libraries,
    root_over,
    sole_use,
)


@pytest.fixture(scope="session")
def fresh() -> Path:
    if os.getuid() != 0:
        pytest.skip("installs into a root of its own, for which the tests must run as root")
    with sole_use():
        return fresh_root()


@pytest.fixture(scope="session")
def installed(fresh: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Path]]:
    """Layers that make up a root with drywind installed, its configuration as it comes."""
    with in_memory(tmp_path_factory.mktemp("installed") / "root") as folder:
        with sole_use():
            kept = kept_libraries()
            below = [kept, fresh] if kept.exists() else [fresh]
            with root_over(below, folder) as root:
                first = root.install()
            assert first.code == 0, first.said
            if not kept.exists():
                keep_libraries(folder / "upper")
        (folder / "said").write_text(first.said)
        yield [folder / "upper", *below]


@pytest.fixture
def bare(fresh: Path, tmp_path: Path) -> Iterator[Root]:
    """Lay a root where nothing was installed."""
    with in_memory(tmp_path / "root") as folder, root_over([fresh], folder) as root:
        yield root


@pytest.fixture
def root(installed: list[Path], tmp_path: Path) -> Iterator[Root]:
    """Lay a root with drywind installed; its /src is a copy that the test may change."""
    source = checkout(tmp_path / "src")
    with in_memory(tmp_path / "root") as folder, root_over(installed, folder, source) as made:
        yield made
