"""The app in a real browser: Debian's Chromium, driven by Playwright, at the size of a phone and of a desk."""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from discscan.bench import judge_file
from discscan.records import NOTHING_SAID, Given
from discscan.report import PageEntry
from discscan.stack import Outputs, Review, StackRun, WorkFolder
from discscan.stack.folder import Folder
from discscan.stack.work import answer_of
from discscan.web import Desk, Gate, Shelf, build_app

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"
PHOTO = DEMO / "lightly_worn_music_cd.jpg"
expect.set_options(timeout=30_000)  # a busy machine is no fault of the page
SIZES = {"phone": (390, 844), "narrow phone": (320, 640), "desk": (1280, 900)}
# as root there is no sandbox; the others keep it from talking to anybody
FLAGS = (
    "--no-sandbox", "--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run",
    "--disable-dev-shm-usage",  # a container's is small
)  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    if chromium is None:
        pytest.skip("Chromium is not installed")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def judged() -> PageEntry:
    """A demo photo, really judged."""
    return judge_file(PHOTO, "Photo 1", NOTHING_SAID)


@pytest.fixture(scope="session")
def stack_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A stack of three discs, really judged, and one photo without any."""
    photos, place = tmp_path_factory.mktemp("trays"), tmp_path_factory.mktemp("trays-judged")
    for name in ("clean_language_course_cd", "cracked_music_cd", "no_disc_at_all", "scratched_film_dvd"):
        copy = photos / f"{name}.jpg"
        shutil.copyfile(DEMO / copy.name, copy)
        os.utime(copy, (time.time() - 60, time.time() - 60))
    outputs = Outputs(place, title="Quay Street trays")
    StackRun(Folder(photos), WorkFolder(place), outputs, InThisProcess())(threading.Event(), watch=False)
    return place


class InThisProcess:
    at_once = 1

    def submit(self, key: str, photos: Sequence[bytes]) -> Any:
        from concurrent.futures import Future

        done: Future[Any] = Future()
        done.set_result(answer_of(judge_file(photos[0], "", NOTHING_SAID)))
        return done

    def close(self) -> None:
        pass


@dataclass(frozen=True)
class Site:
    """A running server: its address, what it judged and as what, its ledger and its stack."""

    address: str
    asked: list[tuple[str, Given]]
    shelf: Shelf
    stack: Path


@pytest.fixture
def site(tmp_path: Path, judged: PageEntry, stack_folder: Path) -> Iterator[Site]:
    asked: list[tuple[str, Given]] = []

    def judge(photos: Mapping[str, Path], given: Given, lamp: tuple[str, Path] | None) -> PageEntry:
        name = next(iter(photos))
        asked.append((", ".join([*photos, *([f"lamp {lamp[0]}"] if lamp else [])]), given))
        return replace(judged, photo=judged.photo.model_copy(update={"file": name}))

    stack = Path(shutil.copytree(stack_folder, tmp_path / "trays-judged"))
    shelf, listening = Shelf(tmp_path / "ledger.sqlite"), socket.create_server(("127.0.0.1", 0))
    (tmp_path / "private").mkdir()
    bare = build_app(Desk(tmp_path / "private", judge), shelf=shelf, stack=Review(stack))
    app = Gate(bare, hosts=["127.0.0.1"], token="not needed")
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", ws="none", lifespan="on"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    yield Site(f"http://127.0.0.1:{listening.getsockname()[1]}", asked, shelf, stack)
    server.should_exit = True
    thread.join(10)


@pytest.fixture(params=["phone", "desk"])
def size(request: pytest.FixtureRequest) -> tuple[int, int]:
    return SIZES[request.param]


@pytest.fixture
def open_page(browser: Browser, site: Site) -> Iterator[Callable[..., Page]]:
    """A page of a fresh visitor, at an address of the site."""
    with ExitStack() as ends:

        def opened(path: str, size: tuple[int, int] = SIZES["phone"], **settings: Any) -> Page:
            context: BrowserContext = browser.new_context(
                viewport={"width": size[0], "height": size[1]}, has_touch=size[0] < 500, **settings
            )
            ends.callback(context.close)
            context.set_default_timeout(30_000)
            page = context.new_page()
            page.goto(site.address + path)
            return page

        yield opened


@pytest.fixture
def send() -> Callable[[Page], None]:
    """Send the demo photo by the form, and press its button."""

    def sent(page: Page) -> None:
        page.get_by_label("Photograph its data side").set_input_files(PHOTO)
        page.get_by_role("button", name="Judge it", exact=True).click()

    return sent
