"""The app as somebody meets it: behind its gate, with real judging where a test asks for that."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from discscan.bench import judge_file
from discscan.records import NOTHING_SAID, Given
from discscan.report import PageEntry
from discscan.web import DEFAULT, Desk, Gate, Shelf, WebLimits, build_app

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"
SCRATCHED = DEMO / "lightly_worn_music_cd.jpg"
HERE = "http://127.0.0.1:8037"
ORIGIN = {"Origin": HERE}
TOKEN = "the-token-of-this-test"


@dataclass
class StandIn:
    """Answers every photo alike, and keeps what it was asked. It waits while `gate` is closed."""

    answer: PageEntry
    asked: list[tuple[str, str, Given]] = field(default_factory=list)
    together: list[list[str]] = field(default_factory=list)
    lamps: list[str | None] = field(default_factory=list)
    gate: threading.Event = field(default_factory=threading.Event)

    def __call__(self, photos: Mapping[str, Path], given: Given, lamp: tuple[str, Path] | None) -> PageEntry:
        self.gate.wait(10)
        name, path = next(iter(photos.items()))
        self.asked.append((path.name, name, given))
        self.together.append(list(photos))
        self.lamps.append(lamp[0] if lamp else None)
        return replace(self.answer, photo=self.answer.photo.model_copy(update={"file": name}))


@dataclass(frozen=True)
class Stall:
    """A served app: its client on this machine, what judges, and the folder of originals."""

    app: Gate
    client: TestClient
    judge: StandIn
    folder: Path

    def send(self, *photos: bytes, name: str = "disc.jpg", origin: str | None = HERE) -> Any:
        files = [("photo", (name, photo, "image/jpeg")) for photo in photos]
        return self.client.post("/photos", files=files, headers={"Origin": origin} if origin else {})

    def until_done(self, url: Any) -> Any:
        """Press "Look again", as somebody without scripts does."""
        for _ in range(200):
            answer = self.client.get(str(url))
            if "Look again" not in answer.text:
                return answer
            time.sleep(0.05)
        raise AssertionError("no answer came")

    def from_elsewhere(self, **extra: str) -> TestClient:
        """A client on another machine, without a cookie."""
        return TestClient(self.app, base_url=extra.get("base_url", HERE), client=("192.168.7.20", 50_000))


@pytest.fixture(scope="session")
def judged() -> PageEntry:
    """A demo photo, really judged."""
    return judge_file(SCRATCHED, "Photo 1", NOTHING_SAID)


@pytest.fixture
def serve(judged: PageEntry, tmp_path: Path) -> Iterator[Callable[..., Stall]]:
    with ExitStack() as ends:

        def start(
            *, limits: WebLimits = DEFAULT, judge: Any = None, address: str | None = None, stack: Any = None
        ) -> Stall:
            stand_in = StandIn(judged)
            stand_in.gate.set()
            folder = tmp_path / "private"
            folder.mkdir()
            desk = Desk(folder, judge or stand_in, limits=limits)
            shelf = Shelf(tmp_path / "ledger.sqlite")
            bare = build_app(desk, shelf=shelf, stack=stack, address=address, limits=limits)
            app = Gate(bare, hosts=["127.0.0.1", "localhost"], token=TOKEN, limits=limits)
            client = ends.enter_context(TestClient(app, base_url=HERE, client=("127.0.0.1", 50_000)))
            ends.callback(stand_in.gate.set)
            return Stall(app, client, stand_in, folder)

        yield start


@pytest.fixture
def stall(serve: Callable[..., Stall]) -> Stall:
    return serve()


@pytest.fixture(scope="session")
def photo() -> bytes:
    return SCRATCHED.read_bytes()
