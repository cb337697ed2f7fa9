"""`discscan stack` at work: judge a folder with several processes, say how far it is, stop in good order."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from discscan.cli.layout import put_lines
from discscan.cli.streams import put, say
from discscan.errors import NoStack
from discscan.learn import lesson_in_use, place_of
from discscan.lessons import Learned
from discscan.places import book_place, home_of
from discscan.records import FormatName, Given
from discscan.report import stack_words
from discscan.stack import Outputs, Progress, Review, StackRun, Workers, WorkFolder, default_work_folder, groups_of
from discscan.stack.folder import Folder
from discscan.stack.outputs import PAGE, by_todo
from discscan.stack.workers import ClusterWorkers, LocalWorkers

DONE, INCOMPLETE, STOPPED = 0, 1, 130


@dataclass(frozen=True)
class Wishes:
    """What the options asked for."""

    photos: Path
    out: Path | None
    format: FormatName | None
    watch: bool
    workers: int
    cluster: str | None
    review: bool
    lan: bool
    port: int
    book: str | None


def judge_stack(wishes: Wishes) -> int:
    """Judge the folder and return the exit status. With `review`, show it in a browser meanwhile and afterwards."""
    photos = _folder(wishes.photos)
    place = wishes.out or default_work_folder(photos)
    if place.resolve() == photos.resolve():
        raise NoStack("Photos and results in one folder.", file=str(place), remedy="Name another with --out.")
    learned = lesson_in_use(place_of(home_of(book_place(wishes.book))))
    work = WorkFolder(place, given=Given(wishes.format), learned=learned)
    outputs = Outputs(place, title=photos.resolve().name, learned=learned)
    stop = threading.Event()
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # asked to end by the system: as with Ctrl-C
    with _progress() as tell:
        run = StackRun(Folder(photos), work, outputs, _workers(wishes, learned), on_progress=tell)
        if wishes.review:
            return _with_review(run, stop, wishes, place)
        stopped = False
        try:
            run(stop, watch=wishes.watch)
        except KeyboardInterrupt:
            stopped = True
    _tell(run, place)
    if stopped:
        say(stack_words.stopped(run.progress.done, run.progress.known))
        return STOPPED
    return _status(run)


def _with_review(run: StackRun, stop: threading.Event, wishes: Wishes, place: Path) -> int:
    """Judge in a thread while the pages are served; Ctrl-C ends both."""
    from discscan.web.serve import serve

    failed: list[BaseException] = []

    def work() -> None:
        try:
            run(stop, watch=wishes.watch)
        except Exception as error:  # the pages go on; it is told now and ends the command later
            failed.append(error)
            say(f"{error} Ctrl-C ends the pages.")

    review = Review(place, photos=wishes.photos, progress=lambda: run.progress)
    thread = threading.Thread(target=work, name="stack")
    thread.start()
    try:
        serve(lan=wishes.lan, port=wishes.port, tell=put, book=wishes.book, stack=review)
    finally:
        stop.set()
        thread.join()
    if failed:
        raise failed[0]
    _tell(run, place)
    return _status(run)


def _status(run: StackRun) -> int:
    return DONE if all(photo.error is None and photo.discs for photo in run.photos) else INCOMPLETE


def _folder(place: Path) -> Path:
    if not place.is_dir():
        raise NoStack(stack_words.NO_PHOTO_FOLDER, file=str(place), remedy="Name the folder that the photos come to.")
    return place


def _workers(wishes: Wishes, learned: Learned | None) -> Workers:
    if wishes.cluster is not None:
        return ClusterWorkers(wishes.cluster, given=Given(wishes.format), learned=learned)
    return LocalWorkers(wishes.workers, given=Given(wishes.format), learned=learned)


def _tell(run: StackRun, place: Path) -> None:
    photos = run.photos
    for photo in photos:
        if photo.error is not None:
            say(f"{photo.file}: {photo.error.message}")
    groups = groups_of(photos, run.merged)
    put_lines(stack_words.found(len(groups), photos, by_todo(groups)))
    say(f"Page: {(place / PAGE).resolve()}")


@contextmanager
def _progress() -> Iterator[Callable[[Progress], None]]:
    """A bar on standard error with the time that is left; none where nobody looks at it."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    columns: tuple[Any, ...] = BarColumn(), TextColumn("{task.description}"), TimeRemainingColumn()
    with Bar(*columns, console=Console(stderr=True), transient=True, redirect_stdout=False) as bar:
        task = bar.add_task("", total=None)

        def tell(now: Progress) -> None:
            said = stack_words.progress(now.done, now.known, now.growing)
            bar.update(task, completed=now.done, total=now.known, description=said)

        yield tell
