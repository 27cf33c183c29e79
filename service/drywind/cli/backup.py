"""`drywind backup` and `drywind restore`: a copy of the store made, and put in its place."""

from pathlib import Path

import click

from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    open_store,
    print_json,
    store_path,
)
from drywind.clock import iso, utc_now
from drywind.db.backups import back_up, backup_by_hand, folder_of, made_at, newest_first
from drywind.db.database import plain_errors
from drywind.db.recovery import restore as restore_store
from drywind.delivery import sole_watcher
from drywind.errors import DamagedError, NewerError, UsageError


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@config_option
@json_option
def backup(file: Path | None, config_path: str | None, as_json: bool) -> None:
    """Write a checked copy of all that is stored, also while the daemon runs.

    Without FILE it goes to the folder `backups` beside the store, and is kept there. It holds the
    names of contacts and all they were told: keep it as safe as the store.
    """
    path = store_path(load_config(config_path))
    if file is not None and file.exists():
        raise UsageError(f"{file} is there already; drywind does not write over it")
    if file is None:
        file = backup_by_hand(path, utc_now())
    else:
        back_up(path, file)
    size = file.stat().st_size
    if as_json:
        print_json({"file": str(file), "size_bytes": size})
    else:
        click.echo(f"Wrote {file} ({size / 1e3:,.0f} kB), read back and found sound.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@config_option
@json_option
def restore(file: Path | None, config_path: str | None, as_json: bool) -> None:
    """Put a copy in place of the store; stop the daemon first.

    Without FILE it is the newest good one in the folder `backups`. The store that was there is
    kept beside it. A warning sent since the copy was made may be sent once more.
    """
    config = load_config(config_path)
    path = store_path(config)
    with plain_errors(path):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with sole_watcher(config):
        used, kept = _restored(path, [file] if file else newest_first(folder_of(path)))
        with open_store(config) as store:
            stacks, lots = len(store.stacks()), len(store.lots())
    if as_json:
        told = {"restored_from": str(used), "made_at": iso(made_at(used)), "stacks": stacks}
        print_json(told | {"lots": lots, "replaced_store": str(kept) if kept else None})
        return
    click.echo(f"Restored {used}, made {iso(made_at(used))}: {stacks} stacks stand, {lots} lots.")
    if kept:
        click.echo(f"The store that was there is kept as {kept}.")
    click.echo("Enter what has happened since; start the daemon again.")


def _restored(path: Path, copies: list[Path]) -> tuple[Path, Path | None]:
    for number, copy in enumerate(copies, start=1):
        try:
            return copy, restore_store(path, copy, utc_now())
        except (DamagedError, NewerError) as error:
            if number == len(copies):
                raise
            click.echo(f"{error}; trying the one before.", err=True)
    raise UsageError(f"there is no copy in {folder_of(path)}; name a file")
