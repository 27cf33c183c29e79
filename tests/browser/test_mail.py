"""A warning as it arrives in a mailbox, shown as a mail program shows it: with its picture."""

import re
from base64 import b64encode
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path

import pytest
from tests.browser.conftest import Windows
from tests.conftest import HOT_DRY, Command, Mailbox, WeatherService

NOW = "2026-06-10T21:00Z"
STACKED = "2026-06-10T18:00Z"


@pytest.fixture
def warning(run: Command, weather_service: WeatherService, mailbox: Mailbox) -> EmailMessage:
    """Let a warning of a fresh stack in hot dry wind come by mail.

    By processes of their own: the browser's driver runs an event loop in this one.
    """
    weather_service.issue(datetime(2026, 6, 10, 18, tzinfo=UTC), [HOT_DRY] * 174)
    run(
        *("stack", "add", "R7", "--species", "red_oak", "--thickness", "4/4", "--site", "gravel"),
        *("--stacked", STACKED),
    )
    run("watch", "--once", "--now", NOW)
    return next(mail for mail in mailbox.mails if "drying too fast" in mail["subject"])


def as_shown(mail: EmailMessage) -> str:
    """Return the page of a mail with its pictures in their places, as a mail program shows it."""
    body = mail.get_body(("html",))
    assert body is not None
    pictures = {
        part["Content-ID"].strip("<>"): part.get_content()
        for part in mail.walk()
        if part.get_content_type() == "image/png"
    }
    assert len(pictures) == 1

    def put(found: re.Match[str]) -> str:
        return f"data:image/png;base64,{b64encode(pictures.pop(found[1])).decode()}"

    html = re.sub(r"cid:([^\"]+)", put, str(body.get_content()))
    assert pictures == {}
    return html


@pytest.mark.parametrize("width", [360, 1280])
def test_the_picture_is_shown_and_tells_what_it_shows(
    width: int, warning: EmailMessage, windows: Windows, tmp_path: Path
) -> None:
    file = tmp_path / "mail.html"
    file.write_text(as_shown(warning), encoding="utf-8")

    shown = windows.show(file, width)
    image = shown.page.locator("img")
    box = image.bounding_box()

    assert image.evaluate("e => e.naturalWidth") > 500
    assert box is not None
    assert 300 < box["width"] <= 600
    assert (image.get_attribute("alt") or "").startswith("R7 red oak 4/4, gravel: moisture content")
    assert shown.overflow_px == 0
    assert shown.grave_findings() == []
    assert (shown.complaints, shown.requests) == ([], [])


def test_the_page_that_is_sent_holds_no_picture_itself_and_no_link(warning: EmailMessage) -> None:
    body = warning.get_body(("html",))
    assert body is not None

    html = str(body.get_content())

    assert re.findall(r'src="(\w+):', html) == ["cid"]
    assert not re.search(r"https?:|url\(|@import|javascript", html)
    assert warning.get_content_type() == "multipart/alternative"
