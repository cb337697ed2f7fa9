"""Photographs that belong to a book, kept whole under the sha256 of their bytes, in a folder beside it.

The folder is in the user's data folder, or wherever the book is; nothing of it is ever served.
"""

from __future__ import annotations

import os
import re
from hashlib import sha256
from pathlib import Path

from discscan.errors import CannotWrite
from discscan.places import Place, home_of


def photos_of(place: Place) -> Path:
    """ "ledger.sqlite" has "ledger.photos/" beside it."""
    return home_of(place).with_suffix(".photos")


def keep_photo(folder: Path, data: bytes) -> Path:
    """Keep a photograph; one that is kept already is left as it is.

    Raises:
        CannotWrite: it cannot be written.
    """
    place = folder / sha256(data).hexdigest()
    if place.exists():
        return place
    begun = folder / f"{place.name}.new"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with begun.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        begun.replace(place)
    except OSError as error:
        raise CannotWrite(
            f"The photo cannot be kept: {error.strerror}.", file=str(folder), remedy="Make room there."
        ) from error
    return place


def kept_photo(folder: Path, digest: str) -> bytes | None:
    """The photograph with this sha256; None where there is none, or where it was changed since."""
    if re.fullmatch("[0-9a-f]{64}", digest) is None:
        return None
    try:
        data = (folder / digest).read_bytes()
    except OSError:
        return None
    return data if sha256(data).hexdigest() == digest else None


def copy_photos(source: Path, copy: Path) -> int:
    """Keep all photographs of one folder in another as well, and say how many there are."""
    kept = sorted(file for file in source.glob("*") if not file.suffix) if source.is_dir() else []
    for file in kept:
        keep_photo(copy, file.read_bytes())
    return len(kept)
