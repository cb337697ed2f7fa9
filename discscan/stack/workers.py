"""Whoever judges: processes of this machine, or those of a cluster. Their answers are the same byte for byte."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from queue import SimpleQueue
from typing import Any, Protocol

from discscan.bench import Bench, failed, judge_together
from discscan.errors import BrokenInstallation, NoCluster, UnreadablePhoto
from discscan.lessons import Learned
from discscan.photo import DEFAULT, PhotoLimits, Source
from discscan.records import Given
from discscan.report import PageEntry, error_report
from discscan.stack.work import Answer, answer_of, stamp


def numbered(photos: Sequence[bytes]) -> dict[str, Source]:
    """Photos under names that do not depend on those of their files: "1", "2" and so on."""
    return {str(number): photo for number, photo in enumerate(photos, start=1)}


class Workers(Protocol):
    """Takes photos and gives answers, several at a time."""

    at_once: int
    """So many photos are worth being handed over before the first answer comes."""

    def submit(self, key: str, photos: Sequence[bytes]) -> Future[Answer]:
        """Judge one photo, or several of one disc as one. The key is made of their hashes."""
        ...

    def close(self) -> None:
        """Give up what is at work."""


class LocalWorkers:
    """Processes of this machine, each judging one photo at a time."""

    def __init__(
        self, count: int, *, given: Given, learned: Learned | None = None, limits: PhotoLimits = DEFAULT
    ) -> None:
        self.at_once = count + 1  # one more lies ready, so that no process waits for the disk
        self._given = given
        self._benches = [Bench(limits=limits, learned=lambda: learned) for _ in range(count)]
        self._free: SimpleQueue[Bench] = SimpleQueue()
        for bench in self._benches:
            self._free.put(bench)
        self._threads = ThreadPoolExecutor(count, thread_name_prefix="judging")

    def submit(self, key: str, photos: Sequence[bytes]) -> Future[Answer]:
        return self._threads.submit(self._judge, photos)

    def close(self) -> None:
        self._threads.shutdown(wait=False, cancel_futures=True)
        for bench in self._benches:
            bench.close()

    def _judge(self, photos: Sequence[bytes]) -> Answer:
        bench = self._free.get()
        try:
            entry = bench(numbered(photos), self._given)
        except UnreadablePhoto as error:
            entry = PageEntry(error_report(error), None, ())
        finally:
            self._free.put(bench)
        return answer_of(entry)


class ClusterWorkers:
    """The workers of a running `dask.distributed` scheduler.

    A photo's bytes are part of its task, and its hash is the task's key: a photo that is handed over twice is judged
    once, and when a worker is lost the scheduler gives its photos to another.

    Raises:
        NoCluster: nothing answers there, or the extra `cluster` is not installed.
    """

    def __init__(
        self, address: str, *, given: Given, learned: Learned | None = None, limits: PhotoLimits = DEFAULT
    ) -> None:
        try:
            from distributed import Client  # late: it takes a second, and is an extra
        except ImportError as error:
            raise NoCluster(
                "The library for it is not installed.",
                file=address,
                remedy="Install discscan with its extra `cluster`.",
            ) from error
        try:
            self._client = Client(address, timeout="10s", set_as_default=False)
        except (OSError, ValueError) as error:
            raise NoCluster(
                "No scheduler answers there.", file=address, remedy="Start one with `dask scheduler`, or check it."
            ) from error
        self._asked, self._stamp = (given, learned, limits), stamp(given, learned)
        self._tasks: set[Any] = set()  # a task that nobody holds is given up
        threads = sum(self._client.nthreads().values())
        self.at_once = max(4, 2 * threads)

    def submit(self, key: str, photos: Sequence[bytes]) -> Future[Answer]:
        answer: Future[Answer] = Future()
        task = self._client.submit(
            judge_anywhere, tuple(photos), *self._asked, self._stamp, key=f"discscan-{self._stamp}-{key}",
            retries=2, pure=True,
        )  # fmt: skip
        self._tasks.add(task)
        task.add_done_callback(lambda done: self._settle(answer, done))
        return answer

    def close(self) -> None:
        self._client.close(timeout=5)

    def _settle(self, answer: Future[Answer], task: Any) -> None:
        """Hand the cluster's answer on; called in a thread of its client."""
        try:
            answer.set_result(task.result(timeout=60))
        except BrokenInstallation as error:
            answer.set_exception(error)
        except Exception as error:  # whatever the cluster says of a task that it gave up
            answer.set_result(answer_of(PageEntry(error_report(failed("", error)), None, ())))
        self._tasks.discard(task)


def judge_anywhere(
    photos: Sequence[bytes], given: Given, learned: Learned | None, limits: PhotoLimits, judge: str
) -> Answer:
    """One photo, or several of one disc, in a worker of a cluster.

    Raises:
        BrokenInstallation: the worker judges with another version than whoever asks.
    """
    if stamp(given, learned) != judge:
        raise BrokenInstallation(
            "A worker of the cluster has another version of discscan.", remedy="Install the same version everywhere."
        )
    try:
        return answer_of(judge_together(numbered(photos), given, limits=limits, learned=learned))
    except Exception as error:  # told of this photo; the others are judged
        return answer_of(PageEntry(error_report(failed("", error)), None, ()))
