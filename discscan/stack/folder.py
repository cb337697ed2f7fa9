"""The folder that fills while somebody photographs: which photos are there, and which are still being written."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from discscan.errors import NoStack
from discscan.photo import is_photo

SETTLED_S = 2.0
"""A file that has not changed for so long is whole, as far as can be seen from outside."""


@dataclass(frozen=True)
class Shot:
    """A photo in the folder, as it is now.

    Attributes:
        file: its path within the folder, with slashes.
        state: size and time of change; while they stay, the bytes do.
    """

    file: str
    path: Path
    state: tuple[int, int]


class Folder:
    """Looks into a folder, and one level into the folders in it.

    A file counts as soon as size and time of change stay for `SETTLED_S`, by this machine's own clock from look to
    look, or by the file's time where that lies in the past.
    """

    def __init__(self, place: Path) -> None:
        self.place = place
        self._first_seen: dict[tuple[str, tuple[int, int]], float] = {}

    def look(self) -> tuple[list[Shot], int]:
        """The photos that are whole, in the order of their names, and how many others are still being written.

        Raises:
            NoStack: the folder itself cannot be looked into.
        """
        now = time.monotonic()
        shots = sorted(self._shots(), key=lambda shot: _in_order(shot.file))
        seen = {(shot.file, shot.state): now for shot in shots}
        self._first_seen = {key: self._first_seen.get(key, at) for key, at in seen.items()}
        settled = [shot for shot in shots if self._settled(shot, now)]
        return settled, len(shots) - len(settled)

    def _settled(self, shot: Shot, now: float) -> bool:
        age_s = time.time() - shot.state[1] / 1e9
        return age_s >= SETTLED_S or now - self._first_seen[shot.file, shot.state] >= SETTLED_S

    def _shots(self) -> Iterator[Shot]:
        try:
            entries = list(self.place.iterdir())
        except OSError as error:
            raise NoStack(
                f"The folder cannot be looked into: {error.strerror}.",
                file=str(self.place),
                remedy="Check that it is there and may be read; then go on with the same command.",
            ) from error
        for path in (path for entry in entries for path in _in(entry)):
            try:
                if is_photo(path):
                    found = path.stat()
                    file = path.relative_to(self.place).as_posix()
                    yield Shot(file, path, (found.st_size, found.st_mtime_ns))
            except OSError:  # gone between listing and looking, or out of reach for a moment
                continue


def _in(entry: Path) -> list[Path]:
    """What lies in a folder, or the file itself; nothing where it cannot be told."""
    try:
        return list(entry.iterdir()) if entry.is_dir() and not entry.name.startswith(".") else [entry]
    except OSError:
        return []


def _in_order(file: str) -> list[tuple[int, str]]:
    """As people count: disc2 before disc10, and photos of the folder itself before those of folders in it."""
    parts = re.split(r"(\d+)", file.casefold())
    return [(file.count("/"), ""), *((int(part), "") if part.isdecimal() else (-1, part) for part in parts), (0, file)]
