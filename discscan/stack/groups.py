"""Where each disc of a stack lies, and which photos are of the same disc."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

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
    """One disc with all photos of it, in the order of the folder; `spot` is the one whose answer counts."""

    number: int
    spots: tuple[Spot, ...]
    spot: Spot

    @property
    def key(self) -> str:
        """The same also when more photos of it come."""
        return self.spots[0].key

    @property
    def others(self) -> tuple[Spot, ...]:
        return tuple(spot for spot in self.spots if spot is not self.spot)

    @property
    def action(self) -> Action:
        return self.spot.judged.verdict.action


def groups_of(photos: Sequence[PhotoReport]) -> list[Group]:
    """The discs of a stack, numbered in the order of the folder.

    A folder in the folder holds the photos of one disc. A photo that shows several discs stands for itself.
    """
    sorts: dict[tuple[str, str], list[Spot]] = {}
    for spot in spots_of(photos):
        folder, _, _ = spot.report.file.rpartition("/")
        same = (folder, "") if folder and spot.of == 1 else (folder, spot.key)
        sorts.setdefault(same, []).append(spot)
    return [_group(number, spots) for number, spots in enumerate(sorts.values(), start=1)]


def spots_of(photos: Sequence[PhotoReport]) -> Iterator[Spot]:
    for number, photo in enumerate(photos, start=1):
        for row, places in enumerate(_rows(photo.discs), start=1):
            for place, disc in enumerate(places, start=1):
                yield Spot(photo, number, disc + 1, row, place, len(photo.discs))


def _group(number: int, spots: Sequence[Spot]) -> Group:
    """Of several photos that one answers in which a crack was seen, else the one that shows most of the data side."""
    best = max(spots, key=lambda spot: (is_cracked(spot.judged), spot.judged.side == "data", _seen(spot)))
    return Group(number, tuple(spots), best)


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
