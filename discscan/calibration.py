"""Sourced numbers: constants of the formats, limits of the house, settings of the rooms.

The one file that knows where `calibration/` and `models/` lie: beside the package in a checkout, inside it in a wheel.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from discscan.errors import BrokenInstallation

_REMEDY = "Install discscan again."
_NONE_STATED = "none stated"


@dataclass(frozen=True)
class Source:
    """A document that constants cite: what it is, and where it was seen."""

    title: str
    edition: str
    where: str


@dataclass(frozen=True)
class Constant:
    """A number of a standard.

    Attributes:
        low, high: the tolerated range, None where the source states none.
        source: a key of calibration/sources.toml.
        place: clause, table or figure.
        read: whether that place was opened and read, rather than quoted by others or remembered.
    """

    value: float
    low: float | None
    high: float | None
    unit: str
    source: str
    place: str
    read: bool

    @property
    def plus_minus(self) -> float | None:
        """The larger of the two tolerances, in `unit`; None where the source states none."""
        if self.low is None or self.high is None:
            return None
        return max(self.high - self.value, self.value - self.low)


@dataclass(frozen=True)
class Limit:
    """A number that the house itself has chosen, with the day and the reason."""

    value: float
    unit: str
    since: str
    why: str


def _folder(name: str) -> Path:
    package = Path(__file__).resolve().parent
    inside = package / "_data" / name
    return inside if inside.is_dir() else package.parent / name


def models_folder() -> Path:
    """Where the weights and their manifests lie. It may be empty; it always exists in a sound installation."""
    return _folder("models")


@cache
def calibration_sha256() -> str:
    """One sha256 over the names and bytes of all calibration files: it tells under which numbers a disc was judged."""
    digest = hashlib.sha256()
    for path in sorted(_folder("calibration").glob("*.toml")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


@cache
def book(name: str) -> Mapping[str, Any]:
    """A calibration file as it stands.

    Raises:
        BrokenInstallation: the file is missing or is not TOML.
    """
    path = _folder("calibration") / f"{name}.toml"
    try:
        with path.open("rb") as file:
            return tomllib.load(file)
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise BrokenInstallation(f"The calibration cannot be read: {error}.", file=path.name, remedy=_REMEDY) from error


@cache
def source(key: str) -> Source:
    """The document behind a constant's `source`. Raises BrokenInstallation when it is not listed."""
    return Source(**_facts("sources", key, ("title", "edition", "where")))


@cache
def constant(format_name: str, name: str) -> Constant:
    """A constant of calibration/<format_name>.toml. Raises BrokenInstallation when it lacks one of its facts."""
    entry = _facts(format_name, name, ("value", "unit", "source", "place", "read"))
    value = float(entry["value"])
    low: float | None
    high: float | None
    if "plus_minus" in entry:
        stated = entry["plus_minus"] != _NONE_STATED
        low, high = (value - entry["plus_minus"], value + entry["plus_minus"]) if stated else (None, None)
    elif "min" in entry and "max" in entry:
        low, high = float(entry["min"]), float(entry["max"])
    else:
        raise _lacks(format_name, name, "a tolerance")
    return Constant(value, low, high, entry["unit"], entry["source"], entry["place"], entry["read"])


@cache
def limit(name: str, *, file: str | None = None) -> Limit:
    """A limit of calibration/<file>.toml; without `file`, of house.toml or, for the forecast, playback.toml.

    Raises BrokenInstallation when it lacks its value, unit, day or reason.
    """
    home = "playback" if name not in book("house") and name in book("playback") else "house"
    entry = _facts(file or home, name, ("value", "unit", "since", "why"))
    return Limit(float(entry["value"]), entry["unit"], str(entry["since"]), entry["why"])


@cache
def setting(room: str, name: str) -> float:
    """A setting of calibration/settings.toml, from its room's table. Raises BrokenInstallation when it lacks a fact."""
    return float(_facts("settings", f"{room}.{name}", ("value", "unit", "why"))["value"])


def _facts(file: str, name: str, facts: tuple[str, ...]) -> dict[str, Any]:
    entry: Any = book(file)
    for part in name.split("."):
        entry = entry.get(part) if isinstance(entry, Mapping) else None
    if not isinstance(entry, Mapping):
        raise _lacks(file, name, "its entry")
    for fact in facts:
        if fact not in entry:
            raise _lacks(file, name, fact)
    return dict(entry)


def _lacks(file: str, name: str, fact: str) -> BrokenInstallation:
    return BrokenInstallation(f"The calibration's `{name}` lacks {fact}.", file=f"{file}.toml", remedy=_REMEDY)
