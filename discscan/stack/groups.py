"""Where each disc of a stack lies, and which photos are of the same disc."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Literal

from discscan.records import Action
from discscan.report import DiscReport, PhotoReport
from discscan.report.words import is_cracked


@dataclass(frozen=True)
class Spot:
    """A disc in a photo.

    Attributes:
        photo: number of its photo, from 1, in the order of the folder.
        disc: its number in the photo's record and pictures, from 1.
        row, place: where it lies in the photo, read like a page: top row first, each from the left.
        of: how many discs the photo shows.
    """

    report: PhotoReport
    photo: int
    disc: int
    row: int
    place: int
    of: int

    @property
    def key(self) -> str:
        return f"{self.report.sha256}-{self.disc}"

    @property
    def name(self) -> str:
        """As in the report's text."""
        return self.report.file if self.of == 1 else f"{self.report.file}, disc {self.disc}"

    @property
    def judged(self) -> DiscReport:
        return self.report.discs[self.disc - 1]


@dataclass(frozen=True)
class Group:
    """One disc with all photos of it, in the order of the folder.

    Attributes:
        spot: the one that shows it best; it answers where the photos are not taken as one.
        merged: what all photos together say; None where there is one, or they cannot be laid over each other.
    """

    number: int
    spots: tuple[Spot, ...]
    spot: Spot
    merged: DiscReport | None = None

    @property
    def key(self) -> str:
        """The same also when more photos of it come."""
        return self.spots[0].key

    @property
    def others(self) -> tuple[Spot, ...]:
        return tuple(spot for spot in self.spots if spot is not self.spot)

    @property
    def label(self) -> Spot | None:
        """The first photo of its label among several photos."""
        return next((spot for spot in self.spots if spot.judged.side == "label"), None) if self.others else None

    @property
    def judged(self) -> DiscReport:
        return self.spot.judged if self.merged is None else self.merged

    @property
    def action(self) -> Action:
        return self.judged.verdict.action

    def picture(self, what: Literal["thumb", "above", "marks", "label"]) -> str:
        """The name of one of its pictures in the work folder; "" for a label without a photo."""
        if what == "label":
            return "" if self.label is None else f"{self.label.report.sha256}-marks.jpg"
        if self.merged is not None:
            stem, number = together_key([str(spot.report.sha256) for spot in self.spots]), 1
        else:
            stem, number = str(self.spot.report.sha256), self.spot.disc
        return f"{stem}-{what}.jpg" if what == "marks" else f"{stem}-{what}{number}.jpg"


def together_key(hashes: Sequence[str]) -> str:
    """Names what several photos say as one, as a photo's own hash names what it says."""
    return sha256("".join(hashes).encode()).hexdigest()


def in_folders(photos: Sequence[PhotoReport]) -> dict[str, list[PhotoReport]]:
    """Photos of one disc under the folder that they share; those that show no disc or several stand for themselves."""
    folders: dict[str, list[PhotoReport]] = {}
    for photo in photos:
        folder, _, _ = photo.file.rpartition("/")
        if folder and len(photo.discs) == 1:
            folders.setdefault(folder, []).append(photo)
    return folders


def groups_of(photos: Sequence[PhotoReport], merged: Sequence[DiscReport] = ()) -> list[Group]:
    """The discs of a stack, numbered in the order of the folder.

    A folder in the folder holds the photos of one disc. A photo that shows several discs stands for itself.

    Args:
        merged: what the photos of such folders say as one.
    """
    of_folder = {_folder_of(one): one for one in merged}
    sorts: dict[tuple[str, str], list[Spot]] = {}
    for spot in spots_of(photos):
        folder, _, _ = spot.report.file.rpartition("/")
        same = (folder, "") if folder and spot.of == 1 else (folder, spot.key)
        sorts.setdefault(same, []).append(spot)
    return [
        _group(number, spots, None if disc else of_folder.get(folder))
        for number, ((folder, disc), spots) in enumerate(sorts.items(), start=1)
    ]


def spots_of(photos: Sequence[PhotoReport]) -> Iterator[Spot]:
    for number, photo in enumerate(photos, start=1):
        for row, places in enumerate(_rows(photo.discs), start=1):
            for place, disc in enumerate(places, start=1):
                yield Spot(photo, number, disc + 1, row, place, len(photo.discs))


def _group(number: int, spots: Sequence[Spot], merged: DiscReport | None) -> Group:
    """Of several photos that one shows it best in which a crack was seen, else the one with most of the data side."""
    best = max(spots, key=lambda spot: (is_cracked(spot.judged), spot.judged.side == "data", _seen(spot)))
    return Group(number, tuple(spots), best, merged)


def _folder_of(merged: DiscReport) -> str:
    sources = merged.merged_from or []
    return sources[0].file.rpartition("/")[0] if sources else ""


def _seen(spot: Spot) -> float:
    return spot.judged.measured_fraction


def _rows(discs: Sequence[DiscReport]) -> list[list[int]]:
    """Places in `discs` by rows: a disc whose centre lies half a disc below those of a row begins the next."""
    rows: list[list[int]] = []
    for at in sorted(range(len(discs)), key=lambda at: discs[at].outer_ellipse_px.cy):
        rim = discs[at].outer_ellipse_px
        if rows and rim.cy - discs[rows[-1][0]].outer_ellipse_px.cy < rim.axis_minor / 2:
            rows[-1].append(at)
        else:
            rows.append([at])
    return [sorted(row, key=lambda at: discs[at].outer_ellipse_px.cx) for row in rows]
