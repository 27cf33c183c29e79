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
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
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


_ASIDE = "/run/systemd/nspawn/propagate/"
"""Stands in a line systemd-nspawn says at its end where systemd does not run this machine."""

_HANDED_OVER = ("PIP_CERT", "PIP_DEFAULT_TIMEOUT", "PIP_INDEX_URL", "https_proxy", "http_proxy")


def wait_for(happens: Callable[[], object], within_s: float = BOOTS_WITHIN_S) -> None:
    """Wait for something to happen, and fail if it does not."""
    give_up = time.monotonic() + within_s
    while not happens():
        assert time.monotonic() < give_up, "it did not happen"
        time.sleep(0.2)


@contextmanager
def in_memory(folder: Path) -> Iterator[Path]:
    """Make a folder that is kept in memory, and gone in the end."""
    folder.mkdir(parents=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=3g", "tmpfs", folder], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)


@contextmanager
def root_over(lower: Sequence[Path], folder: Path, source: Path = REPOSITORY) -> Iterator[Root]:
    """Lay a root of one's own over others, the uppermost first; `folder` takes what is written."""
    upper, work, at = (folder / name for name in ("upper", "work", "at"))
    for made in (upper, work, at):
        made.mkdir()
    layers = f"lowerdir={':'.join(map(str, lower))},upperdir={upper},workdir={work}"
    subprocess.run(["mount", "-t", "overlay", "overlay", "-o", layers, at], check=True)
    try:
        yield Root(at, source)
    finally:
        subprocess.run(["umount", "--lazy", at], check=True)


def fresh_root() -> Path:
    """Return a small Debian nobody has touched; made the first time it is asked for."""
    made = CACHE / f"{SUITE}-1"
    if not made.exists():
        making = CACHE / "making"
        shutil.rmtree(making, ignore_errors=True)
        command = ["debootstrap", "--variant=minbase", f"--include={HOLDS}", SUITE, str(making)]
        ended = subprocess.run(command, capture_output=True, text=True, check=False)
        assert ended.returncode == 0, ended.stdout[-2000:] + ended.stderr[-2000:]
        making.rename(made)
    return made


def kept_libraries() -> Path:
    """Return a layer with the libraries an earlier run installed from the same lock file, if any.

    To install them takes half a minute of this computer; what comes after is then tried as in an
    upgrade that needs no other libraries.
    """
    return CACHE / f"libraries-{cksum(REPOSITORY / 'requirements/run.lock')}"


def keep_libraries(upper: Path) -> None:
    """Keep the libraries just installed, in place of those of another lock file."""
    for old in CACHE.glob("libraries-*"):
        shutil.rmtree(old)
    making = CACHE / "making"
    shutil.rmtree(making, ignore_errors=True)
    shutil.copytree(
        upper / "opt/drywind/libraries", making / "opt/drywind/libraries", symlinks=True
    )
    making.rename(kept_libraries())


def cksum(file: Path) -> str:
    """Return a short name for what is in a file."""
    return sha256(file.read_bytes()).hexdigest()[:12]


@contextmanager
def sole_use() -> Iterator[None]:
    """Hold the cache for this process alone."""
    CACHE.mkdir(parents=True, exist_ok=True)
    with (CACHE / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


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
    said = [line for line in ended.stdout.splitlines(keepends=True) if _ASIDE not in line]
    return Ended(ended.returncode, "".join(said))
