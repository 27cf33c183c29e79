"""A store in memory while the disk cannot be written: the watch goes on, on a copy.

The copy lies in a file system in memory. All that was decided, sent and learned meanwhile is taken
over when the disk can be written again; if the power fails before, it is lost, and some of it may
be said a second time.
"""

import logging
import os
import shutil
import tempfile
from hashlib import sha256
from pathlib import Path

from drywind.errors import StoreError
from drywind.store import Store

_log = logging.getLogger(__name__)


def memory_folder(data_dir: Path) -> Path:
    """Return a folder that is kept in memory: that of the service, or else one for these data."""
    if given := os.environ.get("RUNTIME_DIRECTORY"):
        return Path(given.split(":")[0])
    shared = Path("/dev/shm")  # noqa: S108 - in a folder of our own, for our eyes only
    base = shared if os.access(shared, os.W_OK) else Path(tempfile.gettempdir())
    mark = sha256(str(data_dir.absolute()).encode()).hexdigest()[:12]
    folder = base / f"drywind-{os.getuid()}-{mark}"
    folder.mkdir(mode=0o700, exist_ok=True)
    if folder.is_symlink() or folder.stat().st_uid != os.getuid():
        raise StoreError(f"{folder}: belongs to somebody else; remove it")
    return folder


class StandIn:
    """The store the daemon uses: the one on the disk, or its copy in memory.

    Parameters
    ----------
    disk
        The file on the disk.
    memory
        The file in memory, there only while it stands in.
    """

    def __init__(self, disk: Path, memory: Path) -> None:
        self.disk, self._memory = disk, memory
        _remove(memory)  # of a daemon that was killed: the disk has the last word

    @property
    def path(self) -> Path:
        """The file to use now."""
        return self._memory if self.is_used else self.disk

    @property
    def is_used(self) -> bool:
        """Whether the copy in memory stands in."""
        return self._memory.exists()

    def retreat(self) -> None:
        """Go on in memory, from all that was committed to the disk.

        Raises
        ------
        StoreError
            If there is no room in memory either, or the file cannot be read.
        """
        new = self._memory.with_suffix(".new")
        try:
            for end in ("", "-wal"):
                if Path(f"{self.disk}{end}").exists():
                    shutil.copyfile(f"{self.disk}{end}", f"{new}{end}")
            with Store(new) as store:
                store.fold()
            new.replace(self._memory)
        except OSError as error:
            raise StoreError(f"{new}: {error.strerror}") from error
        finally:
            _remove(new)
        _log.error("%s cannot be written: watching on from memory", self.disk)

    def come_back(self) -> bool:
        """Go back to the disk if it can be written; return whether it could."""
        try:
            with Store(self.disk) as store:
                store.take_over(self._memory)
        except StoreError as error:
            _log.warning("still in memory: %s", error)
            return False
        _remove(self._memory)
        _log.warning("%s can be written again", self.disk)
        return True


def _remove(path: Path) -> None:
    for end in ("", "-wal", "-shm"):
        Path(f"{path}{end}").unlink(missing_ok=True)
