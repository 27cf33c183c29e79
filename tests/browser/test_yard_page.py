"""The yard's page in a real browser: readable everywhere, by everybody, and alone."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from tests.browser.conftest import Scheme, Windows
from tests.browser.sheets import full, many, stack

from drywind.report.page import render
from drywind.report.record import Health, State, YardSheet
from drywind.units import Units

PHONE, DESK = 360, 1280
HOSTILE = (
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>' onload='alert(1)",
    "</style></svg><svg onload=alert(1)>",
    "{{ 7 * 7 }} {% for x in y %}",
    "🪵🔥 Eiche Großgrün \N{RIGHT-TO-LEFT OVERRIDE}kcab",
    "W" * 200,
)
MOST_BYTES = 2_000_000


def bare() -> YardSheet:
    """Return the page of a yard that has only just been set up."""
    sheet = full()
    return YardSheet(
        yard=sheet.yard,
        reader=replace(sheet.reader, units=Units.METRIC),
        head="No stack stands in the yard.",
        rest=(),
        tasks=(),
        places=(),
        stacks=(),
        lots=(),
        health=Health((), (), None, "0.1.0"),
        credits=(),
    )


def named(words: str) -> YardSheet:
    """Return a page on which everything that people or services name is named so."""
    return full(lambda _: words)


SHEETS = {"full": full(), "bare": bare(), "long names": named(HOSTILE[-1])}


def written(folder: Path, sheet: YardSheet) -> Path:
    file = folder / "yard.html"
    file.write_text(render(sheet), encoding="utf-8")
    return file


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [PHONE, DESK])
@pytest.mark.parametrize("which", SHEETS)
def test_the_page_fits_fetches_nothing_and_can_be_read_by_everybody(
    which: str, width: int, scheme: Scheme, windows: Windows, tmp_path: Path
) -> None:
    shown = windows.show(written(tmp_path, SHEETS[which]), width, scheme)

    assert shown.overflow_px == 0
    assert shown.grave_findings() == []
    assert shown.complaints == []
    assert shown.requests == []


@pytest.mark.parametrize("words", HOSTILE, ids=range(len(HOSTILE)))
def test_names_are_shown_as_they_are_and_do_nothing(
    words: str, windows: Windows, tmp_path: Path
) -> None:
    shown = windows.show(written(tmp_path, named(words)), PHONE)

    assert shown.page.text_content(".yard") == f"{words}Sat Jun 13"
    assert shown.page.locator("script, img, iframe, object, embed, base, form").count() == 0
    assert (
        shown.page.evaluate(
            "[...document.querySelectorAll('*')].flatMap(e => e.getAttributeNames())"
            ".filter(n => n.startsWith('on'))"
        )
        == []
    )
    assert shown.overflow_px == 0
    assert shown.complaints == []
    assert shown.requests == []


def test_nothing_is_lost_without_scripts(windows: Windows, tmp_path: Path) -> None:
    file = written(tmp_path, full())

    assert windows.show(file, PHONE, scripts=False).text == windows.show(file, PHONE).text


def test_the_drawings_stand_where_they_should(windows: Windows, tmp_path: Path) -> None:
    shown = windows.show(written(tmp_path, full()), DESK)
    plots = shown.page.locator(".plot:not(.low)")

    assert plots.count() == len(full().stacks)
    box = plots.first.bounding_box()
    line = plots.first.locator("path.typical.board").bounding_box()
    assert box is not None
    assert line is not None
    assert box["width"] > 300
    assert line["width"] == pytest.approx(box["width"], abs=6)
    assert box["y"] <= line["y"] <= line["y"] + line["height"] <= box["y"] + box["height"]


def test_it_prints_on_paper(windows: Windows, tmp_path: Path) -> None:
    shown = windows.show(written(tmp_path, full()), DESK, "dark")

    pdf = shown.page.pdf(format="Letter")
    shown.page.emulate_media(media="print")
    ground = shown.page.evaluate("getComputedStyle(document.querySelector('.sheet')).background")

    assert pdf.startswith(b"%PDF")
    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 10
    assert "rgb(255, 255, 255)" in ground
    assert shown.complaints == []


def test_every_stack_can_be_reached_from_its_name(windows: Windows, tmp_path: Path) -> None:
    shown = windows.show(written(tmp_path, full()), PHONE)
    links = shown.page.eval_on_selector_all("a[href^='#']", "a => a.map(e => e.hash.slice(1))")

    assert set(links) == {"s-R0", "s-R1", "s-R2", "s-R3", "s-R4", "s-L4"}
    assert all(shown.page.locator(f"[id='{name}']").count() == 1 for name in links)


def test_a_hundred_stacks_after_months_keep_within_two_megabytes(
    windows: Windows, tmp_path: Path
) -> None:
    file = written(tmp_path, many(100))
    shown = windows.show(file, PHONE)

    assert file.stat().st_size <= MOST_BYTES
    assert shown.page.locator("article.stack").count() == 100
    assert shown.complaints == []


def test_a_stack_of_which_nothing_is_known_says_so(windows: Windows, tmp_path: Path) -> None:
    lost = replace(stack("R9", State.UNKNOWN), curve=None, table=None, head="unknown: measure it")
    shown = windows.show(written(tmp_path, replace(full(), stacks=(lost,))), PHONE)

    assert "Unknown: measure it." in shown.text
    assert shown.page.locator("figure").count() == 0
