"""Telling the service manager how we are (sd_notify(3)): over its socket, or to nobody."""

import os
import socket


def notify(*lines: str) -> None:
    """Send states like ``READY=1`` or ``WATCHDOG=1``; does nothing where no manager listens."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):  # the abstract namespace
        address = f"\0{address[1:]}"
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as to:
            to.connect(address)
            to.sendall("\n".join(lines).encode())
    except OSError:
        return  # a manager that does not listen restarts us, which is all that can be done


def watchdog_s() -> float | None:
    """Return within how many seconds the manager wants to hear of us; None if it does not."""
    try:
        limit_s = int(os.environ["WATCHDOG_USEC"]) / 1e6
        pid = int(os.environ.get("WATCHDOG_PID", os.getpid()))
    except (KeyError, ValueError):
        return None
    return limit_s if limit_s > 0.0 and pid == os.getpid() else None
