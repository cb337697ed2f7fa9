"""The process in which photos are judged: it may be stopped when one takes too long, and started anew."""

from __future__ import annotations

import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from multiprocessing.connection import Connection

from discscan.errors import TookTooLong, UnreadablePhoto
from discscan.judged import JudgedPhoto
from discscan.lessons import Learned
from discscan.photo import DEFAULT, PhotoLimits, read_photo
from discscan.photo.sources import Source
from discscan.records import Given
from discscan.report import PageEntry, error_report, merged_entry, merged_report, page_entry, photo_report

Named = tuple[str, Source]
"""A photo with the name by which people know it."""

MARKS_SIDE_PX = 1600
"""Large enough to be enlarged on a phone, small enough to be sent at once."""
SECONDS_PER_PHOTO = 60.0


def judge_file(
    source: Source,
    name: str,
    given: Given,
    *,
    limits: PhotoLimits = DEFAULT,
    learned: Learned | None = None,
) -> PageEntry:
    """One photo, from its file or bytes to its part of a page, in this process."""
    from discscan.scan import judge_photo  # late: it loads the nets' runtime, which a server itself never needs

    try:
        judged = judge_photo(read_photo(source, name=name, limits=limits), given=given, learned=learned)
    except UnreadablePhoto as error:
        return PageEntry(error_report(error), None, ())
    return page_entry(judged, photo_report(judged), marks_side_px=MARKS_SIDE_PX)


def judge_together(
    sources: Mapping[str, Source],
    given: Given,
    lamp: Named | None = None,
    *,
    limits: PhotoLimits = DEFAULT,
    learned: Learned | None = None,
) -> PageEntry:
    """Several photos of one disc, by their names, as one, with the one of it against a lamp, if there is one.

    Where they cannot be taken as one, the answer is that of the first: what is wrong with it, or that it shows no disc.

    Raises:
        UnreadablePhoto: the one against a lamp cannot be read.
    """
    from discscan.scan import judge_photo, look_through, merge_photos

    if len(sources) == 1 and lamp is None:
        ((name, source),) = sources.items()
        return judge_file(source, name, given, limits=limits, learned=learned)

    def photos() -> Iterator[JudgedPhoto]:
        for name, source in sources.items():
            with suppress(UnreadablePhoto):
                yield judge_photo(read_photo(source, name=name, limits=limits), given=given, learned=learned)

    through = None if lamp is None else look_through(read_photo(lamp[1], name=lamp[0], limits=limits))
    merged = merge_photos(photos(), given=given, learned=learned, lamp=through)
    if merged is None:
        name, source = next(iter(sources.items()))
        return judge_file(source, name, given, limits=limits, learned=learned)
    return merged_entry(merged, merged_report(merged))


def failed(name: str, error: Exception) -> UnreadablePhoto:
    """What is told of a photo on which the program itself failed."""
    return UnreadablePhoto(
        f"Judging it failed ({type(error).__name__}).", file=name, remedy="Take the photo again, and send that."
    )


class Bench:
    """Judges in a process of its own, which it starts when it is needed first. Used by one thread at a time.

    Args:
        seconds: for one photo, after which judging it is given up.
        learned: asked before each photo for what chances are recalibrated by.
    Raises (when called):
        TookTooLong: the photo took longer than that; the process was stopped.
        UnreadablePhoto: the process ended while it was judging.
    """

    def __init__(
        self,
        *,
        limits: PhotoLimits = DEFAULT,
        seconds: float = SECONDS_PER_PHOTO,
        learned: Callable[[], Learned | None] = lambda: None,
    ) -> None:
        self._limits, self._seconds, self._learned = limits, seconds, learned
        self._lock = threading.Lock()
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def __call__(self, sources: Mapping[str, Source], given: Given, lamp: Named | None = None) -> PageEntry:
        """Judge one photo, or several of one disc, by their names, and one of it against a lamp."""
        name = next(iter(sources))
        learned = self._learned()
        pipe = self._started()
        try:
            pipe.send((dict(sources), given, lamp, learned))
            if not pipe.poll(self._seconds):
                self.close()
                raise TookTooLong(
                    "Judging it took too long, and was given up.",
                    file=name,
                    remedy="Send a smaller copy, or a photo with fewer discs.",
                )
            answer: PageEntry = pipe.recv()
        except (EOFError, OSError) as error:
            self.close()
            raise UnreadablePhoto(
                "The program ran out of room while judging it.", file=name, remedy="Send a smaller copy."
            ) from error
        return answer

    def close(self) -> None:
        """Stop the process; the next photo starts another. May be called from any thread."""
        with self._lock:
            process, pipe, self._process, self._pipe = self._process, self._pipe, None, None
        if process is not None and pipe is not None:
            process.kill()
            process.join(5)
            pipe.close()

    def _started(self) -> Connection:
        with self._lock:
            if self._pipe is None:
                context = multiprocessing.get_context("spawn")
                self._pipe, theirs = context.Pipe()
                self._process = context.Process(target=_serve, args=(theirs, self._limits), daemon=True)
                self._process.start()
                theirs.close()
            return self._pipe


def _serve(pipe: Connection, limits: PhotoLimits) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the starter's to answer; it ends this process with itself
    while True:
        try:
            sources, given, lamp, learned = pipe.recv()
        except EOFError:
            return
        try:
            answer = judge_together(sources, given, lamp, limits=limits, learned=learned)
        except UnreadablePhoto as error:
            answer = PageEntry(error_report(error), None, ())
        except Exception as error:  # told to the person, and the process goes on
            answer = PageEntry(error_report(failed(next(iter(sources)), error)), None, ())
        pipe.send(answer)
