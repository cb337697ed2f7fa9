"""Which photographs are meant by the names that somebody typed."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable
from pathlib import Path

Source = str | os.PathLike[str] | bytes
"""A file's name, or the bytes of a file."""

_PICTURE_ENDINGS = frozenset(
    {".jpg", ".jpeg", ".jpe", ".png", ".webp", ".heic", ".heif", ".hif", ".tif", ".tiff", ".bmp", ".gif"}
)


def expand(sources: Source | Iterable[Source]) -> list[Source]:
    """Every photograph that `sources` name, in their order, each file once.

    A folder stands for the pictures that lie in it (not in folders below it), by name; a pattern such as
    ``photos/*.jpg`` for the files that it matches. What names nothing stays as it is, so that reading it says what is
    wrong with it.
    """
    if isinstance(sources, str | bytes | os.PathLike):
        sources = [sources]
    found: dict[str | bytes, Source] = {}
    for source in sources:
        for one in [source] if isinstance(source, bytes) else _photos_of(source):
            found.setdefault(_identity(one), one)
    return list(found.values())


def by_disc(sources: Source | Iterable[Source]) -> list[list[Source]]:
    """The photographs that `sources` name, put together by disc.

    A folder stands for one disc; one that holds no picture, only folders, for as many discs as those. All that is named
    otherwise shows one more disc.
    """
    if isinstance(sources, str | bytes | os.PathLike):
        sources = [sources]
    together: list[Source] = []
    folders: list[list[Source]] = []
    for source in sources:
        folder = None if isinstance(source, bytes) or source == "" else Path(source)
        if folder is None or not folder.is_dir():
            together.append(source)
            continue
        pictures = _pictures_in(folder)
        inner = [] if pictures else [_pictures_in(one) for one in sorted(folder.iterdir()) if one.is_dir()]
        folders += [[*one] for one in inner if one] or [[*pictures] or [source]]
    return [*([expand(together)] if together else []), *folders]


def _identity(source: Source) -> str | bytes:
    if isinstance(source, bytes):
        return source
    try:
        return os.path.realpath(source)
    except ValueError:  # a name that no file can have
        return os.fspath(source)


def _photos_of(source: str | os.PathLike[str]) -> list[Source]:
    path = Path(source)
    try:
        if path.is_dir() and source != "":  # Path("") would be the folder that one stands in
            return [*_pictures_in(path)] or [source]
        if path.exists():
            return [source]
        matches = sorted(glob.glob(os.fspath(source), recursive=True))  # noqa: PTH207  Path.glob refuses absolute ones
    except (OSError, ValueError):  # no permission; a name that no file can have
        return [source]
    return [photo for match in matches for photo in _photos_of(match)] or [source]


def _pictures_in(folder: Path) -> list[str]:
    return sorted(str(file) for file in folder.iterdir() if is_photo(file))


def is_photo(file: Path) -> bool:
    """Whether a file is a picture by its name; those that begin with a dot are some program's own, or half written."""
    return file.suffix.lower() in _PICTURE_ENDINGS and not file.name.startswith(".") and file.is_file()
