"""Each photo once, none lost, and the same result however often it was stopped."""

from __future__ import annotations

import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from discscan.records import NOTHING_SAID
from discscan.report import PageEntry, error_report
from discscan.stack import Outputs, StackRun, WorkFolder
from discscan.stack.folder import Folder
from discscan.stack.work import answer_of

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"


def standing_in(stack: Any, answer: Any = None) -> Any:
    """Workers that answer every photo alike, unless a test says otherwise."""
    return stack.standing_in(answer or stack.answer)


def test_every_photo_is_judged_and_a_second_run_judges_none(stack: Any, results: Any) -> None:
    for number in range(5):
        stack.put(f"tray{number}.jpg")
    workers, photos = stack.run()
    assert len(workers.handed) == 5 and workers.closed
    assert [photo.file for photo in photos] == [f"tray{number}.jpg" for number in range(5)]
    before = results(stack.place)
    again, photos_again = stack.run()
    assert again.handed == [] and photos_again == photos
    assert results(stack.place) == before


def test_the_same_photo_under_two_names_is_judged_once_and_told_once(stack: Any) -> None:
    stack.put("a.jpg", b"the same")
    stack.put("b.jpg", b"the same")
    stack.put("later/c.jpg", b"the same")
    workers, photos = stack.run()
    assert len(workers.handed) == 1
    assert [photo.file for photo in photos] == ["a.jpg"]


def test_photos_come_in_the_order_in_which_people_count(stack: Any) -> None:
    for name in ("tray10.jpg", "tray9.jpg", "Tray1.jpg", "disc2/1.jpg"):
        stack.put(name)
    _, photos = stack.run()
    assert [photo.file for photo in photos] == ["Tray1.jpg", "tray9.jpg", "tray10.jpg", "disc2/1.jpg"]


@pytest.mark.parametrize("after", [0, 1, 4])
def test_stopped_and_resumed_is_the_same_as_one_run(
    stack: Any, another: Callable[[], Any], entry: PageEntry, after: int, results: Any
) -> None:
    for number in range(6):
        stack.put(f"tray{number}.jpg")
    whole = another()
    whole.run()
    first = standing_in(stack)
    stopped = another()
    stopped.place = stack.place.with_name("stopped")
    first.stops_after = after
    with pytest.raises(KeyboardInterrupt):
        stopped.run(first)
    second, _ = stopped.run()
    assert set(first.handed).isdisjoint(second.handed)  # what was judged is never judged again
    assert len(first.handed) + len(second.handed) == 6
    assert results(stopped.place) == results(whole.place)


def test_a_file_that_is_still_being_written_is_waited_for(tmp_path: Path) -> None:
    folder, path = Folder(tmp_path), tmp_path / "growing.jpg"
    path.write_bytes(b"half")
    assert folder.look() == ([], 1)
    path.write_bytes(b"half and half")
    assert folder.look() == ([], 1)
    past = time.time() - 10
    os.utime(path, (past, past))
    ((shot,), growing) = folder.look()
    assert shot.file == "growing.jpg" and growing == 0


def test_a_time_in_the_future_does_not_keep_a_file_out_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A camera whose clock is wrong."""
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"photo")
    os.utime(path, (time.time() + 9999, time.time() + 9999))
    folder = Folder(tmp_path)
    assert folder.look()[1] == 1
    now = time.monotonic()
    monkeypatch.setattr(time, "monotonic", lambda: now + 10)
    assert folder.look()[1] == 0


@pytest.mark.parametrize("name", [".photo.jpg", "photo.jpg.part", "photo.txt", ".sync/photo.jpg", "a/b/photo.jpg"])
def test_what_is_no_photo_or_half_copied_under_another_name_is_left_alone(stack: Any, name: str) -> None:
    stack.put(name)
    assert stack.run()[1] == []


def test_a_photo_that_cannot_be_read_is_kept_with_its_error_and_judged_anew_when_it_is_whole(stack: Any) -> None:
    """Real workers' answers to a file cut short, which a slow copy leaves for a while."""
    from discscan.bench import judge_file

    class Judging(type(standing_in(stack))):  # type: ignore[misc]
        def submit(self, key: str, photos: Sequence[bytes]) -> Any:
            self.answer = answer_of(judge_file(photos[0], "", NOTHING_SAID))
            return super().submit(key, photos)

    whole = (DEMO / "clean_language_course_cd.jpg").read_bytes()
    stack.put("disc.jpg", whole[: len(whole) // 2])
    _, (photo,) = stack.run(Judging(stack.answer))
    assert photo.error is not None and photo.error.code == "broken-photo"
    assert photo.sha256 is not None
    assert stack.run(Judging(stack.answer))[0].handed == []  # the error is an answer too
    stack.put("disc.jpg", whole, age_s=30)
    _, (photo,) = stack.run(Judging(stack.answer))
    assert photo.error is None and len(photo.discs) == 1


def test_what_failed_for_a_reason_of_the_moment_is_tried_again(stack: Any, entry: PageEntry) -> None:
    from discscan.errors import TookTooLong

    stack.put("slow.jpg")
    failed = answer_of(PageEntry(error_report(TookTooLong("It took too long.", file="", remedy="Wait.")), None, ()))
    workers = standing_in(stack, failed)
    stack.place = stack.place.with_name("fresh")
    _, (photo,) = stack.run(workers)
    assert photo.error is not None and photo.error.code == "took-too-long"
    _, (photo,) = stack.run()
    assert photo.error is None


def test_half_an_answer_after_a_loss_of_power_counts_as_none(stack: Any) -> None:
    stack.put("tray.jpg")
    stack.run()
    (answer,) = (stack.place / "answers").rglob("*.json")
    answer.write_bytes(answer.read_bytes()[:100])
    assert len(stack.run()[0].handed) == 1
    next(iter((stack.place / "pictures").iterdir())).unlink()
    assert len(stack.run()[0].handed) == 1


def test_watching_takes_what_comes_until_it_is_told_to_stop(stack: Any, until: Any) -> None:
    workers = standing_in(stack)
    stop = threading.Event()
    run = StackRun(Folder(stack.photos), WorkFolder(stack.place), Outputs(stack.place, title="trays"), workers)
    thread = threading.Thread(target=run, args=(stop,), kwargs={"watch": True})
    thread.start()
    try:
        for number in (1, 2):
            stack.put(f"{number}.jpg")
            until(lambda number=number: run.progress.done == number)
    finally:
        stop.set()
        thread.join(10)
    assert len(workers.handed) == 2 and len(run.photos) == 2


@pytest.fixture
def interrupts_heard() -> Iterator[None]:
    """A shell that runs tests in the background has them ignore Ctrl-C, and with them all that they start."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("interrupts_heard")
@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT], ids=lambda end: end.name)
def test_killed_half_way_and_resumed_it_leaves_byte_for_byte_what_one_run_leaves(
    tmp_path: Path, end: signal.Signals, whole_run: tuple[Path, Path], stack_command: Any, until: Any, results: Any
) -> None:
    photos, whole = whole_run
    out = tmp_path / "killed"
    command = stack_command(photos, out)
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as first:
        until(lambda: len(list(out.rglob("answers/*/*.json"))) >= 2)
        first.send_signal(end)
        first.communicate(timeout=60)
    assert first.returncode == (-9 if end is signal.SIGKILL else 130)
    kept = {file: file.stat().st_mtime_ns for file in out.rglob("answers/*/*.json")}
    assert 2 <= len(kept) < 6
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    assert {file: file.stat().st_mtime_ns for file in kept} == kept  # judged once
    assert results(out) == results(whole)
