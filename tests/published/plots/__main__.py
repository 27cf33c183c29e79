"""Draw every picture of the checks into a folder, and renew the tables of `service/MODEL.md`.

    .venv/bin/python -m tests.published.plots service/model

It takes about a minute. In any other folder it draws the pictures and leaves the page alone.
"""

import sys
from pathlib import Path

from tests.published.plots import PICTURES, draw
from tests.published.plots.look import save
from tests.published.plots.numbers import all_numbers
from tests.published.plots.page import FOLDER, PAGE, checks_table, numbers_table, with_table


def main() -> None:
    """Draw."""
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    drawn = {}
    for name in PICTURES:
        sys.stderr.write(f"{name}\n")
        drawn[name] = draw(name)
        save(drawn[name].figure, folder / f"{name}.svg")
    if folder.resolve() == FOLDER:
        page = with_table(PAGE.read_text(), "numbers", numbers_table(all_numbers()))
        PAGE.write_text(with_table(page, "checks", checks_table(drawn)))


if __name__ == "__main__":
    main()
