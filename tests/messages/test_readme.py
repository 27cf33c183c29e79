"""What README.md and the guide tell people to type: every line of it is typed here."""

import re
import shlex
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.conftest import DRY, Command, WeatherService, Yard

from drywind.clock import floor_hour

ROOT = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "service/GUIDE.md")
SCRIPTS = ("sh demo/run.sh", "sh tests/run.sh")
"""These install and run for minutes; CI runs the second, and it would run itself."""

DATED = re.compile(r"2026-06-(\d\d)")
SPREADSHEET = "id,species,thickness,site\nE1,hard maple,4/4,long shed\nW2,black walnut,4/4,barn\n"


def commands(document: str) -> list[str]:
    """Return the lines of a document's shell blocks, without their comments."""
    blocks = re.findall(r"```sh\n(.*?)```", (ROOT / document).read_text(), re.DOTALL)
    lines = [
        shlex.join(shlex.split(line, comments=True)) for b in blocks for line in b.splitlines()
    ]
    return [line for line in lines if line]


def as_of_today(line: str) -> str:
    """Return a line with its days of June 2026 as days of the last two weeks."""
    first = datetime.now(UTC).date() - timedelta(days=15)
    return DATED.sub(lambda m: (first + timedelta(days=int(m[1]))).isoformat(), line)


@pytest.fixture
def at_home(yard: Yard, weather_service: WeatherService) -> Yard:
    """Return the yard of the README, in a fresh folder beside what a clone has."""
    for old, new in (("gravel", "gravel lot"), ("shed", "long shed")):
        yard.configure(f'name = "{old}"', f'name = "{new}"')
    weather_service.issue(floor_hour(datetime.now(UTC)) - timedelta(hours=2), [DRY] * 174)
    (yard.folder / "stacks.csv").write_text(SPREADSHEET)
    (yard.folder / "tests").symlink_to(ROOT / "tests")
    return yard


def watch(folder: Path) -> None:
    """Let the daemon start, and end it as the README says."""
    with subprocess.Popen(
        [sys.executable, "-m", "drywind", "watch"], cwd=folder, stderr=subprocess.PIPE, text=True
    ) as daemon:
        try:
            assert daemon.stderr is not None
            for line in daemon.stderr:
                if "watching" in line:
                    break
            daemon.send_signal(signal.SIGTERM)
            assert daemon.wait(60) == 0
        finally:
            daemon.kill()


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_command_of_a_document_works(document: str, at_home: Yard, quick: Command) -> None:
    typed = commands(document)
    assert len(typed) > 10

    for line in typed:
        words = shlex.split(as_of_today(line))
        if line in SCRIPTS:
            script = ROOT / words[1]
            assert subprocess.run(["sh", "-n", script], check=False).returncode == 0
        elif words[0] == ".":
            assert (Path(sys.prefix) / Path(words[1]).relative_to(".venv")).exists()
        elif words == ["drywind", "watch"]:
            watch(at_home.folder)
        else:
            assert words[0] == "drywind", line
            done = quick(*words[1:])
            assert (done.code, line, done.stderr) == (0, line, "")


@pytest.mark.parametrize("document", [*DOCUMENTS, "service/RIGHT.md", "DEVELOPERS.md"])
def test_what_a_document_links_to_is_there(document: str) -> None:
    text = (ROOT / document).read_text()
    links = [link for link in re.findall(r"\]\(([^)\s]+)\)", text) if ":" not in link]

    for link in links:
        path, _, anchor = link.partition("#")
        target = (ROOT / document).parent / path
        assert target.exists(), link
        assert f'id="{anchor}"' in target.read_text() if anchor else True


def test_no_line_of_a_table_on_the_terminal_is_wider_than_80(at_home: Yard, quick: Command) -> None:
    for name in ("R7", "long-name-12"):
        quick(
            *("stack", "add", name, "--species", "white_oak_lowland", "--thickness", "16/4"),
            *("--site", "gravel lot", "--measures", "pile_roof burlap shade_cloth packs_closed"),
        )
    quick("lot", "add", "L4", "--species", "hard_maple", "--felled", "2026-06-11", "--site", "barn")
    asked = (
        ("check",), ("stack", "list"), ("stack", "show", "R7"), ("lot", "list"), ("species",),
        ("species", "red_oak"), ("emc", "--temp", "70F", "--rh", "65"), ("sensitivity",),
        ("watch", "--once", "--dry-run"), ("--help",), ("stack", "--help"), ("init", "--help"),
    )  # fmt: skip
    for command in asked:
        done = quick(*command)
        assert done.code == 0, command
        wide = [
            line
            for line in done.stdout.splitlines()
            if len(line) > 80 and not line.startswith(("FIRST", "OUTLOOK", "DIGEST", "Data in"))
        ]
        assert wide == [], command
    assert at_home.data.exists()
