"""Files written whole or not at all, whenever the power fails."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

TEMPORARY = ".drywind-"
"""How the names of files not yet whole begin."""


@contextmanager
def whole_file(target: Path) -> Iterator[IO[bytes]]:
    """Write a file for its owner's eyes only, in place of the one there may be, or leave that.

    What is written goes to a file beside it; that is on the disk, and takes its name, only when
    the block has ended without an error.

    Raises
    ------
    OSError
        If it cannot be written; nothing is left behind.
    """
    # Made with mode 0600, whatever the umask.
    with tempfile.NamedTemporaryFile(dir=target.parent, prefix=TEMPORARY, delete=False) as file:
        unfinished = Path(file.name)
        try:
            yield file
            file.flush()
            os.fsync(file.fileno())
            unfinished.replace(target)
        finally:
            unfinished.unlink(missing_ok=True)
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Put the names of the files in a folder on the disk."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
