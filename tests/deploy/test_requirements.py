"""What is installed is what was locked, whole, from wheels, on every system we name."""

import re
import ssl
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import certifi
import pytest
from tests.deploy.roots import REPOSITORY

from drywind.clock import utc_now

LOCKS = sorted((REPOSITORY / "requirements").glob("*.lock"))


def requirements(lock: Path) -> list[str]:
    """Return each requirement of a lock file, its continued lines joined."""
    joined = lock.read_text(encoding="utf-8").replace("\\\n", " ")
    return [line for line in joined.splitlines() if line and not line.startswith("#")]


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.stem)
def test_every_requirement_is_one_version_with_its_hashes_and_from_the_index(lock: Path) -> None:
    found = requirements(lock)

    assert len(found) > 20
    for line in found:
        assert re.match(r"[a-z0-9][a-z0-9._-]*(\[[a-z,]+\])?==[0-9][^ ]* ", line), line
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", line), line
        assert not re.search(r"@ |://|^-|git\+", line), line


@pytest.mark.parametrize("script", ["deploy/install.sh", "deploy/Containerfile"])
def test_the_installer_and_the_container_take_wheels_with_known_hashes_alone(script: str) -> None:
    text = (REPOSITORY / script).read_text().replace("\\\n", " ")

    calls = re.findall(r"^.*\bpip\b.* install\b.*(?:\n +.*)?", text, re.MULTILINE)
    assert len(calls) == 2
    for call in calls:
        locked = "--require-hashes" in call and "--only-binary :all:" in call
        assert locked or "--no-index" in call, call


@pytest.mark.parametrize("machine", ["x86_64", "aarch64"])
@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
def test_there_are_wheels_of_all_the_daemon_needs(
    machine: str, python: str, tmp_path: Path
) -> None:
    """Asks the package index; manylinux 2.28 is Debian 10, Ubuntu 20.04 and later (PEP 600)."""
    command = [
        str(Path(sys.executable).with_name("uv")),
        "pip",
        "install",
        "--dry-run",
        "--no-deps",
    ]
    command += ["--target", str(tmp_path), "--python-platform", f"{machine}-manylinux_2_28"]
    command += ["--python-version", python, "--only-binary", ":all:", "--require-hashes"]
    command += ["--requirements", str(REPOSITORY / "requirements/run.lock")]

    asked = subprocess.run(command, capture_output=True, text=True, check=False)

    assert asked.returncode == 0, asked.stderr
    assert f"Would install {count(python)} packages" in asked.stderr


def count(python: str) -> int:
    """Return how many of the daemon's requirements are not for another system or Python."""
    from packaging.requirements import Requirement

    here = {"python_version": python, "python_full_version": f"{python}.0"}
    here |= {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"}
    lines = requirements(REPOSITORY / "requirements/run.lock")
    parsed = [Requirement(line.partition(" --hash")[0].strip()) for line in lines]
    return sum(r.marker is None or r.marker.evaluate(here) for r in parsed)


def test_the_authorities_that_are_locked_are_not_older_than_a_year_and_a_half() -> None:
    """Certifi names its releases by their day; on a computer nobody updates they age."""
    (line,) = [x for x in requirements(LOCKS[-1]) if x.startswith("certifi==")]
    year, month, day = (int(part) for part in re.findall(r"\d+", line)[:3])

    today = utc_now()
    age = today - today.replace(year=year, month=month, day=day)
    assert age < timedelta(days=548)
    assert ssl.create_default_context(cafile=certifi.where()).get_ca_certs()
