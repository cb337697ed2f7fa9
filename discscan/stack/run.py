"""From a folder to answers: photo after photo as they come, each once, until all are judged or somebody stops it."""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import suppress
from dataclasses import dataclass

from discscan.errors import UnreadablePhoto
from discscan.photo import DEFAULT, PhotoLimits, contents
from discscan.report import DiscReport, PhotoReport, error_report
from discscan.stack.folder import Folder, Shot
from discscan.stack.groups import in_folders, together_key
from discscan.stack.outputs import Outputs
from discscan.stack.work import PASSING, Answer, WorkFolder
from discscan.stack.workers import Workers

LOOK_S = 0.5
OUTPUTS_S = 5.0
"""So often results are written while photos are still being judged."""


@dataclass(frozen=True)
class Progress:
    """How far it is: photos with an answer, photos in the folder, and those still being written."""

    done: int
    known: int
    growing: int


class StackRun:
    """One run over a folder. What was judged before is passed over, by the hash of its bytes.

    Args:
        on_progress: called after each change, from the thread that runs.
    """

    def __init__(
        self,
        folder: Folder,
        work: WorkFolder,
        outputs: Outputs,
        workers: Workers,
        *,
        limits: PhotoLimits = DEFAULT,
        on_progress: Callable[[Progress], None] = lambda _: None,
    ) -> None:
        self._folder, self._work, self._outputs, self._workers = folder, work, outputs, workers
        self._limits, self._on_progress = limits, on_progress
        self._hashes: dict[tuple[str, tuple[int, int]], str] = {}
        self._answers: dict[str, PhotoReport] = {}
        self._at_work: dict[Future[Answer], str] = {}
        self._unread: dict[tuple[str, tuple[int, int]], PhotoReport] = {}
        self._shots: list[Shot] = []
        self.progress = Progress(0, 0, 0)
        self._taken: set[Future[Answer]] = set()
        self._written: tuple[set[tuple[str, tuple[int, int]]], int] | None = None
        self._written_at = float("-inf")

    def __call__(self, stop: threading.Event, *, watch: bool) -> list[PhotoReport]:
        """Judge what is there, and with `watch` what comes, until `stop`; the records in the order of the folder."""
        try:
            while not stop.is_set():
                self._shots, growing = self._folder.look()
                waiting = self._hand_over(self._shots) or self._hand_over_together()
                self._take_answers()
                self.progress = Progress(sum(map(self._answered, self._shots)), len(self._shots) + growing, growing)
                self._on_progress(self.progress)
                finished = not (self._at_work or waiting or growing or self._taken)
                self._write(now=finished)
                if finished and not watch:
                    break
                if not self._at_work:
                    stop.wait(LOOK_S)
        finally:
            self._keep({future for future in self._at_work if future.done()})  # what is closed has no answer any more
            self._workers.close()
            self._write(now=True)
        return self.photos

    def _hand_over(self, shots: list[Shot]) -> bool:
        """Give photos to free workers; whether others wait."""
        for shot in shots:
            if self._known(shot):
                continue
            if len(self._at_work) >= self._workers.at_once:
                return True
            try:
                data = contents(shot.path, name=shot.file, limits=self._limits)
            except UnreadablePhoto as error:
                self._unread[shot.file, shot.state] = error_report(error)
                continue
            sha256 = hashlib.sha256(data).hexdigest()
            self._hashes[shot.file, shot.state] = sha256
            if not self._has(sha256):
                self._at_work[self._workers.submit(sha256, [data])] = sha256
        return False

    def _hand_over_together(self) -> bool:
        """The same for the photos of a folder, as one, when each of them has its answer."""
        whole = {shot.file.rpartition("/")[0] for shot in self._shots if not self._answered(shot)}
        paths = {shot.file: shot.path for shot in self._shots}
        for folder, photos in in_folders(self.photos).items():
            key = together_key([str(photo.sha256) for photo in photos])
            if folder in whole or len(photos) < 2 or self._has(key):
                continue
            if len(self._at_work) >= self._workers.at_once:
                return True
            with suppress(UnreadablePhoto):  # gone or changed since: the next look finds that
                data = [contents(paths[photo.file], name=photo.file, limits=self._limits) for photo in photos]
                self._at_work[self._workers.submit(key, data)] = key
        return False

    def _has(self, key: str) -> bool:
        """Whether there is an answer, from before too, or somebody works at it."""
        if key not in self._answers and key not in self._at_work.values():
            kept = self._work.find(key)
            if kept is None:
                return False
            self._answers[key] = kept
        return True

    def _known(self, shot: Shot) -> bool:
        key = (shot.file, shot.state)
        return key in self._hashes or key in self._unread

    def _take_answers(self) -> None:
        """Wait for the next answer, but not long: new photos may have come, or somebody wants to stop."""
        self._taken, _ = wait(self._at_work, timeout=LOOK_S, return_when=FIRST_COMPLETED)
        self._keep(self._taken)

    def _keep(self, done: set[Future[Answer]]) -> None:
        for future in done:
            answer, sha256 = future.result(), self._at_work.pop(future)
            photo = PhotoReport.model_validate_json(answer.photo)
            if photo.error is None or photo.error.code not in PASSING:
                self._work.keep(sha256, answer)
            self._answers[sha256] = photo

    def _answered(self, shot: Shot) -> bool:
        key = (shot.file, shot.state)
        return key in self._unread or self._hashes.get(key) in self._answers

    @property
    def photos(self) -> list[PhotoReport]:
        """Each photo with an answer once, under the first of its names."""
        photos: dict[str, PhotoReport] = {}
        for shot in filter(self._answered, self._shots):
            key = (shot.file, shot.state)
            if key in self._unread:
                photos[shot.file] = self._unread[key]
            elif (sha256 := self._hashes[key]) not in photos:
                photos[sha256] = self._answers[sha256].model_copy(update={"file": shot.file, "sha256": sha256})
        return list(photos.values())

    @property
    def merged(self) -> list[DiscReport]:
        """What the photos of each folder say as one, under the names that their files have now."""
        told = []
        for photos in in_folders(self.photos).values():
            answer = self._answers.get(together_key([str(photo.sha256) for photo in photos]))
            for disc in answer.discs if answer is not None and len(photos) > 1 else []:
                if disc.merged_from is not None:
                    sources = [
                        one.model_copy(update={"file": photos[int(one.file) - 1].file}) for one in disc.merged_from
                    ]
                    told.append(disc.model_copy(update={"merged_from": sources}))
        return told

    def _write(self, *, now: bool) -> None:
        """The results so far: seldom while judging, and only where there is something new."""
        answered = ({(shot.file, shot.state) for shot in filter(self._answered, self._shots)}, len(self._answers))
        due = now or time.monotonic() - self._written_at >= OUTPUTS_S
        if due and answered != self._written:
            self._outputs.write(self.photos, self.merged)
            self._written, self._written_at = answered, time.monotonic()
