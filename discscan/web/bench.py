"""The process in which photos are judged: it may be stopped when one takes too long, and started anew."""

from __future__ import annotations

import multiprocessing
import signal
from multiprocessing.connection import Connection
from pathlib import Path

from discscan.errors import TookTooLong, UnreadablePhoto
from discscan.photo import read_photo
from discscan.records import FormatName
from discscan.report import PageEntry, error_report, page_entry, photo_report
from discscan.web.limits import DEFAULT, WebLimits

MARKS_SIDE_PX = 1600
"""Large enough to be enlarged on a phone, small enough to be sent at once."""


def judge_file(path: Path, name: str, given: FormatName | None, *, limits: WebLimits = DEFAULT) -> PageEntry:
    """One photo, from its file to its part of the page, in this process."""
    from discscan.scan import judge_photo  # late: it loads the nets' runtime, which the server itself never needs

    try:
        judged = judge_photo(read_photo(path, name=name, limits=limits.photo), format=given)
    except UnreadablePhoto as error:
        return PageEntry(error_report(error), None, ())
    return page_entry(judged, photo_report(judged), marks_side_px=MARKS_SIDE_PX)


class Bench:
    """Judges in a process of its own, which it starts when it is needed first.

    Raises (when called):
        TookTooLong: the photo took longer than the limit; the process was stopped.
        UnreadablePhoto: the process ended while it was judging.
    """

    def __init__(self, *, limits: WebLimits = DEFAULT) -> None:
        self._limits = limits
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None

    def __call__(self, path: Path, name: str, given: FormatName | None) -> PageEntry:
        pipe = self._started()
        try:
            pipe.send((path, name, given))
            if not pipe.poll(self._limits.seconds_per_photo):
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
        """Stop the process; the next photo starts another."""
        if self._process is not None and self._pipe is not None:
            self._pipe.close()
            self._process.kill()
            self._process.join(5)
        self._process = self._pipe = None

    def _started(self) -> Connection:
        if self._pipe is None:
            context = multiprocessing.get_context("spawn")
            self._pipe, theirs = context.Pipe()
            self._process = context.Process(target=_serve, args=(theirs, self._limits), daemon=True)
            self._process.start()
            theirs.close()
        return self._pipe


def _serve(pipe: Connection, limits: WebLimits) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the server's to answer; it ends this process with itself
    while True:
        try:
            path, name, given = pipe.recv()
        except EOFError:
            return
        try:
            answer = judge_file(path, name, given, limits=limits)
        except Exception as error:  # told to the person, and the process goes on
            failed = UnreadablePhoto(
                f"Judging it failed ({type(error).__name__}).", file=name, remedy="Take the photo again, and send that."
            )
            answer = PageEntry(error_report(failed), None, ())
        pipe.send(answer)
