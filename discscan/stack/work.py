"""What is done stays done: each photo's answer in a file named by the hash of its bytes, so that nothing is lost."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from discscan.errors import CannotWrite
from discscan.lessons import Learned
from discscan.records import NOTHING_SAID, Given
from discscan.report import PageEntry, PhotoReport, report

THUMB_PX = 320
PASSING = frozenset({"took-too-long", "unreadable", "no-permission", "no-such-file"})
"""Errors of this machine and moment: told, and tried again in the next run."""


@dataclass(frozen=True)
class Answer:
    """One photo's answer, ready to be kept: its record as JSON, and JPEGs by the end of their names."""

    photo: bytes
    pictures: dict[str, bytes]


def answer_of(entry: PageEntry) -> Answer:
    """What is kept of a judged photo. It is the same wherever it was judged, and whatever its file is called."""
    pictures = {}
    if entry.marks is not None:
        pictures["marks"] = entry.marks.jpeg
    for number, top in enumerate(entry.tops, start=1):
        pictures[f"above{number}"] = top.jpeg
        pictures[f"thumb{number}"] = _thumb(top.jpeg)
    return Answer(entry.photo.model_copy(update={"file": ""}).model_dump_json().encode(), pictures)


def stamp(given: Given, learned: Learned | None) -> str:
    """Names what judges: another version, calibration, lesson or format gives other answers, kept apart."""
    judge = report([], learned=learned).model_dump_json()
    return hashlib.sha256(f"{judge}{given}".encode()).hexdigest()[:12]


def default_work_folder(photos: Path) -> Path:
    """ "trays" has "trays-judged" beside it, so that nothing is written where a camera or a phone writes."""
    whole = photos.resolve()
    return whole.with_name(f"{whole.name}-judged")


class WorkFolder:
    """Answers on disk, under what judged them. A file is there whole or not at all.

    Raises:
        CannotWrite: the folder cannot be made, or a file in it not written.
    """

    def __init__(self, place: Path, *, given: Given = NOTHING_SAID, learned: Learned | None = None) -> None:
        self.place = place
        self.pictures = place / "pictures"
        self._answers = place / "answers" / stamp(given, learned)
        for folder in (self.pictures, self._answers):
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise _cannot(folder, error) from error

    def keep(self, sha256: str, answer: Answer) -> None:
        """Pictures first: where the record is, all of it is."""
        for name, jpeg in answer.pictures.items():
            write_whole(self.pictures / f"{sha256}-{name}.jpg", jpeg)
        write_whole(self._path(sha256), answer.photo)

    def find(self, sha256: str) -> PhotoReport | None:
        """The kept record; None where there is none, or half of one since the power failed."""
        try:
            photo = PhotoReport.model_validate_json(self._path(sha256).read_bytes())
        except (OSError, ValueError):
            return None
        return photo if all((self.pictures / f"{sha256}-{name}.jpg").exists() for name in _names(photo)) else None

    def _path(self, sha256: str) -> Path:
        return self._answers / f"{sha256}.json"


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that whoever reads it meets the old one or the new one. Raises CannotWrite."""
    fresh = path.with_name(f"{path.name}.new")
    try:
        fresh.write_bytes(data)
        fresh.replace(path)
    except OSError as error:
        raise _cannot(path, error) from error


def _names(photo: PhotoReport) -> Iterator[str]:
    if photo.error is None:
        yield "marks"
    for number in range(1, len(photo.discs) + 1):
        yield from (f"above{number}", f"thumb{number}")


def _thumb(jpeg: bytes) -> bytes:
    bgr = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert bgr is not None, "it was written by OpenCV just now"
    height = round(THUMB_PX * bgr.shape[0] / bgr.shape[1])
    small = cv2.resize(bgr, (THUMB_PX, height), interpolation=cv2.INTER_AREA)
    return bytes(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 75])[1].tobytes())


def _cannot(path: Path, error: OSError) -> CannotWrite:
    return CannotWrite(
        f"It cannot be written: {error.strerror}.", file=str(path), remedy="Name another place with --out."
    )
