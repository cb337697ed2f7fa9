"""Where a person's book is: a file, or a PostgreSQL database by its URL; and where what belongs to it lies."""

from __future__ import annotations

import os
import sys
from hashlib import sha256
from pathlib import Path
from urllib.parse import urlsplit

from discscan.errors import UnusableBook

Place = Path | str
"""A file, or a URL."""

SCHEMES = ("postgresql", "postgres")


def book_place(told: str | None) -> Place:
    """The place that a person names: a file, or postgresql://USER@HOST/DATABASE; the user's own book for None.

    Raises:
        UnusableBook: it is a URL of something else.
    """
    if not told:
        return default_place()
    if "://" not in told:
        return Path(told)
    try:
        parts = urlsplit(told)
        known = parts.scheme in SCHEMES and len(parts.path) > 1 and parts.port != 0  # a port that is none raises
    except ValueError:
        known = False
    if not known:
        raise UnusableBook(
            "This is no address of a book.",
            file=told.split("://")[0] + "://...",  # what follows may hold a password
            remedy="Name a file, or a database as postgresql://USER@HOST/DATABASE.",
        )
    return told


def shown(place: Place) -> str:
    """For people; a password is not shown."""
    if isinstance(place, Path):
        return str(place)
    parts = urlsplit(place)
    user, _, host = parts.netloc.rpartition("@")
    return parts._replace(netloc=f"{user.partition(':')[0]}@{host}" if user else host, query="").geturl()


def home_of(place: Place) -> Path:
    """The path that what belongs to a book is named after: itself for a file, else one in the user's data folder."""
    if isinstance(place, Path):
        return place
    mark = sha256(f"{shown(place)}?{urlsplit(place).query}".encode()).hexdigest()[:12]
    return default_place().with_name(f"postgresql-{mark}.book")


def default_place() -> Path:
    """The book in the user's data folder."""
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData/Local")
    elif sys.platform == "darwin":
        folder = Path.home() / "Library/Application Support"
    else:
        folder = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local/share")
    return folder / "discscan" / "ledger.sqlite"
