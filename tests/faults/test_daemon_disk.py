"""The daemon on a disk that fills up, turns read-only or loses pages: a small, but a real one."""

import os
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.conftest import HOT_DRY, WEEK, Command, Mailbox, Phone, WeatherService, Yard
from tests.faults.daemons import wait_for, watching

from drywind.db.backups import nightly_backup
from drywind.store import Store

pytestmark = pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")

LOOKS_OFTEN = """\
from drywind.cli import main
from drywind.daemon import loop

loop.DELIVERY_S = 2
main(["watch"])
"""


@pytest.fixture
def disk(yard: Yard) -> Iterator[Path]:
    """Put the yard's data on a disk of three megabytes."""
    yard.data.mkdir()
    small = ["mount", "-t", "tmpfs", "-o", "size=3m,mode=0700", "none", str(yard.data)]
    subprocess.run(small, check=True)
    yield yard.data
    subprocess.run(["umount", "--lazy", yard.data], check=True)


@pytest.fixture
def calm_yard(disk: Path, quick: Command, weather_service: WeatherService) -> Path:
    """Red oak in fair weather, watched once, so that all is there that a pass keeps."""
    wood = ("--species", "red oak", "--thickness", "4/4", "--site", "shed")
    assert quick("stack", "add", "R7", *wood).code == 0
    weather_service.issue(datetime.now(UTC), [(18.0, 75.0, 1.0)] * WEEK)
    assert quick("watch", "--once").code == 0
    weather_service.issue(datetime.now(UTC) + timedelta(minutes=1), [HOT_DRY] * WEEK)
    return disk


def fill(disk: Path) -> Path:
    """Leave not a byte free; return what fills it."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:
            return filler


def remount(disk: Path, how: str) -> None:
    subprocess.run(["mount", "-o", f"remount,{how}", disk], check=True)


def sent(yard: Yard) -> int:
    return int(yard.sql("SELECT count(*) FROM outbox WHERE state = 'sent'")[0][0])


@pytest.mark.parametrize("fault", ["full", "read-only"])
def test_warnings_go_out_while_nothing_can_be_written_and_are_taken_home_later(
    yard: Yard, calm_yard: Path, mailbox: Mailbox, phone: Phone, fault: str
) -> None:
    filler = fill(calm_yard) if fault == "full" else None
    if fault == "read-only":
        remount(calm_yard, "ro")
    with watching(yard, "-c", LOOKS_OFTEN) as daemon:
        wait_for(lambda: any("red oak" in text for text in phone.texts))
        wait_for(lambda: any("cannot write" in text for text in phone.texts))
        wait_for(lambda: any("R7" in mail["Subject"] for mail in mailbox.mails))
        assert daemon.said("watching on from memory")

        if filler is None:
            remount(calm_yard, "rw")
        else:
            filler.unlink()

        wait_for(lambda: daemon.said("can be written again"))
        wait_for(lambda: sent(yard) >= 4)
        told = len(phone.texts), len(mailbox.mails)
        daemon.stop()

    with watching(yard) as daemon:
        wait_for(lambda: daemon.said("INFO drywind: pass: 1 stacks"))
        daemon.stop()
    assert (len(phone.texts), len(mailbox.mails)) == told, "it was all said before"


def test_a_damaged_store_is_replaced_by_its_copy_told_once_and_the_watch_goes_on(
    yard: Yard, calm_yard: Path, phone: Phone
) -> None:
    path = calm_yard / "drywind.db"
    nightly_backup(path, datetime.now(UTC) - timedelta(hours=20))
    with Store(path) as store:
        store.fold()
    damaged = bytearray(path.read_bytes())
    for page in range(1, len(damaged) // 4096):
        damaged[page * 4096 : page * 4096 + 64] = bytes(64)
    path.write_bytes(damaged)

    for _ in range(2):
        with watching(yard, "-c", LOOKS_OFTEN) as daemon:
            wait_for(lambda: sum("red oak" in text for text in phone.texts) == 1)
            wait_for(lambda: daemon.said("INFO drywind: pass: 1 stacks"))
            daemon.stop()

    [notice] = [text for text in phone.texts if "damaged" in text]
    assert "it is back as of" in notice
    assert sum("red oak" in text for text in phone.texts) == 1
