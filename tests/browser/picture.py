"""Take the README's picture anew: ``python -m tests.browser.picture PAGE.html PICTURE.png``.

The page is the one the demo leaves behind.
"""

import shutil
import sys
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright
from tests.browser.conftest import FLAGS

WIDTH, HEIGHT = 1180, 1560
COLORS = 48
"""Few, so that the file stays small; there are no photographs on the page."""


def main(page: Path, picture: Path) -> None:
    """Write the top of a page, as a desk shows it, to a picture file."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=list(FLAGS)
        )
        window = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        window.goto(page.resolve().as_uri())
        shown = Image.open(BytesIO(window.screenshot()))
        browser.close()
    shown.convert("RGB").quantize(COLORS).save(picture, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
