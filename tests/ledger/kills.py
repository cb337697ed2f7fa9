"""Writers killed with SIGKILL in the midst of writing: what was acknowledged is there, whole, and nothing is in halves.

python tests/ledger/kills.py 1000 book.sqlite
python tests/ledger/kills.py 1000 'postgresql://USER@/DATABASE?host=/tmp/socket'
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections import Counter
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from uuid import uuid4

from sqlalchemy import text

from discscan.events import Event
from discscan.ledger import Book
from discscan.places import Place, book_place

AT_ONCE = 3
"""Events of one transaction."""


@dataclass(frozen=True)
class Told:
    """What came of it; `halves` are transactions of which a part is there, `unasked` those never acknowledged."""

    kills: int
    acknowledged: int
    unasked: int
    lost: int
    halves: int


def kill_writers(place: Place, *, kills: int, seed: int = 1) -> Told:
    """Kill so many writers one after another, each at any moment: at opening the book, or some milliseconds
    after its first, second or third write was acknowledged.

    Raises AssertionError where the database itself finds the book damaged.
    """
    chance = random.Random(seed)
    Book(place).close()  # what is imported late is imported here, not in each writer
    acknowledged = [
        key for _ in range(kills) for key in _killed(place, after=chance.randrange(4), more_s=chance.uniform(0, 0.02))
    ]
    book = Book(place)
    there = Counter(one.item for one in book.events())
    if isinstance(place, Path):
        with book._engine.connect() as connection:
            assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"
    book.close()
    return Told(
        kills=kills,
        acknowledged=len(acknowledged),
        unasked=len(there.keys() - set(acknowledged)),
        lost=sum(there[key] != AT_ONCE for key in acknowledged),
        halves=sum(count != AT_ONCE for count in there.values()),
    )


def _killed(place: Place, *, after: int, more_s: float) -> list[str]:
    """What a writer acknowledged before it was killed; it tells each key through a pipe once it is written."""
    reading, telling = os.pipe()
    writer = os.fork()
    if writer == 0:
        os.close(reading)
        try:
            _write_for_ever(place, telling)
        finally:
            os._exit(1)
    os.close(telling)
    with os.fdopen(reading, "rb") as told:
        lines = [told.readline() for _ in range(after)]
        time.sleep(more_s)
        os.kill(writer, signal.SIGKILL)
        os.waitpid(writer, 0)
        lines += told
    assert all(lines), "a writer has failed by itself"
    return [line.decode().strip() for line in lines if line.endswith(b"\n")]


def _write_for_ever(place: Place, telling: int) -> None:
    book = Book(place)
    while True:
        key = uuid4().hex
        first = Event(key=key, item=key, kind="found", day=date(2026, 11, 26), title="x" * 3000)
        more = [Event(key=uuid4().hex, item=key, kind="listed", day=first.day) for _ in range(AT_ONCE - 1)]
        book.append([first, *more])
        os.write(telling, f"{key}\n".encode())


if __name__ == "__main__":
    print(kill_writers(book_place(sys.argv[2]), kills=int(sys.argv[1])))
