"""Fresh Debian roots to install into: made once, kept in a cache, and laid under each test's own.

A root is run as a container of systemd's (systemd-nspawn), either a command at a time, where
systemd is installed but not running, or booted, with systemd at work in it. Loopback is shared with
this machine, so that what runs there reaches the servers of a test. How pip and apt are reached
from here is handed over by the tests, and is no business of the installer.
"""

import fcntl
import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

REPOSITORY = Path(__file__).parents[2]
CACHE = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache")) / "drywind-tests"
SUITE = "bookworm"
HOLDS = "python3,systemd,systemd-sysv,ca-certificates"
"""What a small Debian has of what drywind needs; Python's venv is for the installer to get."""

CERTIFICATES = Path("/etc/ssl/certs/ca-certificates.crt")
PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"
BOOTS_WITHIN_S = 60.0


@dataclass(frozen=True)
class Ended:
    """How a command in the root ended, and all that it said."""

    code: int
    said: str


@dataclass(frozen=True)
class Root:
    """A root of this test's own.

    Attributes
    ----------
    at
        Where it is mounted.
    source
        The checkout it finds at /src.
    """

    at: Path
    source: Path

    def run(self, *command: str) -> Ended:
        """Run a command as root where systemd is not running."""
        return _run([*self._container(), "--pipe", "--", *command])

    def install(self) -> Ended:
        """Run the installer."""
        return self.run("sh", "/src/deploy/install.sh")

    @contextmanager
    def booted(self) -> Iterator["Booted"]:
        """Boot it, and shut it down in the end."""
        command = ["setpriv", "--pdeathsig", "KILL", *self._container(), "--boot"]
        with subprocess.Popen(
            [*command, "--console=pipe"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as manager:
            try:
                booted = Booted(self.at, manager.pid)
                wait_for(lambda: booted.run("systemctl", "is-system-running").said == "running\n")
                yield booted
            finally:
                manager.send_signal(signal.SIGTERM)

    def _container(self) -> list[str]:
        handed = {name: value for name, value in os.environ.items() if name in _HANDED_OVER}
        return [
            "systemd-nspawn",
            "--quiet",
            f"--directory={self.at}",
            f"--machine=drywind-{os.getpid()}",
            "--register=no",
            "--keep-unit",
            f"--bind-ro={self.source}:/src",
            f"--bind-ro={CERTIFICATES}",
            *(f"--setenv={name}={value}" for name, value in handed.items()),
        ]


@dataclass(frozen=True)
class Booted:
    """A root whose own systemd is running."""

    at: Path
    manager: int

    def run(self, *command: str) -> Ended:
        """Run a command as root beside what systemd runs."""
        handed = [f"{name}={os.environ[name]}" for name in _HANDED_OVER if name in os.environ]
        inside = ["nsenter", "--target", str(self.first), "--all", "--"]
        return _run([*inside, "env", "-i", f"PATH={PATH}", "HOME=/root", *handed, *command])

    def install(self) -> Ended:
        """Run the installer."""
        return self.run("sh", "/src/deploy/install.sh")

    @property
    def first(self) -> int:
        """The process that is systemd there, by its number here."""
        children = Path(f"/proc/{self.manager}/task/{self.manager}/children").read_text()
        return int((children.split() or ["0"])[0])

    def told(self, unit_property: str) -> str:
        """Return what systemd says of the service."""
        asked = f"--property={unit_property}"
        return self.run("systemctl", "show", "--value", asked, "drywind").said.strip()

    def journal(self) -> str:
        """Return all that was logged."""
        return self.run("journalctl", "--no-pager", "--output=cat").said


_HANDED_OVER = ("PIP_CERT", "PIP_DEFAULT_TIMEOUT", "PIP_INDEX_URL", "https_proxy", "http_proxy")


def wait_for(happens: object, within_s: float = BOOTS_WITHIN_S) -> None:
    """Wait for something to happen, and fail if it does not."""
    assert callable(happens)
    give_up = time.monotonic() + within_s
    while not happens():
        assert time.monotonic() < give_up, "it did not happen"
        time.sleep(0.2)


@contextmanager
def root_over(lower: Sequence[Path], folder: Path, source: Path = REPOSITORY) -> Iterator[Root]:
    """Lay a root of one's own over others, the uppermost first; what is written to it goes away."""
    upper, work, at = (folder / name for name in ("upper", "work", "at"))
    for made in (upper, work, at):
        made.mkdir(parents=True)
    layers = f"lowerdir={':'.join(map(str, lower))},upperdir={upper},workdir={work}"
    subprocess.run(["mount", "-t", "overlay", "overlay", "-o", layers, at], check=True)
    try:
        yield Root(at, source)
    finally:
        subprocess.run(["umount", "--lazy", at], check=True)
        shutil.rmtree(work)


def fresh_root() -> Path:
    """Return a small Debian nobody has touched; made the first time it is asked for."""
    made = CACHE / f"{SUITE}-1"
    CACHE.mkdir(parents=True, exist_ok=True)
    with (CACHE / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            making = CACHE / "making"
            shutil.rmtree(making, ignore_errors=True)
            command = ["debootstrap", "--variant=minbase", f"--include={HOLDS}", SUITE, making]
            ended = subprocess.run(command, capture_output=True, text=True, check=False)
            assert ended.returncode == 0, ended.stdout[-2000:] + ended.stderr[-2000:]
            making.rename(made)
    return made


def checkout(folder: Path) -> Path:
    """Copy what the installer reads into a folder, so that a test can change it."""
    for name in ("pyproject.toml", "README.md", "LICENSE", "config.example.toml"):
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copy(REPOSITORY / name, folder)
    for name in ("service", "requirements", "deploy"):
        ignored = shutil.ignore_patterns("__pycache__")
        shutil.copytree(REPOSITORY / name, folder / name, ignore=ignored)
    return folder


def _run(command: Sequence[str]) -> Ended:
    ended = subprocess.run(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
        timeout=400,
    )
    return Ended(ended.returncode, ended.stdout)
