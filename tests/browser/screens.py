"""Draws the README's pictures of the pages anew, on a phone's screen.

    python tests/browser/screens.py [demo_images/screens]

It starts the review of a stack of demo photos with a ledger of its own, sends a photo, and takes the pictures.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Page, expect, sync_playwright

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"
STACK = ("clean_language_course_cd.jpg", "ring_scratched_film_dvd.jpg", "scratched_film_dvd.jpg")
FLAGS = ["--no-sandbox", "--disable-background-networking", "--disable-component-update", "--no-first-run"]


def main() -> None:
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO / "screens"
    out.mkdir(exist_ok=True)
    with TemporaryDirectory() as folder:
        trays = Path(folder) / "trays"
        trays.mkdir()
        for name in STACK:
            shutil.copy(DEMO / name, trays / name)
        command = [sys.executable, "-m", "discscan", "stack", str(trays), "--review", "--port", "0"]
        environment = {**os.environ, "DISCSCAN_BOOK": str(Path(folder) / "ledger.sqlite")}
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, env=environment) as server:
            try:
                assert server.stdout is not None
                (address,) = re.findall(r"http://\S+", server.stdout.readline())
                take(address.rstrip("/"), out)
            finally:
                server.terminate()


def take(address: str, out: Path) -> None:
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = chromium.new_page(viewport={"width": 390, "height": 860}, device_scale_factor=1.5)
        page.set_default_timeout(120_000)
        page.goto(address)
        page.get_by_label("Photograph its data side").set_input_files(DEMO / "ring_scratched_film_dvd.jpg")
        page.get_by_role("button", name="Judge it", exact=True).click()
        expect(page.locator(".verdict")).to_be_visible(timeout=120_000)
        keep(page, out / "answer.jpg")
        fill = "item-1=Harbour+Songs&sells-1=9&asked-1=2&chance-1=0.8&item-2=Tidewater+Tactics&sells-2=25&asked-2=9"
        page.goto(f"{address}/basket?budget=10&{fill}&chance-2=0.6")
        keep(page, out / "basket.jpg")
        while "3 discs" not in page.text_content("main"):
            page.goto(f"{address}/stack")
        page.goto(f"{address}/stack/3")
        keep(page, out / "review.jpg")
        chromium.close()


def keep(page: Page, place: Path) -> None:
    page.screenshot(path=place, type="jpeg", quality=72)


if __name__ == "__main__":
    main()
