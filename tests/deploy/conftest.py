"""One fresh root, and one with drywind just installed, for the tests of a file to lay theirs over.

These tests change users, mounts and services, in roots of their own: they run as root or not at
all. As root, a machine that cannot make such a root fails them.
"""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.deploy.roots import Root, checkout, fresh_root, root_over


@pytest.fixture(scope="session")
def fresh() -> Path:
    if os.getuid() != 0:
        pytest.skip("installs into a root of its own, for which the tests must run as root")
    return fresh_root()


@pytest.fixture(scope="session")
def installed(fresh: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Path]]:
    """Layers that make up a root with drywind installed, its configuration as it comes."""
    folder = tmp_path_factory.mktemp("installed")
    try:
        with root_over([fresh], folder) as root:
            first = root.install()
        assert first.code == 0, first.said
        (folder / "said").write_text(first.said)
        yield [folder / "upper", fresh]
    finally:
        shutil.rmtree(folder)


@pytest.fixture
def bare(fresh: Path, tmp_path: Path) -> Iterator[Root]:
    """A root where nothing was installed."""
    with root_over([fresh], tmp_path / "root") as root:
        yield root
    shutil.rmtree(tmp_path / "root")


@pytest.fixture
def root(installed: list[Path], tmp_path: Path) -> Iterator[Root]:
    """A root with drywind installed; its /src is a copy that the test may change."""
    with root_over(installed, tmp_path / "root", checkout(tmp_path / "src")) as made:
        yield made
    shutil.rmtree(tmp_path / "root")
