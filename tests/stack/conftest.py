"""A folder of photos, and workers that answer at once or when they are told to."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import pytest

from discscan.bench import judge_file
from discscan.records import NOTHING_SAID
from discscan.report import PageEntry, PhotoReport
from discscan.stack import Outputs, StackRun, WorkFolder
from discscan.stack.folder import Folder
from discscan.stack.work import Answer, answer_of

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"


@dataclass
class StandIn:
    """Answers every photo alike, and keeps what it was handed."""

    answer: Answer
    at_once: int = 3
    handed: list[str] = field(default_factory=list)
    closed: bool = False
    stops_after: int | None = None

    def submit(self, key: str, photos: Sequence[bytes]) -> Future[Answer]:
        if self.stops_after is not None and len(self.handed) >= self.stops_after:
            raise KeyboardInterrupt
        self.handed.append(key)
        future: Future[Answer] = Future()
        future.set_result(self.answer)
        return future

    def close(self) -> None:
        self.closed = True


@dataclass
class Bench:
    """A folder of photos and what a run over it needs."""

    photos: Path
    place: Path
    answer: Answer

    def put(self, name: str, content: bytes | None = None, *, age_s: float = 60) -> Path:
        """A file that was last written so long ago; its content is its name where none is told."""
        path = self.photos / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(name.encode() if content is None else content)
        then = time.time() - age_s
        os.utime(path, (then, then))
        return path

    def standing_in(self, answer: Answer) -> StandIn:
        return StandIn(answer)

    def run(self, workers: StandIn | None = None) -> tuple[StandIn, list[PhotoReport]]:
        workers = workers or StandIn(self.answer)
        run = StackRun(Folder(self.photos), WorkFolder(self.place), Outputs(self.place, title="trays"), workers)
        return workers, run(threading.Event(), watch=False)


@pytest.fixture(scope="session")
def entry() -> PageEntry:
    return judge_file(DEMO / "scratched_film_dvd.jpg", "", NOTHING_SAID)


@pytest.fixture
def stack(tmp_path: Path, entry: PageEntry) -> Bench:
    (tmp_path / "trays").mkdir()
    return Bench(tmp_path / "trays", tmp_path / "judged", answer_of(entry))


@pytest.fixture
def another(tmp_path: Path, entry: PageEntry) -> Callable[[], Bench]:
    """A second place for results, over the same photos."""
    return lambda: Bench(tmp_path / "trays", tmp_path / "judged-again", answer_of(entry))


@pytest.fixture(scope="session")
def until() -> Callable[[Callable[[], bool]], None]:
    """Wait until something happened."""

    def waited(happened: Callable[[], bool]) -> None:
        for _ in range(2400):
            if happened():
                return
            time.sleep(0.05)
        raise AssertionError("it did not happen")

    return waited


@pytest.fixture(scope="session")
def stack_command() -> Callable[[Path, Path], list[str]]:
    return lambda photos, out: [sys.executable, "-m", "discscan", "stack", str(photos), "--out", str(out)]


@pytest.fixture(scope="session")
def results() -> Callable[[Path], dict[str, bytes]]:
    """All that a run left, by its path."""
    return lambda out: {str(file.relative_to(out)): file.read_bytes() for file in out.rglob("*") if file.is_file()}


@pytest.fixture(scope="session")
def whole_run(tmp_path_factory: pytest.TempPathFactory, stack_command: Any) -> tuple[Path, Path]:
    """Six photos with discs, two of one disc among them, and what one undisturbed run leaves."""
    photos, out = tmp_path_factory.mktemp("trays"), tmp_path_factory.mktemp("whole")
    for number, name in enumerate(("clean_language", "cracked_music", "scratched_game", "lightly_worn")):
        (source,) = DEMO.glob(f"{name}*.jpg")
        (photos / f"{number}.jpg").write_bytes(source.read_bytes())
    one_disc = photos / "one disc"
    one_disc.mkdir()
    bgr = cv2.imread(str(DEMO / "scratched_film_dvd.jpg"))
    assert bgr is not None
    cv2.imwrite(str(one_disc / "1.jpg"), bgr)
    cv2.imwrite(str(one_disc / "2.jpg"), cv2.rotate(bgr, cv2.ROTATE_90_CLOCKWISE))
    subprocess.run(stack_command(photos, out), cwd=ROOT, check=True, capture_output=True)
    return photos, out
