"""Where photos wait their turn: received, kept by the hash of their bytes, judged one after the other."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from string import ascii_lowercase
from typing import Literal

from discscan.bench import failed
from discscan.errors import UnreadablePhoto
from discscan.photo import check_photo
from discscan.records import NOTHING_SAID, Given
from discscan.report import PageEntry, error_report
from discscan.web.limits import DEFAULT, WebLimits

Judge = Callable[[Mapping[str, Path], Given, tuple[str, Path] | None], PageEntry]
"""From a photo's file under its name, or several of one disc, what the person says it is, and perhaps a photo of it
against a lamp, to a part of the page."""


@dataclass(frozen=True)
class Job:
    """One photo, or several of one disc taken as one, as it stands now.

    Attributes:
        key: made from the hash of its bytes: the same photo sent twice is one job.
        parts: the hashes of its photos.
        lamp: that of the one against a lamp, None without one.
        number: in the order of arrival, from 1; people know it by that.
        given: what the person says of the disc.
        entry: its answer, None until there is one; kept while a correction waits.
        ahead: how many photos are judged before it.
    """

    key: str
    number: int
    parts: tuple[str, ...]
    lamp: str | None = None
    given: Given = NOTHING_SAID
    state: Literal["waiting", "working", "done"] = "waiting"
    entry: PageEntry | None = None
    ahead: int = 0

    @property
    def name(self) -> str:
        return f"Photo {self.number}"

    @property
    def kept(self) -> tuple[str, ...]:
        """The hashes of all its photos."""
        return self.parts if self.lamp is None else (*self.parts, self.lamp)

    @property
    def names(self) -> list[str]:
        """Of all its photos: "Photo 3", or "Photo 3a", "Photo 3b" and so on."""
        count = len(self.kept)
        return [self.name] if count == 1 else [f"{self.name}{letter}" for letter in ascii_lowercase[:count]]


class QueueFull(Exception):
    """There is no place left for these photos now."""


class Desk:
    """Takes photos in and works them off in one thread; every method may be called from any thread.

    Args:
        folder: private; originals lie there under their hash, and nothing in it is ever served.
    """

    def __init__(self, folder: Path, judge: Judge, *, limits: WebLimits = DEFAULT) -> None:
        self._folder, self._judge, self._limits = folder, judge, limits
        self._jobs: dict[str, Job] = {}
        self._waiting: deque[str] = deque()
        self._changed = threading.Condition()
        self._received = 0
        self._closed = False
        self._worker = threading.Thread(target=self._work, name="judging", daemon=True)

    def start(self) -> None:
        self._worker.start()

    def close(self) -> None:
        """Take nothing more from the queue; the photo at work is given up with the process."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def take(
        self, photos: Sequence[bytes], *, together: bool = False, more_of: str = "", lamp: bool = False
    ) -> tuple[list[Job], list[UnreadablePhoto]]:
        """Keep photos and queue them; what is here already keeps its place and its answer.

        Args:
            together: they all show one disc.
            more_of: they show the disc of this job; where it is not here any more, they stand for themselves.
            lamp: the first of them shows that disc against a lamp.
        Returns:
            the jobs, and why each of the other photos was refused; nothing is decoded for that.
        Raises:
            QueueFull: there is no place for all of them; then none is taken.
        """
        sent: dict[str, bytes] = {}
        refused = []
        for data in photos:
            try:
                sent[check_photo(data, name="", limits=self._limits.photo)] = data
            except UnreadablePhoto as error:
                refused.append(error)
        with self._changed:
            wanted = self._wanted(list(sent), together, more_of, lamp)
            new = {key: one for key, one in wanted.items() if key not in self._jobs}
            if len(new) > self._limits.waiting - len(self._waiting):
                raise QueueFull
            for key, one in new.items():
                for part in set(one.kept) & set(sent):
                    self._path(part).write_bytes(sent[part])
                self._received += 1
                self._jobs[key] = replace(one, number=self._received)
                self._waiting.append(key)
            self._forget_oldest()
            self._changed.notify_all()
            return [self._as_it_stands(key) for key in wanted], refused

    def _wanted(self, sent: list[str], together: bool, more_of: str, lamp: bool) -> dict[str, Job]:
        """The jobs that photos ask for, by their keys, not numbered yet."""
        if not sent:
            return {}
        before = self._jobs.get(more_of)
        if before is None and not together:
            return {part: _job((part,)) for part in sent}
        parts, through, given = (before.parts, before.lamp, before.given) if before else ((), None, NOTHING_SAID)
        if before and lamp:
            through = sent[0]
        else:
            parts = tuple(dict.fromkeys((*parts, *sent)))[: self._limits.photos_of_one]
        job = _job(parts, lamp=through, given=given)
        return {job.key: job}

    def correct(self, key: str, given: Given) -> Job | None:
        """Judge a photo anew with what is said of its disc; None if it is unknown.

        Raises:
            QueueFull: there is no place for it now.
        """
        with self._changed:
            job = self._jobs.get(key)
            if job is None or job.given == given:
                return job
            if key not in self._waiting:
                if len(self._waiting) >= self._limits.waiting:
                    raise QueueFull
                self._waiting.appendleft(key)  # somebody looks at it now
            self._jobs[key] = replace(job, given=given, state="waiting")
            self._changed.notify_all()
            return self._as_it_stands(key)

    def originals(self, key: str) -> list[bytes]:
        """The bytes of its photos as they were sent; none if it is unknown."""
        with self._changed:
            return [self._path(part).read_bytes() for part in self._jobs[key].kept] if key in self._jobs else []

    def find(self, key: str) -> Job | None:
        with self._changed:
            return self._as_it_stands(key) if key in self._jobs else None

    def all(self) -> list[Job]:
        """Every photo, the newest first."""
        with self._changed:
            return [self._as_it_stands(key) for key in reversed(self._jobs)]

    def _as_it_stands(self, key: str) -> Job:
        job = self._jobs[key]
        if job.state != "waiting":
            return job
        working = any(one.state == "working" for one in self._jobs.values())
        return replace(job, ahead=self._waiting.index(key) + working)

    def _forget_oldest(self) -> None:
        done = [key for key, job in self._jobs.items() if job.state == "done"]
        for key in done[: max(0, len(self._jobs) - self._limits.kept)]:
            kept = self._jobs.pop(key).kept
            for part in set(kept) - {part for job in self._jobs.values() for part in job.kept}:
                self._path(part).unlink(missing_ok=True)

    def _path(self, key: str) -> Path:
        return self._folder / key

    def _work(self) -> None:
        while (job := self._next()) is not None:
            try:
                photos = [(name, self._path(part)) for name, part in zip(job.names, job.kept, strict=True)]
                lamp = photos.pop() if job.lamp else None
                entry = self._judge(dict(photos), job.given, lamp)
            except UnreadablePhoto as error:
                entry = PageEntry(error_report(error), None, ())
            except Exception as error:  # whatever it was, the photos behind it must not wait for ever
                entry = PageEntry(error_report(failed(job.name, error)), None, ())
            self._finish(job, entry)

    def _next(self) -> Job | None:
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._closed)
            if self._closed:
                return None
            key = self._waiting.popleft()
            self._jobs[key] = replace(self._jobs[key], state="working")
            return self._jobs[key]

    def _finish(self, job: Job, entry: PageEntry) -> None:
        with self._changed:
            now = self._jobs[job.key]
            state = now.state if now.given != job.given else "done"  # corrected meanwhile: it waits once more
            self._jobs[job.key] = replace(now, state=state, entry=entry)
            self._changed.notify_all()


def _job(parts: tuple[str, ...], *, lamp: str | None = None, given: Given = NOTHING_SAID) -> Job:
    """Not numbered yet. Its key is, of one photo, its hash; of several, one of theirs in any order, the lamp's last."""
    told = "".join(sorted(parts)) + (f" {lamp}" if lamp else "")
    key = parts[0] if told == parts[0] else sha256(told.encode()).hexdigest()
    return Job(key, 0, parts, lamp, given)
