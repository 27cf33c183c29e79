"""A program killed with kill -9 over and over, at moments spread over all it does."""

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Iterator
from pathlib import Path


def program(code: str, *arguments: object) -> subprocess.Popen[str]:
    """Start Python on this code, which may import from this folder; it prints "begun" first."""
    here = str(Path(__file__).parent)
    begin = f"import sys; sys.path.insert(0, {here!r})\n"
    return subprocess.Popen(
        [sys.executable, "-c", begin + textwrap.dedent(code), *map(str, arguments)],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONWARNINGS": "error"},
    )


def killed(code: str, lives: int, *arguments: object) -> Iterator[int]:
    """Run the code so often, killed ever later after "begun": at last when it is all but done.

    Between two lives whoever asked may look at what was left, and put things as they were. The
    first is not killed: it tells how long all takes.
    """
    long_s = 0.0
    for life in range(lives + 1):
        with program(code, *arguments) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == "begun\n"
            begun = time.perf_counter()
            if life:
                threading.Event().wait(long_s * life / lives)
                child.send_signal(signal.SIGKILL)
            child.wait()
            if not life:
                long_s = time.perf_counter() - begun
                assert child.returncode == 0
        yield life
