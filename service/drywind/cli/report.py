"""`drywind report`: the page of the yard."""

from pathlib import Path

import click

from drywind.cli.common import (
    config_option,
    json_option,
    load_config,
    now_option,
    open_store,
    print_json,
    read_now,
)


@click.command()
@click.option("--out", type=click.Path(dir_okay=False), help="The file; yard.html in data_dir.")
@config_option
@now_option
@json_option
def report(out: str | None, config_path: str | None, now: str | None, as_json: bool) -> None:
    """Write the yard as one page (HTML): today in words, the days ahead, every stack's curve.

    It is made of the weather in the store; the daemon writes it after each pass. Saw days, places
    and ready dates are those of the daemon, or made anew where it has none: that takes a minute.
    """
    from drywind.cli.report_views import sheet_json  # noqa: PLC0415 - numpy only where needed
    from drywind.cycle import look_ahead  # noqa: PLC0415
    from drywind.report import FILE_NAME  # noqa: PLC0415
    from drywind.report.page import render, write  # noqa: PLC0415
    from drywind.sheets.plans import kept_plans, make_plans  # noqa: PLC0415
    from drywind.sheets.yard import yard_sheet  # noqa: PLC0415

    config = load_config(config_path)
    instant = read_now(now, config)
    with open_store(config) as store:
        plans = kept_plans(config, instant) or make_plans(config, store, instant)
        outlooks = look_ahead(config, store, instant)
        sheet = yard_sheet(config, store, outlooks, instant, plans)
    if as_json:
        print_json(sheet_json(sheet))
        return
    path = Path(out) if out else config.data_dir / FILE_NAME
    write(render(sheet), path)
    click.echo(f"{sheet.head}\nWrote {path}")
