"""The page `service/MODEL.md`: its pictures can be drawn, and its numbers are the code's.

If the page is out of date: `.venv/bin/python -m tests.published.plots service/model`.
"""

from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from tests.published.plots import PICTURES, draw, times
from tests.published.plots.look import save
from tests.published.plots.numbers import all_numbers
from tests.published.plots.page import (
    FOLDER,
    PAGE,
    between,
    numbers_table,
    picture_rows,
    pictures_named,
)
from tests.published.test_drying_times import PLACES, STARTS, WOODS, Dried

from drywind.judge import hazards
from drywind.wood import diffusion, limits, solver, stain
from drywind.wood.drying import CELLS, MODEL_VERSION

TIMES = ("days_where_fitted", "days_elsewhere", "red_oak_by_month", "sugar_maple")
"""Of every wood through a year at four places: what takes longest is not computed again here."""

ELABORATE = ("other_solvers", "year")
LARGEST_BYTES = 60_000


@pytest.fixture
def page() -> str:
    return PAGE.read_text()


@pytest.fixture
def made_up_times(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every board lose half a point a day from 80 %."""
    place = [place for place in PLACES for _ in range(STARTS[place])]
    mc = np.broadcast_to(np.arange(80.0, 0.0, -0.5)[:, None, None], (160, len(WOODS), len(place)))
    monkeypatch.setattr(times, "dried", lambda: Dried(mc, place))


def test_every_picture_of_the_page_can_be_drawn_and_every_drawn_one_is_on_the_page(
    page: str,
) -> None:
    files = sorted(path.stem for path in FOLDER.iterdir())

    assert pictures_named(page) == list(PICTURES)
    assert files == sorted(PICTURES)


def test_every_picture_has_its_heading_to_be_jumped_to(page: str) -> None:
    headings = [line[4:] for line in page.splitlines() if line.startswith("### ")]

    assert [heading.lower().replace(" ", "_") for heading in headings] == list(PICTURES)


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_a_small_drawing_on_white(name: str) -> None:
    file = FOLDER / f"{name}.svg"

    first = ET.parse(file).getroot().find(".//{http://www.w3.org/2000/svg}path")

    assert first is not None
    assert "fill: #ffffff" in first.attrib["style"]
    assert file.stat().st_size < LARGEST_BYTES


def test_the_page_names_the_values_and_sources_the_code_has_today(page: str) -> None:
    assert between(page, "numbers") == numbers_table(all_numbers())


def test_the_text_of_the_page_says_what_the_code_does_today(page: str) -> None:
    text = " ".join(page.split())
    settled = diffusion.FIBER_SATURATION

    for said in (
        f"{CELLS} cells that are thin at the face",
        f"exp({diffusion.MOISTURE_SLOPE} (min(m, {settled:.2f}) \N{MINUS SIGN} {settled:.2f}))",
        f"Below {solver.FREEZING_C:g} °C free water in the wood is ice",
        f"in full while the board is above {limits.FULL_WEIGHT_MC_PCT:.0f} % MC",
        f"less and less down to {limits.NO_WEIGHT_MC_PCT:.0f} %",
        f"an outer millimeter below {hazards.SHELL_CHECKS_PCT:.0f} %",
        f"doubles its speed every {stain.DOUBLING_C:.0f} K",
    ):
        assert said in text


def test_the_page_was_made_with_todays_version_of_the_model(page: str) -> None:
    assert f"Made with version {MODEL_VERSION} of the drying model" in between(page, "checks")


@pytest.mark.parametrize("name", [n for n in PICTURES if n not in TIMES + ELABORATE])
def test_a_picture_drawn_today_shows_the_numbers_on_the_page(
    page: str, tmp_path: Path, name: str
) -> None:
    drawn = draw(name)
    save(drawn.figure, tmp_path / f"{name}.svg")

    checks = between(page, "checks").splitlines()
    assert drawn.rows
    assert [row for row in picture_rows(name, drawn) if row not in checks] == []


@pytest.mark.usefixtures("made_up_times")
@pytest.mark.parametrize("name", TIMES)
def test_drying_times_can_be_drawn_and_stray_ones_are_told(tmp_path: Path, name: str) -> None:
    """In the made-up times every board takes 120 days, which is no woods' mean of 90."""
    drawn = draw(name)
    save(drawn.figure, tmp_path / f"{name}.svg")

    told = "\n".join(picture_rows(name, drawn))
    assert "120" in told or "inside" in told
    assert ("**fails**" in told) == (name in {"sugar_maple", "red_oak_by_month"})
