"""The tables of the page `service/MODEL.md`, written between its marks, and what it refers to."""

import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from tests.published.plots.look import Drawn
from tests.published.plots.numbers import Number

from drywind.wood.drying import MODEL_VERSION

PAGE = Path(__file__).parents[3] / "service" / "MODEL.md"
FOLDER = PAGE.parent / "model"
COMMAND = ".venv/bin/python -m tests.published.plots service/model"


def _line(*cells: str) -> str:
    return f"| {' | '.join(cells)} |"


def _head(*names: str) -> list[str]:
    return [_line(*names), _line(*["---"] * len(names))]


def numbers_table(numbers: Iterable[Number]) -> str:
    """Return where the numbers come from."""
    head = _head("quantity", "value", "source", "how it was had")
    return "\n".join([*head, *(_line(*number) for number in numbers)])


def picture_rows(name: str, drawn: Drawn) -> list[str]:
    """Return a picture's rows of the table of checks."""
    link = f"[picture](#{name.replace('_', '-')})"
    return [_line(*row, link) for row in drawn.rows]


def checks_table(drawn: Mapping[str, Drawn]) -> str:
    """Return what was held against what, and the version of the model that was."""
    rows = [row for name, picture in drawn.items() for row in picture_rows(name, picture)]
    made = f"Made with version {MODEL_VERSION} of the drying model by `{COMMAND}`."
    head = _head("check", "published", "drywind", "verdict", "source", "")
    return "\n".join([made, "", *head, *rows])


def between(page: str, mark: str) -> str:
    """Return what stands between a mark's two ends."""
    found = re.search(rf"<!-- {mark} -->\n(.*?)\n<!-- end of {mark} -->", page, re.DOTALL)
    assert found, f"no {mark} in the page"
    return found[1]


def with_table(page: str, mark: str, table: str) -> str:
    """Return the page with another table between a mark's two ends."""
    old = between(page, mark)
    return page.replace(f"<!-- {mark} -->\n{old}\n", f"<!-- {mark} -->\n{table}\n")


def pictures_named(page: str) -> list[str]:
    """Return the files of pictures the page shows, in order."""
    return re.findall(r"!\[[^\]]+\]\(model/([a-z_]+)\.svg\)", page)
